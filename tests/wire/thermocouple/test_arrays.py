"""Whole records at once: the same numbers and the same refusals as one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from controller.wire.thermocouple import (
    LETTERS,
    OutOfRangeError,
    ThermocoupleError,
    UnknownTypeError,
    arrays,
    emf_mv,
    inverse_c,
    inverse_valid_mv,
    temperature_c,
    valid_c,
)
from controller.wire.thermocouple.arrays import emf_mv_array, inverse_c_array, temperature_c_array
from controller.wire.thermocouple.coefficients import FUNCTIONS
from controller.wire.thermocouple.reference import pieces_of


def temperatures_c(letter: str) -> np.ndarray:
    """Return the whole range, its ends and the joints of the pieces included."""
    joints_c = [piece.highest_c for piece in FUNCTIONS[letter]]
    return np.concatenate([np.linspace(*valid_c(letter), 2001), joints_c])


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_is_the_same_as_one_by_one(letter) -> None:
    t_c = temperatures_c(letter)
    one_by_one = [emf_mv(letter, value) for value in t_c.tolist()]
    assert np.abs(emf_mv_array(letter, t_c) - one_by_one).max() < 1e-12


@pytest.mark.parametrize("letter", LETTERS)
def test_temperature_is_the_same_as_one_by_one(letter) -> None:
    mv = np.linspace(*inverse_valid_mv(letter), 3001)
    one_by_one = [inverse_c(letter, value) for value in mv.tolist()]
    assert np.abs(inverse_c_array(letter, mv) - one_by_one).max() < 1e-7


@pytest.mark.parametrize("letter", LETTERS)
def test_there_and_back_is_the_same_temperature(letter) -> None:
    t_c = temperatures_c(letter)
    t_c = t_c[t_c >= 250.0] if letter == "B" else t_c
    assert np.abs(inverse_c_array(letter, emf_mv_array(letter, t_c)) - t_c).max() < 2e-6


def test_compensation_takes_one_cold_junction_or_one_for_each_value() -> None:
    mv = np.array([[0.5, 10.0], [32.889043, 40.0]])
    cold_c = np.array([20.0, 30.0])
    alike = temperature_c_array("K", mv, 25.0)
    each = temperature_c_array("K", mv, cold_c)
    assert alike.shape == each.shape == mv.shape
    assert alike[1, 0] == pytest.approx(815.0, abs=0.0005)
    assert each[0, 1] == pytest.approx(temperature_c("K", 10.0, 30.0), abs=1e-7)


def test_any_shape_goes_in_and_comes_out() -> None:
    assert emf_mv_array("K", 815.0).shape == ()
    assert inverse_c_array("K", []).shape == (0,)
    assert inverse_c_array("K", [[1, 2, 3]]).shape == (1, 3)
    assert float(inverse_c_array("K", 33.889285)) == pytest.approx(815.0, abs=0.0005)


def test_what_goes_in_is_left_as_it_was() -> None:
    mv = np.array([inverse_valid_mv("K")[1] + 1e-13, 1.0])
    before = mv.copy()
    assert inverse_c_array("K", mv)[0] == pytest.approx(1372.0, abs=1e-9)
    assert (mv == before).all()


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf, 5000.0, -5000.0])
def test_one_wrong_value_refuses_the_whole_and_is_named(wrong) -> None:
    for refuse in (emf_mv_array, inverse_c_array):
        with pytest.raises(OutOfRangeError) as refused:
            refuse("K", [1.0, wrong, 2.0])
        assert refused.value.value == pytest.approx(wrong, nan_ok=True)
    with pytest.raises(OutOfRangeError):
        temperature_c_array("K", [1.0, 2.0], [20.0, wrong])


def test_type_b_is_refused_below_250_c() -> None:
    with pytest.raises(OutOfRangeError):
        inverse_c_array("B", emf_mv_array("B", [900.0, 249.9]))


def test_an_unknown_type_is_refused() -> None:
    for refuse in (emf_mv_array, inverse_c_array):
        with pytest.raises(UnknownTypeError):
            refuse("X", [1.0])


@pytest.fixture
def flat_start() -> arrays._Laid:
    """Return nearly all of type N's cold piece as one bracket whose search begins where it is nearly flat."""
    return arrays._laid("N")._replace(
        low_c=np.array([-270.0]),
        high_c=np.array([-0.5]),
        low_mv=np.array([emf_mv("N", -270.0)]),
        k_per_mv=np.array([0.0]),
    )


def test_the_search_gets_through_on_halving_and_never_leaves_its_bracket(flat_start, monkeypatch) -> None:
    asked_c = []

    def watched(piece, t):
        asked_c.extend(t.tolist())
        return mv_and_slope(piece, t)

    mv_and_slope = arrays._mv_and_slope
    monkeypatch.setattr(arrays, "_mv_and_slope", watched)
    wanted_c = np.array([-269.0, -160.0, -1.0])
    mv = emf_mv_array("N", wanted_c)
    asked_c.clear()
    found_c = arrays._roots_c(flat_start.pieces[0], mv, np.zeros(3, dtype=np.intp), flat_start)
    assert found_c == pytest.approx(wanted_c, abs=1e-6)
    assert asked_c[:6] == [-270.0] * 3 + [pytest.approx(-269.0, abs=0.5), -135.25, -135.25]
    assert all(-270.0 <= t_c <= -0.5 for t_c in asked_c)


def test_a_search_that_does_not_end_is_told(flat_start, monkeypatch) -> None:
    monkeypatch.setattr(arrays, "MOST_STEPS", 1)
    mv = emf_mv_array("N", [-100.0])
    with pytest.raises(ThermocoupleError, match="expected one temperature"):
        arrays._roots_c(flat_start.pieces[0], mv, np.zeros(1, dtype=np.intp), flat_start)


def test_an_emf_in_the_gap_at_a_joint_is_the_joints_temperature() -> None:
    below, above = pieces_of("J")
    assert inverse_c_array("J", [0.5 * (below.mv(760.0) + above.mv(760.0)), 1.0])[0] == 760.0
