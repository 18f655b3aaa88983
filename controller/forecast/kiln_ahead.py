"""One step of a kiln that is run ahead: the grey-box kiln with a shell in it, led along a setpoint.

The elements are taken as always in balance (their heat counts to the chamber), so that the power which
brings the air to its setpoint is a plain division: control as good as it can be, up to full heat. Steps
of up to 30 s. Every watt that one part gives another gets: supplied = stored + lost + latent.

What it leaves out: the controller's own errors, the heat that the burning plastic gives, an open door.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.forecast.load import Load
from controller.physics.constants import WATER_J_PER_KG_K
from controller.physics.curve import at
from controller.physics.grey import GreyKiln, radiation_w_per_k
from controller.physics.steam import latent_j_per_kg

PATTERN_GONE_C = 250.0
"""Above this the pattern's heat capacity no longer counts: most of it has run out."""

DRY_KG = 1e-4

HOT_C = 900.0
CALM = 1.2
"""A lump that gives away all that it has within a step is at the edge of swinging: a fifth more is calm."""


class Ahead(NamedTuple):
    """Everything that the next step needs; temperatures in C."""

    chamber_c: float
    inner_c: float
    outer_c: float
    load_c: float
    """The shell's outer half, where its thermocouple sits."""
    core_c: float
    over_k: float
    """By how much the elements are hotter than the chamber."""
    water_kg: float
    power_w: float
    """Given in the step that led here."""


def at_rest(c: float, load: Load) -> Ahead:
    """Return a cold kiln with its load in it."""
    return Ahead(c, c, c, c, c, 0.0, load.water_kg, 0.0)


def air_c(state: Ahead, kiln: GreyKiln) -> float:
    """Return what the air thermocouple shows."""
    return state.chamber_c + kiln.sees_elements * state.over_k


def calm(kiln: GreyKiln, load: Load, dt_s: float) -> GreyKiln:
    """Return a kiln that can be stepped by `dt_s`: a chamber that holds too little would swing up and up."""
    to_load = kiln.load_w_per_k + radiation_w_per_k(kiln.load_m2, HOT_C, HOT_C)
    passes = kiln.face_w_per_k + kiln.vent_w_per_k + min(to_load, load.outer_j_per_k / dt_s)
    least = CALM * dt_s * passes - kiln.elements_j_per_k
    return kiln if kiln.chamber_j_per_k >= least else kiln._replace(chamber_j_per_k=least)


def step(
    state: Ahead,
    kiln: GreyKiln,
    load: Load,
    setpoint_c: float | None,
    dt_s: float,
    most_w: float | None = None,
) -> Ahead:
    """Return the state `dt_s` later. `setpoint_c`: of the air at the step's end; None: heat off.

    `most_w`: the power's limit, the kiln's own where it is None.
    """
    chamber, inner, outer, face, core, over_k, water_kg, _ = state
    met = chamber + load.sees * over_k
    to_load = kiln.load_w_per_k + radiation_w_per_k(kiln.load_m2, met, face)
    through = load.through_w_per_k
    both = to_load + through
    x = both * dt_s / load.outer_j_per_k
    ends_c = (to_load * met + through * core) / both
    face_after = ends_c + (face - ends_c) / (1.0 + x + 0.5 * x * x)

    core_j_per_k = load.core_j_per_k
    if core < PATTERN_GONE_C:
        core_j_per_k += load.plastic_j_per_k
    taken_w = slope_w_per_k = 0.0
    if water_kg > 0.0:
        core_j_per_k += water_kg * WATER_J_PER_KG_K
        taken_w, slope_w_per_k = drying_w(core, water_kg, load, dt_s)
    change_k = through * (face_after - core) - taken_w
    change_k *= dt_s / (core_j_per_k + dt_s * (through + slope_w_per_k))
    if water_kg > 0.0:
        water_kg -= max(0.0, taken_w + slope_w_per_k * change_k) * dt_s / latent_j_per_kg(core)
        water_kg = water_kg if water_kg > DRY_KG else 0.0
    core_w = through * (face_after - core - change_k)
    load_w = load.outer_j_per_k * (face_after - face) / dt_s + core_w

    chamber_j_per_k = kiln.chamber_j_per_k + kiln.elements_j_per_k
    face_w = kiln.face_w_per_k * (chamber - inner)
    between_w = kiln.between_w_per_k * (inner - outer)
    lost_w = load_w + face_w + kiln.vent_w_per_k * (chamber - kiln.room_c)
    unheated_c = chamber - dt_s / chamber_j_per_k * lost_w
    to_chamber = kiln.elements_w_per_k + radiation_w_per_k(kiln.elements_m2, chamber + over_k, chamber)
    power_w = 0.0
    if setpoint_c is not None:
        air_k_per_w = dt_s / chamber_j_per_k + kiln.sees_elements / to_chamber
        power_w = min(most_w or kiln.power_w, max(0.0, (setpoint_c - unheated_c) / air_k_per_w))
    return Ahead(
        unheated_c + dt_s / chamber_j_per_k * power_w,
        inner + dt_s / kiln.inner_j_per_k * (face_w - between_w),
        outer + dt_s / kiln.outer_j_per_k * (between_w - kiln.room_w_per_k * (outer - kiln.room_c)),
        face_after,
        core + change_k,
        power_w / to_chamber,
        water_kg,
        power_w,
    )


def drying_w(core_c: float, water_kg: float, load: Load, dt_s: float) -> tuple[float, float]:
    """Return the heat that evaporation takes, W, and by how much more with each kelvin.

    No more than what all of the water that is left takes within `dt_s`.
    """
    dry = 0.0 if load.water_kg <= 0.0 else max(0.0, 1.0 - water_kg / load.water_kg)
    way_m = load.film_m + dry * load.thickness_m
    now = at(load.drying_w_per_m, core_c) / way_m
    last_w = water_kg * latent_j_per_kg(core_c) / dt_s
    if now >= last_w:
        return last_w, 0.0
    return now, max(0.0, at(load.drying_w_per_m, core_c + 1.0) / way_m - now)
