"""What a firing tells of its load: how heat gets into the shell, and how its water gets out.

The fitted kiln (`fit`) knows nothing of water. Here the air is taken as measured, a shell of a known mass
with a known water is led along it, and what differs from the load thermocouple is made least over eight
numbers, each held near what is believed without the firing. Runs beside the controller, never in it.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

import numpy as np

from controller.forecast.ensemble import Floats
from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import Known
from controller.forecast.load import (
    AIR_W_PER_M2_K,
    EXCHANGE_M2_PER_M2,
    J_PER_KG_K,
    furniture_j_per_k,
    loaded,
    reading_c,
    remembered,
)
from controller.forecast.past import Seen, led_along
from controller.physics.grey import GreyKiln

WET_C = 130.0
LOAD_K, DRY_LOAD_K = 2.0, 8.0
"""What is expected to be left of the load: a thermocouple near a shell. Above `WET_C` no water is left,
plastic burns beside it, and it is believed less. Chosen.
"""

BELIEFS = {
    "w": 0.4,
    "m2": 0.4,
    "j": 0.3,
    "dries": 1.5,
    "through": 0.6,
    "film": 2.0,
    "reads": 1.0,
    "sees": 1.0,
}
"""How far each factor may be off: one standard deviation of its logarithm, in `UNITS`; chosen, weak. What
hinders vapour most, the depth of the front or the air at the face, is known least: walls that stay damp to
the face dry at an even pace. A thermocouple at a shell is off by a hundredth of what it is above the room: it
sees elements and lining as well. So does the shell itself, by some tenth of what the elements are above the
chamber.
"""

UNITS = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.01, 0.1])

FURTHEST = 4.5
"""Each is held within so many of its units."""

STARTS = ((0.0, 0.0), (1.5, 3.0))
"""Where the search begins, (dries, film): a front that recedes, and a face that stays damp. Each once with
the load as the kiln's fit has it and once with a typical one: a fit that has it wrong leads astray."""

MOST_TRIES = 15

SHIFT, PART = 10.0, 0.003
"""scipy takes its step as a part of the unknown: the logarithms are moved away from zero for it."""

LEAST_CHAMBER = 0.3
"""Part of the chamber's heat capacity that stays its own, however heavy the load is found to be. Chosen."""

TOLD_BY_LOAD = ("load_j_per_k", "load_w_per_k", "load_m2", "elements_w_per_k", "elements_m2", "sees_elements")
"""What of a kiln makes its load warm. A load that was seen to warm tells it as a whole, however the kiln's
own fit shares it out: it is no doubt of the kiln's any more (`EXCHANGE_LEARNT` is what is left of it).
"""

WORST_LOAD_K = 6.0
"""A load that is still missed by more (RMS) was not learnt: the thermocouple lay elsewhere, or the sheet was
another shell's. As a fit of the air is judged (`fit_limits`).
"""

LEAST_SEEN = 0.5
"""Part of the firing for which there must be a load reading."""


class Factors(NamedTuple):
    """What a firing told of its load: each over what is believed without it; `sees` beyond it."""

    w: float
    m2: float
    j: float
    dries: float
    through: float
    film: float
    reads: float
    sees: float


def with_load(known: KilnKnown, job: Known, seen: Seen) -> KilnKnown:
    """Return a fitted kiln with what a firing told of its load; as it was, where it told too little.

    `job`: what was in the kiln at that firing. `seen`: what was measured.
    """
    found = load_factors(known, job, seen)
    return known if found is None else with_factors(known, job, found)


def load_factors(known: KilnKnown, job: Known, seen: Seen) -> Factors | None:
    """Return what a firing told of its load; None: too little, or what nothing explains. Takes seconds."""
    from scipy.optimize import least_squares

    measured = ~np.isnan(seen.load_c)
    if job.dry_kg is None or not len(seen.load_c) or measured.mean() < LEAST_SEEN:
        return None
    known = remembered(known, job)
    beliefs = np.array(list(BELIEFS.values()))
    weights = np.where(seen.load_c < WET_C, LOAD_K, DRY_LOAD_K)[measured]

    def off(moved: Floats) -> Floats:
        left_k = (load_c(_changed(known, _factors(moved)), job, seen) - seen.load_c)[measured]
        return np.concatenate((left_k / weights, (moved - SHIFT) / beliefs))

    found = [
        least_squares(
            off,
            SHIFT + np.array([*exchange, dries, 0.0, film, 0.0, 0.0]),
            bounds=(SHIFT - FURTHEST, SHIFT + FURTHEST),
            loss="soft_l1",
            diff_step=[PART] * len(beliefs),
            max_nfev=MOST_TRIES,
        )
        for exchange in (np.zeros(3), typical_exchange(known))
        for dries, film in STARTS
    ]
    best = _factors(min(found, key=lambda one: float(one.cost)).x)
    misses_k = (load_c(_changed(known, best), job, seen) - seen.load_c)[measured]
    return best if np.sqrt(np.mean(np.square(misses_k))) <= WORST_LOAD_K else None


def typical_exchange(known: KilnKnown) -> Floats:
    """Return the logarithms of w, m2 and j that make the load a typical one of its mass and area."""
    assert known.load_m2 is not None
    assert known.load_dry_kg is not None
    kiln = known.kiln
    over = (
        AIR_W_PER_M2_K * known.load_m2 / kiln.load_w_per_k,
        EXCHANGE_M2_PER_M2 * known.load_m2 / kiln.load_m2,
        (J_PER_KG_K * known.load_dry_kg + furniture_j_per_k(kiln)) / kiln.load_j_per_k,
    )
    return np.clip(np.log(over), -FURTHEST / 2.0, FURTHEST / 2.0)


def with_factors(known: KilnKnown, job: Known, by: Factors) -> KilnKnown:
    """Return a fitted kiln with what its firing told of its load. `job`: what was in it then."""
    return _changed(remembered(known, job), by)._replace(water_known=True)


def _factors(moved: Floats) -> Factors:
    *logarithms, sees = ((moved - SHIFT) * UNITS).tolist()
    return Factors._make([*(exp(value) for value in logarithms), sees])


def load_c(known: KilnKnown, job: Known, seen: Seen) -> Floats:
    """Return the load (C) of a kiln whose air goes as it was measured."""
    kiln, load, _ = loaded(job, known)
    return np.array([reading_c(load, state.load_c) for state in led_along(kiln, load, seen, pinned=False)])


def _load_of(kiln: GreyKiln, by: Factors) -> GreyKiln:
    # What is not the shell's was warmed all the same: it counts to the chamber, where it does not get lost.
    chamber_j_per_k = kiln.chamber_j_per_k + kiln.load_j_per_k * (1.0 - by.j)
    return kiln._replace(
        chamber_j_per_k=max(LEAST_CHAMBER * kiln.chamber_j_per_k, chamber_j_per_k),
        load_w_per_k=kiln.load_w_per_k * by.w,
        load_m2=kiln.load_m2 * by.m2,
        load_j_per_k=kiln.load_j_per_k * by.j,
    )


def _changed(known: KilnKnown, by: Factors) -> KilnKnown:
    told = {name: getattr(known.kiln, name) for name in TOLD_BY_LOAD}

    def way(of: GreyKiln) -> GreyKiln:
        return _load_of(of._replace(**told), by)

    return known._replace(
        kiln=_load_of(known.kiln, by),
        ways=tuple((way(one), way(other)) for one, other in known.ways),
        dries=known.dries * by.dries,
        through=known.through * by.through,
        film=known.film * by.film,
        reads=known.reads * by.reads,
        sees=known.sees + by.sees,
    )
