"""Tolerance classes: where they promise something, where not, and the band of a reading."""

from __future__ import annotations

import math

import pytest

from controller.wire.thermocouple import (
    LETTERS,
    NoToleranceError,
    OutOfRangeError,
    UnknownTypeError,
    band,
    band_text,
    classes_of,
    tolerance_k,
    valid_c,
)
from controller.wire.thermocouple.tolerance import TOLERANCES


def test_each_type_has_its_classes() -> None:
    classes = {letter: classes_of(letter) for letter in LETTERS}
    assert classes == {
        "B": (2, 3),
        "E": (1, 2, 3),
        "J": (1, 2),
        "K": (1, 2, 3),
        "N": (1, 2, 3),
        "R": (1, 2),
        "S": (1, 2),
        "T": (1, 2, 3),
    }


@pytest.mark.parametrize(("letter", "number"), TOLERANCES)
def test_a_class_promises_nothing_beyond_its_ends(letter, number) -> None:
    promise = TOLERANCES[letter, number]
    lowest_c, highest_c = valid_c(letter)
    assert lowest_c <= promise.lowest_c < promise.highest_c <= highest_c
    for within_c in (promise.lowest_c, promise.highest_c):
        assert tolerance_k(letter, number, within_c) >= promise.least_k > 0.0
    for beyond_c in (promise.lowest_c - 0.01, promise.highest_c + 0.01, math.nan):
        with pytest.raises(OutOfRangeError):
            tolerance_k(letter, number, beyond_c)
        assert band(letter, number, beyond_c) is None


@pytest.mark.parametrize("letter", LETTERS)
def test_a_lower_class_never_promises_less(letter) -> None:
    known = classes_of(letter)
    if 1 in known:
        for t_c in range(0, int(TOLERANCES[letter, 1].highest_c), 10):
            assert tolerance_k(letter, 1, t_c) < tolerance_k(letter, 2, t_c)
    else:
        assert tolerance_k(letter, 2, 900.0) < tolerance_k(letter, 3, 900.0)


def test_the_band_lies_evenly_around_the_reading() -> None:
    found = band("K", 1, 815.0)
    assert found is not None
    assert found.lowest_c == pytest.approx(811.74)
    assert found.highest_c == pytest.approx(818.26)


def test_the_band_is_told_with_what_it_rests_on() -> None:
    assert band_text("K", 1, 815.0) == "± 3.3 K (type K, class 1, as delivered)"
    assert band_text("K", 1, 1100.0) == "no tolerance at this temperature (type K, class 1)"


def test_a_class_that_a_type_does_not_have_is_refused() -> None:
    with pytest.raises(NoToleranceError, match="type S: found class 3, expected class 1 or class 2"):
        tolerance_k("S", 3, 800.0)
    with pytest.raises(NoToleranceError):
        band("B", 1, 800.0)
    with pytest.raises(UnknownTypeError):
        tolerance_k("X", 1, 800.0)
