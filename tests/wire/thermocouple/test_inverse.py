"""Emf to temperature: the way back, its ends, and a search that cannot run away."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.wire.thermocouple import (
    LETTERS,
    OutOfRangeError,
    ThermocoupleError,
    UnknownTypeError,
    emf_mv,
    inverse,
    inverse_c,
    inverse_valid_mv,
    measured_mv,
    sensitivity_mv_per_k,
    temperature_c,
    valid_c,
)
from controller.wire.thermocouple.reference import Horner, pieces_of

ALLOWED_C = 0.0005  # the project's own goal for a round trip


def invertible_c(letter: str) -> tuple[float, float]:
    """Return the range in C that has an inverse."""
    lowest_c, highest_c = valid_c(letter)
    return (250.0 if letter == "B" else lowest_c), highest_c


@pytest.mark.parametrize("letter", LETTERS)
def test_there_and_back_is_the_same_temperature_over_the_whole_range(letter) -> None:
    worst_c = max(
        abs(inverse_c(letter, emf_mv(letter, t_c)) - t_c)
        for t_c in np.linspace(*invertible_c(letter), 5001).tolist()
    )
    assert worst_c < ALLOWED_C
    assert worst_c < 2e-6  # what is reached: rounding, and the steps at the joints of the pieces


@given(st.data())
def test_there_and_back_with_any_cold_junction(data) -> None:
    letter = data.draw(st.sampled_from(LETTERS))
    t_c = data.draw(st.floats(*invertible_c(letter)))
    cold_c = data.draw(st.floats(0.0, 70.0))
    assert temperature_c(letter, measured_mv(letter, t_c, cold_c), cold_c) == pytest.approx(t_c, abs=2e-6)


@given(st.data())
def test_a_larger_emf_is_never_a_lower_temperature(data) -> None:
    letter = data.draw(st.sampled_from(LETTERS))
    emf = st.floats(*inverse_valid_mv(letter))
    less, more = sorted((data.draw(emf), data.draw(emf)))
    assert inverse_c(letter, less) <= inverse_c(letter, more) + 1e-7


@pytest.mark.parametrize("letter", LETTERS)
def test_the_ends_are_within_and_rounding_may_not_miss_them(letter) -> None:
    lowest_c, highest_c = invertible_c(letter)
    lowest_mv, highest_mv = inverse_valid_mv(letter)
    assert inverse_c(letter, lowest_mv) == pytest.approx(lowest_c, abs=1e-9)
    assert inverse_c(letter, highest_mv) == pytest.approx(highest_c, abs=1e-9)
    assert inverse_c(letter, lowest_mv - 1e-13) == pytest.approx(lowest_c, abs=1e-9)
    assert inverse_c(letter, highest_mv + 1e-13) == pytest.approx(highest_c, abs=1e-9)


@pytest.mark.parametrize("letter", LETTERS)
def test_beyond_the_ends_is_refused(letter) -> None:
    lowest_mv, highest_mv = inverse_valid_mv(letter)
    for mv in (lowest_mv - 1e-6, highest_mv + 1e-6, math.nan, math.inf, -math.inf):
        with pytest.raises(OutOfRangeError) as refused:
            inverse_c(letter, mv)
        assert f"type {letter}" in str(refused.value)
        assert (refused.value.lowest, refused.value.highest) == (lowest_mv, highest_mv)


def test_a_refusal_tells_type_value_and_valid_range_in_one_line() -> None:
    with pytest.raises(OutOfRangeError) as refused:
        temperature_c("K", 60.0, 25.0)
    assert str(refused.value) == (
        "emf of thermocouple type K, its cold junction at 0 C: "
        "found 61.000242 mV, expected -6.457738 to 54.886364 mV"
    )


def test_type_b_has_two_answers_when_cool_and_is_refused_below_250_c() -> None:
    assert emf_mv("B", 10.0) == pytest.approx(emf_mv("B", 32.06563), abs=1e-8)  # the same emf, 22 K apart
    assert inverse_valid_mv("B") == (emf_mv("B", 250.0), emf_mv("B", 1820.0))
    for t_c in (20.0, 42.0, 150.0, 249.9):
        with pytest.raises(OutOfRangeError):
            inverse_c("B", emf_mv("B", t_c))
    assert inverse_c("B", emf_mv("B", 250.1)) == pytest.approx(250.1, abs=1e-7)


@pytest.mark.parametrize("cold_c", [math.nan, math.inf, -300.0, 1400.0])
def test_a_cold_junction_that_cannot_be_is_refused(cold_c) -> None:
    with pytest.raises(OutOfRangeError):
        temperature_c("K", 10.0, cold_c)


def test_an_unknown_type_is_refused() -> None:
    for name in ("X", None):
        with pytest.raises(UnknownTypeError):
            inverse_c(name, 1.0)


@pytest.mark.parametrize("letter", LETTERS)
def test_every_function_rises_and_bends_little_where_it_is_inverted(letter) -> None:
    ts_c = np.linspace(*invertible_c(letter), 3001)
    slopes = np.array([sensitivity_mv_per_k(letter, t_c) for t_c in ts_c.tolist()])
    assert slopes.min() > 3e-4
    bends = np.gradient(slopes, ts_c) / slopes
    assert np.abs(bends).max() < 1.0  # what CLOSE_C rests on


@pytest.mark.parametrize("letter", LETTERS)
def test_the_brackets_follow_each_other_without_a_gap(letter) -> None:
    brackets = inverse.layout(letter).brackets
    lowest_c, highest_c = invertible_c(letter)
    assert (brackets[0].low_c, brackets[-1].high_c) == (lowest_c, highest_c)
    assert all(low.high_c == high.low_c for low, high in pairwise(brackets))
    assert all(low.low_mv < high.low_mv for low, high in pairwise(brackets))
    assert all(b.piece.lowest_c <= b.low_c < b.high_c <= b.piece.highest_c for b in brackets)


@pytest.mark.parametrize("letter", LETTERS)
def test_the_search_ends_from_any_start_in_the_widest_bracket(letter) -> None:
    for piece in pieces_of(letter):
        low_c, high_c = max(piece.lowest_c, invertible_c(letter)[0]), piece.highest_c
        for start in np.linspace(low_c, high_c, 7).tolist():
            for wanted_c in np.linspace(low_c, high_c, 23).tolist():
                found_c = inverse.root_c(piece, piece.mv(wanted_c), low_c, high_c, start)
                assert found_c == pytest.approx(wanted_c, abs=2e-7)


def test_a_newton_step_out_of_the_bracket_is_replaced_by_halving() -> None:
    # At -270 C type N rises by 0.3 uV/K: the first step towards 0 mV would land thousands of kelvin away.
    cold, _ = pieces_of("N")
    value_mv, slope = cold.mv_and_slope(-270.0)
    assert -value_mv / slope > 5000.0
    assert inverse.root_c(cold, 0.0, -270.0, 0.0, -270.0) == pytest.approx(0.0, abs=1e-9)


def test_halving_alone_gets_through_where_a_function_falls() -> None:
    falling, _ = pieces_of("B")  # from 0 C to its minimum near 21 C
    found_c = inverse.root_c(falling, 1.0, 0.0, 15.0, 5.0)
    assert found_c == pytest.approx(15.0, abs=1e-9)  # beyond the bracket: the nearer end


def test_halving_gets_through_where_a_function_is_level() -> None:
    square = Horner(0.0, 10.0, (1.0, 0.0, 0.0), None)
    assert inverse.root_c(square, 9.0, 0.0, 10.0, 0.0) == pytest.approx(3.0, abs=1e-8)


def test_the_search_never_leaves_its_bracket() -> None:
    asked_c = []

    class Watched(Horner):
        def mv_and_slope(self, t_c: float) -> tuple[float, float]:
            asked_c.append(t_c)
            return Horner.mv_and_slope(self, t_c)

    steep_after_flat = Watched(0.0, 10.0, (1.0, 0.0, 1e-6, 0.0), None)
    assert inverse.root_c(steep_after_flat, 8.0, 0.0, 10.0, 0.0) == pytest.approx(2.0, abs=1e-6)
    assert len(asked_c) > 3
    assert all(0.0 <= t_c <= 10.0 for t_c in asked_c)


def test_an_emf_in_the_gap_at_a_joint_is_the_joints_temperature() -> None:
    below, above = pieces_of("J")
    gap_mv = 0.5 * (below.mv(760.0) + above.mv(760.0))
    assert below.mv(760.0) < gap_mv < above.mv(760.0)
    assert inverse_c("J", gap_mv) == 760.0


def test_a_search_that_does_not_end_is_told(monkeypatch) -> None:
    monkeypatch.setattr(inverse, "MOST_STEPS", 1)
    cold, _ = pieces_of("K")
    with pytest.raises(ThermocoupleError, match="expected one temperature"):
        inverse.root_c(cold, cold.mv(-100.0), -270.0, 0.0, -200.0)
