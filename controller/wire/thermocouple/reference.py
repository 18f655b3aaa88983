"""Temperature to emf, by the reference functions of `coefficients.py`. Plain floats, pure, quick.

A thermocouple measures a difference: `measured_mv` is what a meter at the cold junction sees. Whatever is
not finite, or outside the type's range, is refused, never extrapolated.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import cast

from controller.wire.thermocouple.coefficients import FUNCTIONS, Hump, Letter
from controller.wire.thermocouple.errors import OutOfRangeError, UnknownTypeError


@dataclass(frozen=True, slots=True)
class Horner:
    """A piece as it is computed: the highest power first."""

    lowest_c: float
    highest_c: float
    falling: tuple[float, ...]
    hump: Hump | None

    def mv(self, t_c: float) -> float:
        """Return the emf in mV at a temperature within the piece."""
        value = 0.0
        for power in self.falling:
            value = value * t_c + power
        hump = self.hump
        if hump is not None:
            value += hump.a0_mv * exp(hump.a1_per_k2 * (t_c - hump.a2_c) ** 2)
        return value

    def mv_and_slope(self, t_c: float) -> tuple[float, float]:
        """Return the emf in mV and its slope in mV per K at a temperature within the piece."""
        value = slope = 0.0
        for power in self.falling:
            slope = slope * t_c + value
            value = value * t_c + power
        hump = self.hump
        if hump is not None:
            off_k = t_c - hump.a2_c
            height_mv = hump.a0_mv * exp(hump.a1_per_k2 * off_k * off_k)
            return value + height_mv, slope + 2.0 * hump.a1_per_k2 * off_k * height_mv
        return value, slope


PIECES: dict[str, tuple[Horner, ...]] = {
    letter: tuple(Horner(p.lowest_c, p.highest_c, p.powers[::-1], p.hump) for p in pieces)
    for letter, pieces in FUNCTIONS.items()
}
LETTERS: tuple[Letter, ...] = tuple(FUNCTIONS)


def as_letter(name: object) -> Letter:
    """Return a type's name as a `Letter`. Raises UnknownTypeError."""
    if isinstance(name, str) and name in PIECES:
        return cast(Letter, name)
    shown = f'"{name}"' if isinstance(name, str) else str(name)
    raise UnknownTypeError("thermocouple type", shown, f"one of {', '.join(LETTERS)}")


def pieces_of(letter: str) -> tuple[Horner, ...]:
    """Return the pieces of a type's function, from cold to hot. Raises UnknownTypeError."""
    return PIECES[as_letter(letter)]


def valid_c(letter: str) -> tuple[float, float]:
    """Return the lowest and highest temperature in C of a type's function. Raises UnknownTypeError."""
    pieces = pieces_of(letter)
    return pieces[0].lowest_c, pieces[-1].highest_c


def emf_mv(letter: str, t_c: float) -> float:
    """Return the emf in mV of a type at `t_c`, the cold junction at 0 C.

    Raises OutOfRangeError (not finite, outside the type's range), UnknownTypeError.
    """
    return _piece_at(letter, t_c).mv(t_c)


def sensitivity_mv_per_k(letter: str, t_c: float) -> float:
    """Return the slope of the emf (the Seebeck coefficient) in mV per K. Raises as `emf_mv`."""
    return _piece_at(letter, t_c).mv_and_slope(t_c)[1]


def measured_mv(letter: str, hot_c: float, cold_junction_c: float) -> float:
    """Return what a meter at `cold_junction_c` sees, in mV. Raises as `emf_mv`."""
    return emf_mv(letter, hot_c) - emf_mv(letter, cold_junction_c)


def _piece_at(letter: str, t_c: float) -> Horner:
    pieces = PIECES.get(letter) or pieces_of(letter)
    if pieces[0].lowest_c <= t_c:  # not so for NaN, which falls through
        for piece in pieces:
            if t_c <= piece.highest_c:
                return piece
    raise OutOfRangeError(f"temperature of thermocouple type {letter}", t_c, "C", *valid_c(letter))
