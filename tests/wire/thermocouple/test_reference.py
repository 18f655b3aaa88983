"""Temperature to emf: what it refuses, and how its pieces join."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from controller.errors import StokeholdError
from controller.wire.thermocouple import (
    LETTERS,
    OutOfRangeError,
    UnknownTypeError,
    as_letter,
    emf_mv,
    measured_mv,
    sensitivity_mv_per_k,
    valid_c,
)
from controller.wire.thermocouple.coefficients import FUNCTIONS


@pytest.mark.parametrize("letter", LETTERS)
def test_the_emf_is_zero_where_both_junctions_are_alike(letter) -> None:
    # Type K's pieces miss 0 at 0 C by 2e-9 mV, as published.
    assert emf_mv(letter, 0.0) == pytest.approx(0.0, abs=3e-9)
    assert measured_mv(letter, 40.0, 40.0) == 0.0


@pytest.mark.parametrize("letter", LETTERS)
def test_the_pieces_join(letter) -> None:
    pieces = FUNCTIONS[letter]
    for below, above in pairwise(pieces):
        joint_c = below.highest_c
        assert above.lowest_c == joint_c
        # 2e-6 K at most: the published coefficients are rounded
        step_mv = emf_mv(letter, math.nextafter(joint_c, 9999.0)) - emf_mv(letter, joint_c)
        assert abs(step_mv / sensitivity_mv_per_k(letter, joint_c)) < 2e-6


@pytest.mark.parametrize("letter", LETTERS)
def test_the_sensitivity_is_the_slope_of_the_emf(letter) -> None:
    lowest_c, highest_c = valid_c(letter)
    for part in range(1, 40):
        t_c = lowest_c + (highest_c - lowest_c) * part / 40.3
        slope = (emf_mv(letter, t_c + 0.005) - emf_mv(letter, t_c - 0.005)) / 0.01
        assert sensitivity_mv_per_k(letter, t_c) == pytest.approx(slope, abs=1e-8)


@pytest.mark.parametrize("letter", LETTERS)
def test_both_ends_of_the_range_are_within_and_beyond_them_is_refused(letter) -> None:
    lowest_c, highest_c = valid_c(letter)
    assert math.isfinite(emf_mv(letter, lowest_c))
    assert math.isfinite(emf_mv(letter, highest_c))
    for beyond_c in (math.nextafter(lowest_c, -9999.0), math.nextafter(highest_c, 9999.0)):
        with pytest.raises(OutOfRangeError):
            emf_mv(letter, beyond_c)


@pytest.mark.parametrize("t_c", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_refused(t_c) -> None:
    for refuse in (emf_mv, sensitivity_mv_per_k):
        with pytest.raises(OutOfRangeError):
            refuse("K", t_c)
    with pytest.raises(OutOfRangeError):
        measured_mv("K", 800.0, t_c)


def test_a_refusal_tells_type_value_and_valid_range_in_one_line() -> None:
    with pytest.raises(OutOfRangeError) as refused:
        emf_mv("S", 1800.0)
    error = refused.value
    assert str(error) == "temperature of thermocouple type S: found 1800 C, expected -50 to 1768.1 C"
    assert (error.value, error.unit, error.lowest, error.highest) == (1800.0, "C", -50.0, 1768.1)
    assert isinstance(error, ValueError)
    assert isinstance(error, StokeholdError)


@pytest.mark.parametrize("name", ["X", "k", "", "KK", None, 7])
def test_an_unknown_type_is_refused_with_the_known_ones(name) -> None:
    with pytest.raises(UnknownTypeError, match="expected one of B, E, J, K, N, R, S, T"):
        as_letter(name)
    with pytest.raises(UnknownTypeError):
        emf_mv(name, 20.0)


def test_a_known_type_is_returned_as_it_is() -> None:
    assert [as_letter(letter) for letter in LETTERS] == list(LETTERS)
    assert "".join(LETTERS) == "BEJKNRST"
