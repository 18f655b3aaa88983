"""The least integral of absolute error that any control could have reached, knowing the plant perfectly.

A firing that was run gives the true course of every lump of the plant. About that course the plant is taken
as linear: its own step, differentiated by small differences in every block, at the state in hand.
On the firing's own setpoints two things are worked out:

floor    duties between none and full, constant for a block, that minimise the integral: a linear programme.
         No relay is in it: heat comes in any portion. With duties free to change faster it could be a little
         lower; a relay could never do as well.
relay    the same relay as the control's: heat is on or off for a whole tick, for no shorter than its shortest
         times, and goes on no more often than once a cycle. The pattern is sought by `tests.bench.patterns`.

Both know beforehand the whole setpoint (also where it waited for the load), the water that boils off and the
plastic that burns, all just as they were in that firing. There is no noise in either: the error measured is
that of the true air (what the thermocouple would show without noise), and who knows the plant perfectly need
not look at a reading. Real controls must, so the ratio to either cannot come to one.
"""

from __future__ import annotations

from math import isnan, nan
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.optimize import linprog

from controller.physics.kiln import KilnState, step
from controller.record.curve import Bools, Floats
from tests.bench.firings import Fired
from tests.bench.kilns import DrawnKiln
from tests.bench.patterns import Course, least

BLOCKS_S = (40, 30, 60)
"""Duties are constant for so many ticks of a second; the next where the solver gives up on one. The limit's
difference between them is a thousandth."""
SEEN_EVERY_S = 10
"""So often errors are seen: a duty may not swing unseen in between."""

LUMPS = (
    "elements_c",
    "air_c",
    "lining_hot_c",
    "lining_middle_c",
    "lining_cold_c",
    "load_outer_c",
    "load_core_c",
    "air_probe_c",
)
COUNT, PROBE = len(LUMPS), LUMPS.index("air_probe_c")
PLACES = [KilnState._fields.index(name) for name in LUMPS]
SMALL = 0.01
"""Kelvin, or part of full heat, by which the plant's step is differentiated."""


class Limit(NamedTuple):
    """Integrals of absolute error (K s): without a relay, with the relay, and the firing's own."""

    floor_k_s: float
    relay_k_s: float
    own_k_s: float


def limit(drawn: DrawnKiln, fired: Fired) -> Limit:
    """Work both out about a firing with ticks of one second; NaN where the solver gives up on all blocks."""
    for block_s in BLOCKS_S:
        found = _limit(drawn, fired, block_s)
        if not isnan(found.floor_k_s):
            break
    return found


def _limit(drawn: DrawnKiln, fired: Fired, block_s: int) -> Limit:
    blocks = (len(fired.true_c) - 1) // block_s
    ticks = blocks * block_s
    off_k = (fired.true_c - fired.curve.setpoint_c)[: ticks + 1]
    asked = ~np.isnan(off_k)
    own_k_s = float(np.abs(off_k[1:][asked[1:]]).sum())
    heat = fired.curve.heat_on[:ticks].astype(float)
    duty = heat.reshape(blocks, block_s).mean(axis=1)
    steps = plant_steps(drawn, fired.states[np.arange(blocks) * block_s + block_s // 2], duty)
    # The error as it would have been with each block's mean duty: the relay's ripple is out of it.
    smooth_k = off_k + response(steps, np.repeat(duty, block_s) - heat)
    best = _solve(steps, duty, smooth_k, asked)
    if best is None:
        return Limit(nan, nan, own_k_s)
    course = Course(smooth_k + response(steps, np.repeat(best - duty, block_s)), asked, best)
    floor_k_s = float(np.abs(course.off_k[1:][asked[1:]]).sum())
    relay_k_s = least(steps, course, drawn.switching, PROBE)
    return Limit(floor_k_s, min(relay_k_s, own_k_s), own_k_s)  # what was done can be done


def plant_steps(drawn: DrawnKiln, states: Floats, duty: Floats) -> Floats:
    """Return the linear steps of a second about states, a matrix each: lumps and duty to lumps and duty."""
    p = drawn.parameters
    vent = p.leak_kg_per_s + p.extraction_kg_per_s

    def after(state: list[float], power_w: float) -> Floats:
        return np.array(step(KilnState(*state), p, power_w, 1.0, drawn.room_c, vent))[PLACES]

    steps = np.zeros((len(states), COUNT + 1, COUNT + 1))
    steps[:, COUNT, COUNT] = 1.0
    for n, row in enumerate(states):
        state, power_w = row.tolist(), duty[n] * p.rated_power_w
        base = after(state, power_w)
        for column, place in enumerate(PLACES):
            moved = state.copy()
            moved[place] += SMALL
            steps[n, :COUNT, column] = (after(moved, power_w) - base) / SMALL
        steps[n, :COUNT, COUNT] = (after(state, power_w + SMALL * p.rated_power_w) - base) / SMALL
    return steps


def response(steps: Floats, change: Floats) -> Floats:
    """Return what a change of the heat (a part of full, a row a tick) does to the air, K; one row more."""
    lumps = np.ascontiguousarray(steps[:, :COUNT, :COUNT])
    heat = steps[:, :COUNT, COUNT]
    off_k, state = np.zeros(len(change) + 1), np.zeros(COUNT)
    block_s = len(change) // len(steps)
    for n, part in enumerate(change):
        state = lumps[n // block_s] @ state + heat[n // block_s] * part
        off_k[n + 1] = state[PROBE]
    return off_k


def _solve(steps: Floats, duty: Floats, off_k: Floats, asked: Bools) -> Floats | None:
    """Return the blocks' duties with the least sum of absolute errors, or None.

    Unknowns: the lumps' changes after each block, the duties' changes, the absolute errors.
    """
    blocks = len(duty)
    block_s = (len(off_k) - 1) // blocks
    parts = block_s // SEEN_EVERY_S
    part = np.linalg.matrix_power(steps, SEEN_EVERY_S)
    whole = np.linalg.matrix_power(part, parts)
    states, width = COUNT * blocks, COUNT * blocks + blocks + blocks * parts
    at = np.arange(blocks)[:, None] * block_s + (np.arange(parts) + 1) * SEEN_EVERY_S
    block, place = np.nonzero(asked[at])
    rows = np.arange(len(block))
    error = states + blocks + block * parts + place
    seen = _seen(part, parts, block, place, width)
    is_error = sparse.csr_array((np.ones(len(rows)), (rows, error)), shape=(len(rows), width))
    known_k = off_k[at][block, place]
    low, high, cost = np.full(width, -np.inf), np.full(width, np.inf), np.zeros(width)
    free = asked[at].all(axis=1)
    low[states : states + blocks] = np.where(free, -duty, 0.0)
    high[states : states + blocks] = np.where(free, 1.0 - duty, 0.0)
    low[states + blocks :] = 0.0
    cost[error] = 1.0
    found = linprog(
        cost,
        A_ub=sparse.vstack((seen - is_error, -seen - is_error)),
        b_ub=np.concatenate((-known_k, known_k)),
        A_eq=_dynamics(whole, width),
        b_eq=np.zeros(states),
        bounds=np.column_stack((low, high)),
        method="highs-ipm",
    )
    return duty + found.x[states : states + blocks] if found.success else None


def _dynamics(whole: Floats, width: int) -> sparse.csr_array:
    """Each block's lumps, less what the block before and its duty make of them: to be nought."""
    blocks = len(whole)
    states = COUNT * blocks
    n, row, column = np.meshgrid(np.arange(blocks), np.arange(COUNT), np.arange(COUNT), indexing="ij")
    rows = (np.arange(states), (n * COUNT + row)[1:].ravel(), np.arange(states))
    columns = (
        np.arange(states),
        ((n - 1) * COUNT + column)[1:].ravel(),
        states + np.repeat(np.arange(blocks), COUNT),
    )
    values = (np.ones(states), -whole[1:, :COUNT, :COUNT].ravel(), -whole[:, :COUNT, COUNT].ravel())
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return sparse.csr_array(entries, shape=(states, width))


def _seen(part: Floats, parts: int, block: Floats, place: Floats, width: int) -> sparse.csr_array:
    """The air's change at each part of each block that counts, from the block before and the duty."""
    blocks = len(part)
    probe = np.empty((blocks, parts, COUNT + 1))
    power = np.tile(np.eye(COUNT + 1), (blocks, 1, 1))
    for n in range(parts):
        power = part @ power
        probe[:, n] = power[:, PROBE]
    rows, later = np.arange(len(block)), block > 0
    entries = [(rows, COUNT * blocks + block, probe[block, place, COUNT])]
    for lump in range(COUNT):
        entries.append(
            (rows[later], (block[later] - 1) * COUNT + lump, probe[block[later], place[later], lump])
        )
    row, column, value = (np.concatenate(one) for one in zip(*entries, strict=True))
    return sparse.csr_array((value, (row, column)), shape=(len(rows), width))
