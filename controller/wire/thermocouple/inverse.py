"""Emf to temperature, by finding the root of the reference function itself: no inverse polynomials.

The function is laid out once, at every whole step of `STEP_C` and at the joints of its pieces. A measured
emf falls between two of those points, which bracket the root; a straight line between them gives the start,
and Newton's steps on the true function finish. A step that would leave the bracket is replaced by halving
it, so the search cannot run away. Pure; the layout is made at a type's first use.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import cache
from typing import NamedTuple

from controller.wire.thermocouple.coefficients import INVERSE_FROM_C
from controller.wire.thermocouple.errors import OutOfRangeError, ThermocoupleError
from controller.wire.thermocouple.reference import Horner, as_letter, emf_mv, pieces_of

# With 1 C, a straight line is within 0.1 C of every function and one Newton step is mostly enough; the
# layout of a type has at most 1822 points.
STEP_C = 1.0
# After a Newton step of d, what is left is about d^2 f''/(2 f'); f''/f' is below 1 per K on every function
# (a test holds it), so after a step of 1e-4 C less than 1e-8 C is left.
CLOSE_C = 1e-4
# Halving the longest function's 1642 C to 1e-12 C takes 51 steps; a search that needs more is a mistake here.
MOST_STEPS = 60
NARROW_C = 1e-12  # about the last place of a temperature: a bracket this narrow is the answer
# Adding the cold junction's emf, and a polynomial of the 13th degree at its end, round: an end of the range
# that is missed by so little still counts as the end (2e-6 K where the curve is flattest, type E at -270 C).
SLACK_MV = 1e-9


class Bracket(NamedTuple):
    """Two neighbouring temperatures in one piece, the emf at the lower, and the line to the upper."""

    low_c: float
    high_c: float
    low_mv: float
    k_per_mv: float
    piece: Horner


class Layout(NamedTuple):
    """A type's function between its neighbouring points; `lows_mv` are the brackets' lower ends."""

    lows_mv: list[float]
    brackets: list[Bracket]
    lowest_mv: float
    highest_mv: float


def temperature_c(letter: str, measured_mv: float, cold_junction_c: float) -> float:
    """Return the hot junction's temperature in C, compensated in millivolts as it must be.

    `measured_mv` is the meter's own, `cold_junction_c` the temperature of its terminals. Raises
    OutOfRangeError (not finite, outside the type's range; type B below 250 C), UnknownTypeError.
    """
    return inverse_c(letter, measured_mv + emf_mv(letter, cold_junction_c))


def inverse_c(letter: str, mv: float) -> float:
    """Return the temperature in C of an emf in mV, cold junction at 0 C. Raises as `temperature_c`."""
    lows_mv, brackets, lowest_mv, highest_mv = layout(letter)
    if not lowest_mv <= mv <= highest_mv:  # also so for NaN
        mv = nearest_end(letter, mv)
    low_c, high_c, low_mv, k_per_mv, piece = brackets[bisect_right(lows_mv, mv) - 1]
    start_c = low_c + (mv - low_mv) * k_per_mv  # past `high_c` where the pieces leave a gap at their joint
    return root_c(piece, mv, low_c, high_c, start_c if start_c < high_c else high_c)


def root_c(piece: Horner, mv: float, low_c: float, high_c: float, start_c: float) -> float:
    """Return where a rising piece has this emf, between `low_c` and `high_c`, from `start_c`.

    An emf beyond the bracket's own ends gives the nearer end. Raises ThermocoupleError when the search does
    not end, which is a mistake in this file or in the piece.
    """
    t_c = start_c
    for _ in range(MOST_STEPS):
        value_mv, slope = piece.mv_and_slope(t_c)
        off_mv = mv - value_mv
        if off_mv >= 0.0:
            low_c = t_c
        else:
            high_c = t_c
        next_c = t_c + off_mv / slope if slope > 0.0 else high_c + 1.0
        close = -CLOSE_C <= next_c - t_c <= CLOSE_C
        if not low_c <= next_c <= high_c:
            next_c = min(max(next_c, low_c), high_c) if close else 0.5 * (low_c + high_c)
        if close or high_c - low_c <= NARROW_C:
            return next_c
        t_c = next_c
    raise ThermocoupleError("thermocouple emf", f"{mv} mV", f"one temperature from {low_c} C to {high_c} C")


def inverse_valid_mv(letter: str) -> tuple[float, float]:
    """Return the lowest and highest emf in mV that have one temperature. Raises UnknownTypeError."""
    laid = layout(letter)
    return laid.lowest_mv, laid.highest_mv


def nearest_end(letter: str, mv: float) -> float:
    """Return the end of the range that `mv` misses by rounding alone. Raises OutOfRangeError."""
    laid = layout(letter)
    for end_mv in (laid.lowest_mv, laid.highest_mv):
        if abs(mv - end_mv) <= SLACK_MV:
            return end_mv
    where = f"emf of thermocouple type {letter}, its cold junction at 0 C"
    raise OutOfRangeError(where, mv, "mV", laid.lowest_mv, laid.highest_mv)


@cache
def layout(letter: str) -> Layout:
    """Return a type's function laid out from the start of its inverse. Raises UnknownTypeError."""
    letter = as_letter(letter)
    from_c = INVERSE_FROM_C.get(letter, pieces_of(letter)[0].lowest_c)
    brackets = [bracket for piece in pieces_of(letter) for bracket in _brackets(piece, from_c)]
    last = brackets[-1]
    lows_mv = [bracket.low_mv for bracket in brackets]
    return Layout(lows_mv, brackets, lows_mv[0], last.piece.mv(last.high_c))


def _brackets(piece: Horner, from_c: float) -> list[Bracket]:
    low_c = max(piece.lowest_c, from_c)
    count = max(1, round((piece.highest_c - low_c) / STEP_C))
    steps = [low_c + (piece.highest_c - low_c) * i / count for i in range(count)]
    ends = [*steps, piece.highest_c]
    mv = [piece.mv(t_c) for t_c in ends]
    return [
        Bracket(ends[i], ends[i + 1], mv[i], (ends[i + 1] - ends[i]) / (mv[i + 1] - mv[i]), piece)
        for i in range(count)
    ]
