"""The live estimate: what the shell is doing inside, from what is measured outside. Pure; no clock, no I/O.

Theory of operation. Three shells of the same job, early, typical and late (`makes`), are led along by the
measured temperature: by the load thermocouple, which sits at the outer face, or, where there is none, by
the air's, across radiation and convection. Each estimate is the typical shell's, its band the spread of
the three. Nothing of this reaches the guard or the heat.

A reading that is missing or not finite leaves the last one standing: the estimate goes on, and its band
grows with the time it has been blind.
"""

from __future__ import annotations

from math import ceil, isfinite
from typing import NamedTuple

from controller.forecast.job import JobSheet
from controller.forecast.known import Known, known
from controller.forecast.makes import Variant, variants
from controller.physics.curve import at
from controller.physics.shell import (
    ShellState,
    ash_kg_per_m2,
    core_c,
    plastic_kg_per_m2,
    shell_at,
    shell_step,
    steam_pa,
    weighed,
)
from controller.physics.sintering import strength_part
from controller.physics.wall import Outside, mean_c, pinned

LONGEST_STEP_S = 1.0
"""A tick: with it the wall is within 0.5 % of the plane-wall series (tests/bench/physics.py)."""

MOST_STEPS = 120
"""A gap in the ticks is bridged in at most so many steps: coarser, and never long to work out."""

SENSOR_PART, SENSOR_LEAST_K = 0.0075, 2.5
"""Type K, class 2: the larger of 2.5 K and 0.0075 of the temperature (IEC 60584)."""

AIR_TO_SHELL = ((15.0, 0.8), (8.0, 0.65), (5.0, 0.5))
"""Convection, W/(m2 K), and emissivity in the kiln where only the air is measured: early, typical, late.
From memory, weak; the air thermocouple is taken as seeing what the shell sees.
"""

BLIND_K_PER_S = 300.0 / 3600.0
"""While nothing is measured the shell may be drifting as fast as a fast ramp."""


class Estimate(NamedTuple):
    """What is thought, and the band in which it is thought to lie."""

    low: float
    typical: float
    high: float


class Estimates(NamedTuple):
    """Everything that is estimated of a shell. All of it is drawn as an estimate, never as a measurement."""

    face_c: Estimate
    core_c: Estimate
    """The wall's inner face: the last to be hot."""
    lag_k: Estimate
    """Outer less inner face; below 0 while the shell cools."""
    lag_s: Estimate
    """How long the core is behind the face in a steady rise of a dry wall: L^2 / (2 alpha)."""
    water_kg: Estimate
    plastic_kg: Estimate
    drained_kg: Estimate
    char_kg: Estimate
    """As if air enough came to it: without a vent, more."""
    ash_kg: Estimate
    """What stays in the shell for good."""
    steam_pa: Estimate
    heat_work_s: Estimate
    """Seconds at 815 C that would have done the same."""
    strength_part: Estimate
    """Part of the gain in strength that firing gives; 0.95 is a full firing."""
    blind_s: float


class ObserverSetup(NamedTuple):
    """A job made ready for the live estimate. Does not change in a firing."""

    job: Known
    variants: tuple[Variant, Variant, Variant]


class ObserverState(NamedTuple):
    """Everything that the next step needs."""

    shells: tuple[ShellState, ShellState, ShellState]
    seen_c: float
    """The last good reading."""
    by_load: bool
    blind_s: float
    """How long ago it was."""


def set_up(sheet: JobSheet | None = None) -> ObserverSetup:
    """Return a job made ready; no sheet is an empty one, with the widest bands."""
    job = known(sheet or JobSheet())
    return ObserverSetup(job, variants(job))


def start(setup: ObserverSetup, c: float = 20.0) -> ObserverState:
    """Return the estimate at the start of a firing: a shell that has stood at `c` with water and pattern."""
    early, typical, late = (shell_at(c, variant.make) for variant in setup.variants)
    return ObserverState((early, typical, late), c, True, 0.0)


def step(
    state: ObserverState,
    setup: ObserverSetup,
    load_c: float | None,
    air_c: float | None,
    dt_s: float,
    longest_step_s: float = LONGEST_STEP_S,
) -> ObserverState:
    """Return the estimate `dt_s` later. `load_c`, `air_c`: measured; None where there is no good reading.

    A `dt_s` that is zero, negative or not finite changes nothing. A longer one is cut into steps of at most
    `longest_step_s`: 30 s is near enough for a forecast of a whole firing.
    """
    if not (isfinite(dt_s) and dt_s > 0.0):
        return state
    load, air = _good(load_c), _good(air_c)
    measured = load if load is not None else air
    seen_c = state.seen_c if measured is None else measured
    by_load = state.by_load if measured is None else load is not None
    blind_s = state.blind_s + dt_s if measured is None else 0.0
    count = min(MOST_STEPS, ceil(dt_s / longest_step_s))
    part_s = dt_s / count
    after = []
    for lateness, (shell, variant) in enumerate(zip(state.shells, setup.variants, strict=True)):
        outside = _outside(seen_c, by_load, lateness)
        moved = shell
        for _ in range(count):
            moved = shell_step(moved, variant.make, outside, part_s)
        after.append(moved)
    return ObserverState((after[0], after[1], after[2]), seen_c, by_load, blind_s)


def weigh(state: ObserverState, setup: ObserverSetup, drained_kg: float) -> ObserverState:
    """Return the estimate once the drained plastic was weighed: what is left is then nearly known."""
    early, typical, late = (
        weighed(shell, variant.make, drained_kg / variant.area_m2)
        for shell, variant in zip(state.shells, setup.variants, strict=True)
    )
    return state._replace(shells=(early, typical, late))


def estimates(state: ObserverState, setup: ObserverSetup) -> Estimates:
    """Return what is thought of the shell now."""
    blind_k = BLIND_K_PER_S * state.blind_s
    pairs = tuple(zip(state.shells, setup.variants, strict=True))
    return Estimates(
        face_c=_spread([shell.face_c for shell in state.shells], blind_k),
        core_c=_spread([core_c(shell) for shell in state.shells], blind_k),
        lag_k=_spread([shell.face_c - core_c(shell) for shell in state.shells], blind_k),
        lag_s=_spread([lag_s(shell, variant) for shell, variant in pairs]),
        water_kg=_spread([shell.water_kg_per_m2 * variant.area_m2 for shell, variant in pairs]),
        plastic_kg=_spread([plastic_kg_per_m2(shell) * variant.area_m2 for shell, variant in pairs]),
        drained_kg=_spread([shell.drained_kg_per_m2 * variant.area_m2 for shell, variant in pairs]),
        char_kg=_spread([shell.char_kg_per_m2 * variant.area_m2 for shell, variant in pairs]),
        ash_kg=_spread([ash_kg_per_m2(shell, variant.make) * variant.area_m2 for shell, variant in pairs]),
        steam_pa=_spread([steam_pa(shell, variant.make) for shell, variant in pairs]),
        heat_work_s=_spread([shell.heat_work_s for shell in state.shells]),
        strength_part=_spread([strength_part(shell.heat_work_s) for shell in state.shells]),
        blind_s=state.blind_s,
    )


def lag_s(shell: ShellState, variant: Variant) -> float:
    """Return how long the core of a dry wall is behind its face in a steady rise."""
    wall, c = variant.make.wall, mean_c(shell.cells_c)
    heat = at(wall.heat_j_per_m3_k, c)
    return heat * wall.thickness_m**2 / (2.0 * at(wall.conductivity_w_per_m_k, c))


def _outside(seen_c: float, by_load: bool, lateness: int) -> Outside:
    """Return what the outer face meets; the early shell is as much hotter as the sensor may be wrong."""
    error_k = max(SENSOR_LEAST_K, SENSOR_PART * abs(seen_c)) * (1 - lateness)
    if by_load:
        return pinned(seen_c + error_k)
    convection, emissivity = AIR_TO_SHELL[lateness]
    return Outside(seen_c + error_k, convection, seen_c + error_k, emissivity)


def _good(c: float | None) -> float | None:
    return c if c is not None and isfinite(c) and c > -273.15 else None


def _spread(values: list[float], more: float = 0.0) -> Estimate:
    return Estimate(min(values) - more, values[1], max(values) + more)
