"""An electric kiln as equations: `step` is one pure function from a state to the next.

Heat goes from the elements by radiation and convection to the lining, the load and the air; through
three layers of lining to the room; out with the air that passes through, and by an open door; into the
shell, its water and its plastic (`matter`). Radiation is in T^4 throughout. The air is solved implicitly
(it holds next to nothing); all else explicitly, in sub-steps no longer than `LONGEST_STEP_S`.

Every flow is written once and taken from one side as it is given to the other, so that the energy
balance closes at any step: supplied + burnt = stored + lost + latent (`stored_j`).

Written for speed in plain floats: a step is the largest part of a simulated tick.

What it leaves out: conductivity and heat capacity that depend on temperature, how water moves within
the wall, vapour that does not burn at once, draughts and corners in the chamber.
"""

from __future__ import annotations

from math import ceil
from typing import NamedTuple

from controller.physics.constants import AIR_J_PER_KG_K, STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_C_IN_K
from controller.physics.matter import matter_j_per_k, matter_step
from controller.physics.parameters import KilnParameters

LONGEST_STEP_S = 2.0
"""The quickest lump, the elements at 1300 C, has a time constant of 7 s: a third of it is calm."""

_new_tuple = tuple.__new__  # a NamedTuple's own constructor costs several times as much


class KilnState(NamedTuple):
    """Everything that the next step needs. Temperatures in C; the tallies run from the start, in J."""

    elements_c: float
    air_c: float
    lining_hot_c: float
    lining_middle_c: float
    lining_cold_c: float
    load_outer_c: float
    load_core_c: float
    air_probe_c: float
    load_probe_c: float
    limit_probe_c: float
    water_kg: float
    """Water in the shell."""
    solid_kg: float
    """Plastic not yet molten."""
    melt_kg: float
    """Plastic molten, and neither drained nor burnt out."""
    lost_j: float
    """Gone from the kiln: through the lining, with air, by an opening, in matter that left it."""
    latent_j: float
    """Taken by water that evaporated and by plastic that melted."""
    burnt_j: float
    """Given by burning plastic, and by `extra_w`."""


def at_rest(c: float, water_kg: float = 0.0, plastic_kg: float = 0.0) -> KilnState:
    """Return a kiln that has long stood at `c` (C), with so much water and plastic (kg) in the shell."""
    return KilnState(c, c, c, c, c, c, c, c, c, c, water_kg, plastic_kg, 0.0, 0.0, 0.0, 0.0)


def stored_j(state: KilnState, parameters: KilnParameters) -> float:
    """Return the sensible heat in the kiln, J, reckoned from 0 C."""
    p, s = parameters, state
    core_j_per_k = p.load_core_j_per_k + matter_j_per_k(s.water_kg, s.solid_kg, s.melt_kg)
    return (
        p.elements_j_per_k * s.elements_c
        + p.air_j_per_k * s.air_c
        + p.lining_hot_j_per_k * s.lining_hot_c
        + p.lining_middle_j_per_k * s.lining_middle_c
        + p.lining_cold_j_per_k * s.lining_cold_c
        + p.load_outer_j_per_k * s.load_outer_c
        + core_j_per_k * s.load_core_c
    )


def step(
    state: KilnState,
    parameters: KilnParameters,
    power_w: float,
    dt_s: float,
    room_c: float,
    vent_kg_per_s: float,
    opening_m2: float = 0.0,
    extra_w: float = 0.0,
) -> KilnState:
    """Return the state `dt_s` later; power and surroundings are constant meanwhile.

    `vent_kg_per_s`: air from the room that passes through the chamber. `opening_m2`: a hole through which
    the lining radiates into the room. `extra_w`: heat that a fire sets free in the chamber's air.
    Any `dt_s` of zero or more is stable; it is divided where it exceeds `LONGEST_STEP_S`.
    """
    if dt_s <= LONGEST_STEP_S:
        return _step(state, parameters, power_w, dt_s, room_c, vent_kg_per_s, opening_m2, extra_w)
    count = ceil(dt_s / LONGEST_STEP_S)
    part_s = dt_s / count
    for _ in range(count):
        state = _step(state, parameters, power_w, part_s, room_c, vent_kg_per_s, opening_m2, extra_w)
    return state


def _step(
    state: KilnState,
    p: KilnParameters,
    power_w: float,
    dt_s: float,
    room_c: float,
    vent_kg_per_s: float,
    opening_m2: float,
    fire_w: float,
) -> KilnState:
    # Here a name without a unit is a temperature in C and, with a 4 behind, in kelvin to the fourth.
    (
        elements, air, hot, middle, cold, outer, core, air_probe, load_probe, limit_probe,
        water_kg, solid_kg, melt_kg, lost_j, latent_j, burnt_j,
    ) = state  # fmt: skip

    # Water and plastic: heat taken from the core, heat given to the air, and what left the kiln.
    core_j_per_k = p.load_core_j_per_k
    taken_w = left_w_per_k = 0.0
    if water_kg or solid_kg or melt_kg:
        core_j_per_k += matter_j_per_k(water_kg, solid_kg, melt_kg)
        water_kg, solid_kg, melt_kg, taken_w, burning_w, left_w_per_k = matter_step(
            core, water_kg, solid_kg, melt_kg, dt_s, vent_kg_per_s, p.drained_part
        )
        fire_w += burning_w

    # The air, implicitly.
    elements_air = p.elements_air_w_per_k
    lining_air = p.lining_air_w_per_k
    load_air = p.load_air_w_per_k
    vent = AIR_J_PER_KG_K * vent_kg_per_s
    air = (
        p.air_j_per_k * air
        + dt_s * (elements_air * elements + lining_air * hot + load_air * outer + vent * room_c + fire_w)
    ) / (p.air_j_per_k + dt_s * (elements_air + lining_air + load_air + vent))

    # Flows, W.
    elements4 = (elements + ZERO_C_IN_K) ** 4
    hot4 = (hot + ZERO_C_IN_K) ** 4
    outer4 = (outer + ZERO_C_IN_K) ** 4
    elements_lining_w = STEFAN_BOLTZMANN_W_PER_M2_K4 * p.elements_lining_m2 * (elements4 - hot4)
    elements_load_w = STEFAN_BOLTZMANN_W_PER_M2_K4 * p.elements_load_m2 * (elements4 - outer4)
    lining_load_w = STEFAN_BOLTZMANN_W_PER_M2_K4 * p.lining_load_m2 * (hot4 - outer4)
    elements_air_w = elements_air * (elements - air)
    lining_air_w = lining_air * (hot - air)
    load_air_w = load_air * (outer - air)
    hot_middle_w = p.lining_hot_middle_w_per_k * (hot - middle)
    middle_cold_w = p.lining_middle_cold_w_per_k * (middle - cold)
    room_w = p.lining_room_w_per_k * (cold - room_c)
    core_w = p.load_w_per_k * (outer - core)
    opening_w = 0.0
    if opening_m2:
        opening_w = STEFAN_BOLTZMANN_W_PER_M2_K4 * opening_m2 * (hot4 - (room_c + ZERO_C_IN_K) ** 4)

    # What they do in this step.
    elements += dt_s / p.elements_j_per_k * (power_w - elements_lining_w - elements_load_w - elements_air_w)
    hot += (
        dt_s
        / p.lining_hot_j_per_k
        * (elements_lining_w - lining_load_w - lining_air_w - hot_middle_w - opening_w)
    )
    middle += dt_s / p.lining_middle_j_per_k * (hot_middle_w - middle_cold_w)
    cold += dt_s / p.lining_cold_j_per_k * (middle_cold_w - room_w)
    outer += dt_s / p.load_outer_j_per_k * (elements_load_w + lining_load_w - load_air_w - core_w)
    core += dt_s / core_j_per_k * (core_w - taken_w)
    lost_j += dt_s * (room_w + opening_w + vent * (air - room_c) + left_w_per_k * core)
    latent_j += dt_s * taken_w
    burnt_j += dt_s * fire_w

    # The thermocouples follow.
    air_probe += dt_s / p.air_probe_s * (air + p.air_probe_sees_lining * (hot - air) - air_probe)
    limit_probe += dt_s / p.limit_probe_s * (air + p.limit_probe_sees_lining * (hot - air) - limit_probe)
    load_probe += dt_s / p.load_probe_s * (outer - load_probe)
    after = (
        elements, air, hot, middle, cold, outer, core, air_probe, load_probe, limit_probe,
        water_kg, solid_kg, melt_kg, lost_j, latent_j, burnt_j,
    )  # fmt: skip
    return _new_tuple(KilnState, after)
