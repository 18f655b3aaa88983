"""Thermocouple mathematics: how exact a round trip is, and how fast beside a library of another hand.

The peer is the package thermocouple-its90 (pure Python, one value at a time). Both do the same work on the
same values in the same run, in turns, so that what else the machine does touches both alike.
"""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable

import numpy as np
import thermocouple_its90 as peer

from controller.wire.thermocouple import LETTERS, emf_mv, inverse_c, inverse_valid_mv, valid_c
from controller.wire.thermocouple.arrays import emf_mv_array, inverse_c_array

STEP_C = 0.02  # about 590,000 temperatures in all, each there and back
VALUES = 500  # of each type, for the speed
ROUNDS = 9

Work = Callable[[], object]


def measure() -> dict[str, float]:
    """Return the figures; ratios are our time over the peer's: below 1 we are faster."""
    return {
        "thermocouple.round_trip_c_max": max(round_trip_c(letter) for letter in LETTERS),
        "thermocouple.speed_vs_peer": ratio(one_by_one(), of_the_peer()),
        "thermocouple.speed_vs_peer_array": ratio(at_once(), of_the_peer()),
    }


def round_trip_c(letter: str) -> float:
    """Return the largest error in C of there and back over a type's whole range, by both ways."""
    t_c = invertible_c(letter, STEP_C)
    back_c = np.array([inverse_c(letter, emf_mv(letter, value)) for value in t_c.tolist()])
    at_once_c = inverse_c_array(letter, emf_mv_array(letter, t_c))
    return float(max(np.abs(back_c - t_c).max(), np.abs(at_once_c - t_c).max()))


def invertible_c(letter: str, step_c: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a type's temperatures that have an inverse, from end to end."""
    lowest_c, highest_c = inverse_c(letter, inverse_valid_mv(letter)[0]), valid_c(letter)[1]
    return np.linspace(lowest_c, highest_c, 1 + round((highest_c - lowest_c) / step_c))


def ratio(ours: Work, theirs: Work) -> float:
    """Return the median of our time over the peer's, in turns, the first turn not counted."""
    found = [seconds(ours) / seconds(theirs) for _ in range(ROUNDS + 1)]
    return statistics.median(found[1:])


def seconds(work: Work) -> float:
    """Return how long some work takes, no rubbish being collected meanwhile."""
    gc.disable()
    start_s = time.perf_counter()
    work()
    took_s = time.perf_counter() - start_s
    gc.enable()
    return took_s


def values() -> list[tuple[str, list[float], list[float]]]:
    """Return each type with temperatures and their emf, both ends left out."""
    found: list[tuple[str, list[float], list[float]]] = []
    for letter in LETTERS:
        all_c = invertible_c(letter, STEP_C)
        t_c = all_c[np.linspace(0, all_c.size - 1, VALUES + 2).astype(int)[1:-1]]
        found.append((letter, t_c.tolist(), emf_mv_array(letter, t_c).tolist()))
    return found


def one_by_one() -> Work:
    """Return our work on plain floats: inverse and forward for every value."""
    rows = values()
    return lambda: [
        (inverse_c(letter, mv), emf_mv(letter, t))
        for letter, ts, mvs in rows
        for t, mv in zip(ts, mvs, strict=True)
    ]


def at_once() -> Work:
    """Return our work on arrays."""
    rows = [(letter, np.array(ts), np.array(mvs)) for letter, ts, mvs in values()]
    return lambda: [(inverse_c_array(letter, mvs), emf_mv_array(letter, ts)) for letter, ts, mvs in rows]


def of_the_peer() -> Work:
    """Return the peer's work on the same values."""
    rows = [(peer.get(letter), ts, mvs) for letter, ts, mvs in values()]
    return lambda: [
        (other.temperature(mv), other.emf(t))
        for other, ts, mvs in rows
        for t, mv in zip(ts, mvs, strict=True)
    ]


def print_table() -> None:
    """Print the figures, and what each type alone gives."""
    print("there and back, largest error over the whole range")
    for letter in LETTERS:
        t_c = invertible_c(letter, 1.0)
        print(f"  type {letter}  {t_c[0]:7.1f} C to {t_c[-1]:7.1f} C  {round_trip_c(letter):.1e} C")
    for name, figure in measure().items():
        print(f"{name:36} {figure:.3g}")


if __name__ == "__main__":
    print_table()
