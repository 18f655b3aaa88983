"""How far a new thermocouple may be from its type's function: the tolerance classes of IEC 60584-1.

A class promises max(`least_k`, `share` |t| - `less_k`) either way, between two temperatures, for the wire
as delivered: drift in use, the amplifier and the place of the junction come on top. A band drawn from it is
the least that may be wrong with a reading, not the most.

Source of the numbers: class 1 and 2 of types K, N, R and S agree between two secondary pages on IEC 60584
(R and S above 1100 C in one of them); the others, and class 3, are from memory and agree with a maker's
table on IEC 584-2. The standard itself was not read.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.wire.thermocouple.coefficients import Letter
from controller.wire.thermocouple.errors import NoToleranceError, OutOfRangeError
from controller.wire.thermocouple.reference import as_letter


class Tolerance(NamedTuple):
    """One class of one type: max(`least_k`, `share` |t| - `less_k`) from `lowest_c` to `highest_c`."""

    lowest_c: float
    highest_c: float
    least_k: float
    share: float
    less_k: float = 0.0


class Band(NamedTuple):
    """Where the temperature of a new thermocouple's reading may truly be, in C."""

    lowest_c: float
    highest_c: float


# Platinum types, class 1: 1 K, and above 1100 C 1 + 0.003 (t - 1100), which is 0.003 t - 2.3.
_PLATINUM_1 = Tolerance(0.0, 1600.0, 1.0, 0.003, 2.3)
_PLATINUM_2 = Tolerance(0.0, 1600.0, 1.5, 0.0025)
_COLD_3 = Tolerance(-200.0, 40.0, 2.5, 0.015)

TOLERANCES: dict[tuple[Letter, int], Tolerance] = {
    ("K", 1): Tolerance(-40.0, 1000.0, 1.5, 0.004),
    ("K", 2): Tolerance(-40.0, 1200.0, 2.5, 0.0075),
    ("K", 3): _COLD_3,
    ("N", 1): Tolerance(-40.0, 1000.0, 1.5, 0.004),
    ("N", 2): Tolerance(-40.0, 1200.0, 2.5, 0.0075),
    ("N", 3): _COLD_3,
    ("R", 1): _PLATINUM_1,
    ("R", 2): _PLATINUM_2,
    ("S", 1): _PLATINUM_1,
    ("S", 2): _PLATINUM_2,
    ("B", 2): Tolerance(600.0, 1700.0, 1.5, 0.0025),
    ("B", 3): Tolerance(600.0, 1700.0, 4.0, 0.005),
    ("E", 1): Tolerance(-40.0, 800.0, 1.5, 0.004),
    ("E", 2): Tolerance(-40.0, 900.0, 2.5, 0.0075),
    ("E", 3): _COLD_3,
    ("J", 1): Tolerance(-40.0, 750.0, 1.5, 0.004),
    ("J", 2): Tolerance(-40.0, 750.0, 2.5, 0.0075),
    ("T", 1): Tolerance(-40.0, 350.0, 0.5, 0.004),
    ("T", 2): Tolerance(-40.0, 350.0, 1.0, 0.0075),
    ("T", 3): Tolerance(-200.0, 40.0, 1.0, 0.015),
}


def classes_of(letter: str) -> tuple[int, ...]:
    """Return the tolerance classes that a type has. Raises UnknownTypeError."""
    letter = as_letter(letter)
    return tuple(sorted(number for of, number in TOLERANCES if of == letter))


def tolerance_k(letter: str, tolerance_class: int, t_c: float) -> float:
    """Return the tolerance at `t_c` in kelvin, either way.

    Raises NoToleranceError when the type has no such class, OutOfRangeError where the class promises nothing,
    UnknownTypeError.
    """
    promise = _promise(letter, tolerance_class)
    if not promise.lowest_c <= t_c <= promise.highest_c:
        where = f"temperature of thermocouple type {letter}, class {tolerance_class}"
        raise OutOfRangeError(where, t_c, "C", promise.lowest_c, promise.highest_c)
    return max(promise.least_k, promise.share * abs(t_c) - promise.less_k)


def band(letter: str, tolerance_class: int, t_c: float) -> Band | None:
    """Return the band of a reading in C, None where the class promises nothing.

    Raises NoToleranceError, UnknownTypeError.
    """
    try:
        either_way_k = tolerance_k(letter, tolerance_class, t_c)
    except OutOfRangeError:
        return None
    return Band(t_c - either_way_k, t_c + either_way_k)


def band_text(letter: str, tolerance_class: int, t_c: float) -> str:
    """Return the band for a person: "± 3.3 K (type K, class 1, as delivered)". Raises as `band`."""
    wire = f"type {letter}, class {tolerance_class}"
    found = band(letter, tolerance_class, t_c)
    if found is None:
        return f"no tolerance at this temperature ({wire})"
    return f"± {(found.highest_c - found.lowest_c) / 2:.1f} K ({wire}, as delivered)"


def _promise(letter: str, tolerance_class: int) -> Tolerance:
    promise = TOLERANCES.get((as_letter(letter), tolerance_class))
    if promise is None:
        known = " or ".join(f"class {number}" for number in classes_of(letter))
        raise NoToleranceError(f"tolerance of thermocouple type {letter}", f"class {tolerance_class}", known)
    return promise
