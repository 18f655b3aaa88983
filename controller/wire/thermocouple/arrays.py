"""The same two ways as `reference.py` and `inverse.py`, for whole records at once with numpy.

Same functions, same layout, same ranges; one value that is out of range or not finite refuses the whole
array and is named. Any shape goes in and comes out. A record with gaps is filtered by its reader first:
NaN is no reading, and no temperature is made of it.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from controller.wire.thermocouple.errors import OutOfRangeError, ThermocoupleError
from controller.wire.thermocouple.inverse import CLOSE_C, MOST_STEPS, layout, nearest_end
from controller.wire.thermocouple.reference import Horner, pieces_of, valid_c

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class _Laid(NamedTuple):
    """A type's brackets as columns; `piece` is the place of a bracket's piece in `pieces`."""

    low_c: Floats
    high_c: Floats
    low_mv: Floats
    k_per_mv: Floats
    piece: NDArray[np.intp]
    pieces: tuple[Horner, ...]


def emf_mv_array(letter: str, t_c: ArrayLike) -> Floats:
    """Return the emf in mV at temperatures in C, cold junction at 0 C. Raises as `emf_mv`."""
    t = np.asarray(t_c, dtype=np.float64)
    lowest_c, highest_c = valid_c(letter)
    wrong = t[~((t >= lowest_c) & (t <= highest_c))]
    if wrong.size:
        where = f"temperature of thermocouple type {letter}"
        raise OutOfRangeError(where, float(wrong[0]), "C", lowest_c, highest_c)
    pieces = pieces_of(letter)
    joints_c = [piece.highest_c for piece in pieces[:-1]]
    place = np.searchsorted(joints_c, t, side="left")  # a joint belongs to the piece below it
    mv = np.empty_like(t)
    for number, piece in enumerate(pieces):
        here = place == number
        mv[here] = _mv_and_slope(piece, t[here])[0]
    return mv


def temperature_c_array(letter: str, measured_mv: ArrayLike, cold_junction_c: ArrayLike) -> Floats:
    """Return temperatures in C, compensated in millivolts; shapes broadcast. Raises as `temperature_c`."""
    measured = np.asarray(measured_mv, dtype=np.float64)
    return inverse_c_array(letter, measured + emf_mv_array(letter, cold_junction_c))


def inverse_c_array(letter: str, emf_mv: ArrayLike) -> Floats:
    """Return the temperatures in C of emf in mV, cold junction at 0 C. Raises as `temperature_c`."""
    mv = _within(letter, np.array(emf_mv, dtype=np.float64))
    laid = _laid(letter)
    bracket = np.searchsorted(laid.low_mv, mv, side="right") - 1
    t = np.empty_like(mv)
    for number, piece in enumerate(laid.pieces):
        here = laid.piece[bracket] == number
        t[here] = _roots_c(piece, mv[here], bracket[here], laid)
    return t


def _within(letter: str, mv: Floats) -> Floats:
    """Return the emf with what misses an end by rounding alone moved to it. Raises OutOfRangeError."""
    _, _, lowest_mv, highest_mv = layout(letter)
    outside = ~((mv >= lowest_mv) & (mv <= highest_mv))
    if outside.any():
        mv[outside] = [nearest_end(letter, float(value)) for value in mv[outside]]
    return mv


def _roots_c(piece: Horner, mv: Floats, bracket: NDArray[np.intp], laid: _Laid) -> Floats:
    """Return the roots of one piece, each in its bracket: `inverse.root_c`, in step for all of them."""
    low_c, high_c = laid.low_c[bracket], laid.high_c[bracket]
    t = np.minimum(low_c + (mv - laid.low_mv[bracket]) * laid.k_per_mv[bracket], high_c)
    for _ in range(MOST_STEPS):
        value_mv, slope = _mv_and_slope(piece, t)
        off_mv = mv - value_mv
        low_c, high_c = np.where(off_mv >= 0.0, t, low_c), np.where(off_mv >= 0.0, high_c, t)
        after = t + off_mv / slope
        close = np.abs(after - t) <= CLOSE_C
        if close.all():
            return np.clip(after, low_c, high_c)
        inside = (after >= low_c) & (after <= high_c)
        t = np.where(inside, after, 0.5 * (low_c + high_c))
    raise ThermocoupleError("thermocouple emf", f"{mv[~close][0]} mV", "one temperature")


def _mv_and_slope(piece: Horner, t: Floats) -> tuple[Floats, Floats]:
    value, slope = np.zeros_like(t), np.zeros_like(t)
    for power in piece.falling:
        slope = slope * t + value
        value = value * t + power
    if piece.hump is not None:
        off_k = t - piece.hump.a2_c
        height_mv = piece.hump.a0_mv * np.exp(piece.hump.a1_per_k2 * off_k * off_k)
        value, slope = value + height_mv, slope + 2.0 * piece.hump.a1_per_k2 * off_k * height_mv
    return value, slope


@cache
def _laid(letter: str) -> _Laid:
    brackets = layout(letter).brackets
    pieces = tuple(dict.fromkeys(bracket.piece for bracket in brackets))
    low_c, high_c, low_mv, k_per_mv = (
        np.array([bracket[column] for bracket in brackets], dtype=np.float64) for column in range(4)
    )
    place = np.array([pieces.index(bracket.piece) for bracket in brackets], dtype=np.intp)
    return _Laid(low_c, high_c, low_mv, k_per_mv, place, pieces)
