"""The pattern of heat and pause with which a relay keeps nearest to a course, sought tick by tick.

About the course that duties of any portion would give, what the relay does is a deviation from those duties,
and the plant is linear (`tests.bench.limit`). From tick to tick the search carries many patterns. Of those
with the relay in the same place of its round it keeps the best few, by the error so far and the error to
come within `AHEAD_S`, were the relay to go on evenly at the course's duty. Not proved to be the least: what
it finds could be done, and the true least is no higher.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from controller.control import Switching
from controller.record.curve import Bools, Floats, Ints

KEPT, KEPT_OF_QUICK = 2, 8
"""So many of each place. Twice as many find patterns better by a hundredth. A quick relay has few places."""
QUICK_S = 5.0
"""A relay with a cycle no longer than this has no rounds to speak of: it goes on with the duty itself."""
AHEAD_S, EVERY_S = 60, 3
FULL = 0.9999


class Course(NamedTuple):
    """The air's error (K) by the duties of any portion, where it counts, and those duties, one a block."""

    off_k: Floats
    asked: Bools
    duty: Floats


class Carried(NamedTuple):
    """Patterns: the lumps' deviations (K), the error so far (K s), and where the relay is.

    `on`; `for_s`: for how long; `since_s`: since it last went on.
    """

    lumps: Floats
    error_k_s: Floats
    on: Bools
    for_s: Ints
    since_s: Ints

    def rows(self, index: Ints) -> Carried:
        """Return some of them."""
        return Carried(*(column[index] for column in self))


def least(steps: Floats, course: Course, switching: Switching, probe: int) -> float:
    """Return the least integral of absolute error (K s) that was found. `steps`: of a second, one a block."""
    blocks, lumps = len(steps), steps.shape[1] - 1
    block_s = (len(course.off_k) - 1) // blocks
    moves = np.ascontiguousarray(steps[:, :lumps, :lumps].transpose(0, 2, 1))
    heats = np.ascontiguousarray(steps[:, :lumps, lumps])
    free, pulse = _to_come(moves, heats, probe)
    longest = 3 * int(switching.cycle_s) + 2
    at = np.arange(EVERY_S, AHEAD_S + 1, EVERY_S)
    off_k = np.where(course.asked, course.off_k, 0.0)
    coming = np.arange(len(off_k))[:, None] + at
    weights_s = EVERY_S * ((coming < len(off_k)) & course.asked[np.minimum(coming, len(off_k) - 1)])
    coming_k = off_k[np.minimum(coming, len(off_k) - 1)]
    kept = KEPT_OF_QUICK if switching.cycle_s <= QUICK_S else KEPT
    carried = Carried(
        np.zeros((1, lumps)), np.zeros(1), np.zeros(1, bool), np.full(1, longest), np.full(1, longest)
    )
    for n in range(len(off_k) - 1):
        block = n // block_s
        duty = min(max(float(course.duty[block]), 0.0), 1.0)
        if n % block_s == 0:
            evenly_k = even_rounds(duty, switching, longest) @ pulse[block]
        if not course.asked[n] or duty >= FULL:
            wanted = np.full(len(carried.on), bool(course.asked[n]))
        else:
            carried, wanted = _branch(carried, switching)
        changed = wanted != carried.on
        carried = Carried(
            carried.lumps @ moves[block] + np.outer(wanted - duty, heats[block]),
            carried.error_k_s,
            wanted,
            np.minimum(np.where(changed, 1, carried.for_s + 1), longest),
            np.minimum(np.where(changed & wanted, 1, carried.since_s + 1), longest),
        )
        if course.asked[n + 1]:
            error_k = np.abs(off_k[n + 1] + carried.lumps[:, probe])
            carried = carried._replace(error_k_s=carried.error_k_s + error_k)
        if len(wanted) > kept:
            place = np.where(wanted, 0, longest + 1) + carried.since_s
            to_come_k = np.abs(carried.lumps @ free[block] + coming_k[n + 1] + evenly_k[place])
            same = np.where(wanted, 0, longest + 1) + np.where(
                wanted, carried.since_s, np.minimum(carried.since_s, int(switching.cycle_s))
            )
            worth = carried.error_k_s + to_come_k @ weights_s[n + 1]
            carried = carried.rows(_best(same, worth, kept))
    return float(carried.error_k_s.min())


def _branch(carried: Carried, switching: Switching) -> tuple[Carried, Bools]:
    """Let every pattern go on as it is, and change over where its relay may."""
    may = np.where(
        carried.on,
        carried.for_s >= switching.shortest_on_s,
        (carried.for_s >= switching.shortest_off_s) & (carried.since_s >= switching.cycle_s),
    )
    index = np.flatnonzero(may)
    wanted = np.concatenate((carried.on, ~carried.on[index]))
    return carried.rows(np.concatenate((np.arange(len(may)), index))), wanted


def _best(same: Ints, worth: Floats, kept: int) -> Ints:
    """Return the `kept` with the least worth of each kind."""
    order = np.lexsort((worth, same))
    kinds = same[order]
    keep = np.ones(len(order), bool)
    keep[kept:] = kinds[kept:] != kinds[:-kept]
    return order[keep]


def _to_come(moves: Floats, heats: Floats, probe: int) -> tuple[Floats, Floats]:
    """Return, a block each, the air at the times ahead: by the lumps now, by a heat at each second."""
    blocks, lumps = heats.shape
    free = np.empty((blocks, lumps, AHEAD_S // EVERY_S))
    pulse = np.zeros((blocks, AHEAD_S, AHEAD_S // EVERY_S))
    row, after = np.zeros((blocks, lumps)), np.empty((blocks, AHEAD_S))
    row[:, probe] = 1.0
    for n in range(AHEAD_S):
        after[:, n] = (row * heats).sum(axis=1)
        row = np.einsum("bij,bj->bi", moves, row)
        if (n + 1) % EVERY_S == 0:
            free[:, :, n // EVERY_S] = row
    for place in range(AHEAD_S // EVERY_S):
        ends = EVERY_S * (place + 1)
        pulse[:, :ends, place] = after[:, :ends][:, ::-1]
    return free, pulse


def even_rounds(duty: float, switching: Switching, longest: int) -> Floats:
    """Return what an even relay gives more than the duty, each second to come.

    A row for each second since it went on, first of those that are on, then of those that are off. Heat
    that covers a part of a second is that part, so that the average is the duty.
    """
    if switching.cycle_s <= QUICK_S:
        return np.zeros((2 * (longest + 1), AHEAD_S))
    rounded = min(max(duty, 0.005), 0.995)
    cycle_s = max(
        switching.cycle_s, switching.shortest_on_s / rounded, switching.shortest_off_s / (1.0 - rounded)
    )
    on_s = rounded * cycle_s
    since_s = np.arange(longest + 1.0)
    of_on = np.minimum(since_s, on_s)  # who is on for longer goes off now
    of_off = np.where(since_s < cycle_s, np.maximum(since_s, on_s), 0.0)
    begins_s = np.concatenate((of_on, of_off))[:, None] + np.arange(AHEAD_S)
    return _heat_until(begins_s + 1.0, on_s, cycle_s) - _heat_until(begins_s, on_s, cycle_s) - duty


def _heat_until(t_s: Floats, on_s: float, cycle_s: float) -> Floats:
    rounds = np.floor(t_s / cycle_s)
    return rounds * on_s + np.minimum(t_s - rounds * cycle_s, on_s)
