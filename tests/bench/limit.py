"""The least integral of absolute error that any control could have reached, knowing everything beforehand.

A firing that was run gives the true course of every lump of the plant. About that course the plant is
linear: what another duty would have changed follows from the plant's own equations, with their true
numbers, to second order in some tenths of a kelvin. The duties that minimise the integral are then a
linear programme: full heat and no heat are its limits; noise, the relay, and not knowing beforehand when
water boils off or the setpoint waits, are not in it. No control can do better on the same setpoint.
"""

from __future__ import annotations

from math import isnan, nan
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.linalg import expm
from scipy.optimize import linprog

from controller.physics.constants import AIR_J_PER_KG_K, STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_C_IN_K
from controller.physics.kiln import KilnState
from controller.physics.matter import BOILING_C, BOILING_W_PER_K, MELTING_C, MELTING_W_PER_K, matter_j_per_k
from controller.record.curve import Floats
from tests.bench.firings import Fired
from tests.bench.kilns import DrawnKiln

EVERY_S = (20, 30)
"""Duties are constant for so many seconds, about a thermocouple's lag, and errors are seen as often. The
second where the solver (HiGHS, by way of scipy) gives up on the first."""

LUMPS = (
    "elements_c",
    "lining_hot_c",
    "lining_middle_c",
    "lining_cold_c",
    "load_outer_c",
    "load_core_c",
    "air_probe_c",
)
E, H, M, C, S, K, P = range(7)  # elements, hot, middle, cold, shell, its core, probe


class Limit(NamedTuple):
    """The least integral (K s), and the firing's own, seen at the same times."""

    least_k_s: float
    own_k_s: float


def limit(drawn: DrawnKiln, fired: Fired) -> Limit:
    """Solve the linear programme about a firing with ticks of one second; NaN where the solver gives up."""
    for rows in EVERY_S:
        found = _limit(drawn, fired, rows)
        if not isnan(found.least_k_s):
            break
    return found


def _limit(drawn: DrawnKiln, fired: Fired, rows: int) -> Limit:
    count = (len(fired.true_c) - 1) // rows
    at = np.arange(count) * rows
    duty = fired.curve.heat_on[: count * rows].reshape(count, rows).mean(axis=1)
    setpoint_c = fired.curve.setpoint_c[at + rows]
    off_k = fired.true_c[at + rows] - setpoint_c
    asked = ~np.isnan(off_k)
    steps = _matrices(drawn, fired.states[at + rows // 2], float(rows))
    least_k = _solve(steps, duty, np.where(asked, off_k, 0.0), asked)
    return Limit(least_k * rows, float(np.abs(off_k[asked]).sum() * rows))


def _matrices(drawn: DrawnKiln, states: Floats, step_s: float) -> Floats:
    """Return the exact steps of `step_s` of the linear plant: lumps and duty to lumps, one a row."""
    p = drawn.parameters
    name = {field: place for place, field in enumerate(KilnState._fields)}
    kelvin3 = {
        lump: 4.0 * STEFAN_BOLTZMANN_W_PER_M2_K4 * (states[:, name[LUMPS[lump]]] + ZERO_C_IN_K) ** 3
        for lump in (E, H, S)
    }
    flows = np.zeros((len(states), 8, 8))  # W for each kelvin; the last column is the duty

    def path(a: int, b: int, w_per_k_a: Floats | float, w_per_k_b: Floats | float) -> None:
        for lump, sign in ((a, -1.0), (b, 1.0)):
            flows[:, lump, a] += sign * w_per_k_a
            flows[:, lump, b] -= sign * w_per_k_b

    for a, b, m2 in ((E, H, p.elements_lining_m2), (E, S, p.elements_load_m2), (H, S, p.lining_load_m2)):
        path(a, b, m2 * kelvin3[a], m2 * kelvin3[b])
    for a, b, w_per_k in (
        (H, M, p.lining_hot_middle_w_per_k),
        (M, C, p.lining_middle_cold_w_per_k),
        (S, K, p.load_w_per_k),
    ):
        path(a, b, w_per_k, w_per_k)
    flows[:, C, C] -= p.lining_room_w_per_k
    core_c = states[:, name["load_core_c"]]
    flows[:, K, K] -= BOILING_W_PER_K * ((core_c > BOILING_C) & (states[:, name["water_kg"]] > 0.0))
    flows[:, K, K] -= MELTING_W_PER_K * ((core_c > MELTING_C) & (states[:, name["solid_kg"]] > 0.0))
    touching = ((E, p.elements_air_w_per_k), (H, p.lining_air_w_per_k), (S, p.load_air_w_per_k))
    vent = AIR_J_PER_KG_K * (p.leak_kg_per_s + p.extraction_kg_per_s)
    air = np.zeros(8)  # the air holds next to nothing: it is a mean of what touches it
    for lump, w_per_k in touching:
        air[lump] = w_per_k / (vent + sum(one for _, one in touching))
    for lump, w_per_k in touching:
        flows[:, lump, :] += w_per_k * air
        flows[:, lump, lump] -= w_per_k
    flows[:, E, 7] = p.rated_power_w
    matter = [
        matter_j_per_k(*row) for row in states[:, [name["water_kg"], name["solid_kg"], name["melt_kg"]]]
    ]
    holds = np.array(
        [
            p.elements_j_per_k,
            p.lining_hot_j_per_k,
            p.lining_middle_j_per_k,
            p.lining_cold_j_per_k,
            p.load_outer_j_per_k,
        ]
    )
    flows[:, :5, :] /= holds[None, :, None]
    flows[:, K, :] /= (p.load_core_j_per_k + np.array(matter))[:, None]
    flows[:, P, :] = (1.0 - p.air_probe_sees_lining) * air / p.air_probe_s
    flows[:, P, H] += p.air_probe_sees_lining / p.air_probe_s
    flows[:, P, P] -= 1.0 / p.air_probe_s
    return np.asarray(expm(flows * step_s)[:, :7, :])


def _solve(steps: Floats, duty: Floats, off_k: Floats, asked: Floats) -> float:
    """Return the least sum of absolute errors (K) at the times where one is asked for."""
    count, lumps = len(duty), 7
    states = count * lumps
    # Unknowns: the lumps' changes after each step, the duties' changes, the absolute errors.
    step_rows, lump_rows, lump_columns = np.meshgrid(
        np.arange(count), np.arange(lumps), np.arange(lumps), indexing="ij"
    )
    rows = [np.arange(states)]
    columns = [np.arange(states)]
    values = [np.ones(states)]
    rows.append((step_rows * lumps + lump_rows)[1:].ravel())
    columns.append(((step_rows - 1) * lumps + lump_columns)[1:].ravel())
    values.append(-steps[1:, :, :7].ravel())
    rows.append(np.arange(states))
    columns.append(states + np.repeat(np.arange(count), lumps))
    values.append(-steps[:, :, 7].ravel())
    width = states + 2 * count
    equal = sparse.csr_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), shape=(states, width)
    )
    known = np.flatnonzero(asked)
    ones, place = np.ones(len(known)), np.arange(len(known))
    probe = known * lumps + P
    above = sparse.csr_array(
        (np.concatenate((ones, -ones)), (np.tile(place, 2), np.concatenate((probe, states + count + known)))),
        shape=(len(known), width),
    )
    below = sparse.csr_array(
        (
            np.concatenate((-ones, -ones)),
            (np.tile(place, 2), np.concatenate((probe, states + count + known))),
        ),
        shape=(len(known), width),
    )
    low, high = np.full(width, -np.inf), np.full(width, np.inf)
    low[states : states + count] = np.where(asked, -duty, 0.0)
    high[states : states + count] = np.where(asked, 1.0 - duty, 0.0)
    low[states + count :] = 0.0
    cost = np.zeros(width)
    cost[states + count + known] = 1.0
    found = linprog(
        cost,
        A_ub=sparse.vstack((above, below)),
        b_ub=np.concatenate((-off_k[known], off_k[known])),
        A_eq=equal,
        b_eq=np.zeros(states),
        bounds=np.column_stack((low, high)),
        method="highs-ipm",
    )
    return float(found.fun) if found.success else nan
