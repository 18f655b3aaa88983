"""What water and plastic in the shell do in one step: dry, boil, melt, drain, decompose and burn.

Both sit in the shell's inner half and have its temperature. Water dries slowly below the boil and holds
the wall near 100 C until it is gone. Plastic melts, holding the wall a little; most of the melt drains;
the rest decomposes by first-order kinetics, and its vapour burns as far as the air that passes through
brings oxygen. Modest on purpose: kinetics in the wall's depth and steam pressure are not here.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

from controller.physics.constants import (
    BURNING_J_PER_KG_AIR,
    GAS_CONSTANT_J_PER_MOL_K,
    PLASTIC_ACTIVATION_J_PER_MOL,
    PLASTIC_BURNING_J_PER_KG,
    PLASTIC_DECAY_PER_S,
    PLASTIC_FUSION_J_PER_KG,
    PLASTIC_J_PER_KG_K,
    WATER_J_PER_KG_K,
    WATER_LATENT_J_PER_KG,
    ZERO_C_IN_K,
)

BOILING_C = 100.0
"""Water boils, at the pressure of one atmosphere."""

BOILING_W_PER_K = 300.0
"""How hard boiling water holds the wall at 100 C, W for each K above it. Chosen: 1 kW boils at 103 C."""

DRYING_AT_100_KG_PER_S = 1.5e-4
"""Drying by diffusion at the boil, kg/s; less below. Chosen: some 0.4 kg an hour at 93 C."""

DRYING_FOLD_K = 26.0
"""Drying grows by e in so many K: water's vapour pressure from 80 to 100 C (47.4, 101.4 kPa; IAPWS-IF97)."""

DRYING_ROOM_PART = 0.0559
"""The room's own vapour, as a part of that at 100 C: nothing dries below 25 C. Chosen."""

MELTING_C = 155.0
"""Middle of PLA's melting range, 150 to 160 C: data sheets."""

MELTING_W_PER_K = 40.0
"""How hard melting plastic holds the wall at its melting point, W for each K above it. Chosen."""

DECAY_FROM_C = 180.0
"""PLA decomposes so slowly below this (under 1 % in a day) that it is not calculated."""

SMALLEST_KG = 1e-5
"""Less plastic than this, 10 mg, counts as gone, so that an exponential decay ends."""


class MatterStep(NamedTuple):
    """What is left, and what happened on the way, as means over the step."""

    water_kg: float
    solid_kg: float
    melt_kg: float
    taken_w: float
    """Latent heat taken from the shell."""
    burning_w: float
    """Heat given to the chamber's air."""
    left_w_per_k: float
    """Heat capacity that left the kiln each second: vapour and what drained."""


def matter_j_per_k(water_kg: float, solid_kg: float, melt_kg: float) -> float:
    """Return the heat capacity of water and plastic, J/K."""
    return WATER_J_PER_KG_K * water_kg + PLASTIC_J_PER_KG_K * (solid_kg + melt_kg)


def matter_step(
    core_c: float,
    water_kg: float,
    solid_kg: float,
    melt_kg: float,
    dt_s: float,
    vent_kg_per_s: float,
    drained_part: float,
) -> MatterStep:
    """Return what `dt_s` at `core_c` does to so much water, solid and molten plastic."""
    if dt_s <= 0.0:
        return MatterStep(water_kg, solid_kg, melt_kg, 0.0, 0.0, 0.0)
    dried_kg = dried(core_c, water_kg, dt_s)
    melted_kg = melted(core_c, solid_kg, dt_s)
    drained_kg = drained_part * melted_kg
    melt_kg += melted_kg - drained_kg
    decayed_kg = decayed(core_c, melt_kg, dt_s)
    return MatterStep(
        water_kg - dried_kg,
        solid_kg - melted_kg,
        melt_kg - decayed_kg,
        (dried_kg * WATER_LATENT_J_PER_KG + melted_kg * PLASTIC_FUSION_J_PER_KG) / dt_s,
        min(decayed_kg / dt_s * PLASTIC_BURNING_J_PER_KG, vent_kg_per_s * BURNING_J_PER_KG_AIR),
        (dried_kg * WATER_J_PER_KG_K + (drained_kg + decayed_kg) * PLASTIC_J_PER_KG_K) / dt_s,
    )


def dried(core_c: float, water_kg: float, dt_s: float) -> float:
    """Return the water (kg) that evaporates in `dt_s`."""
    if not water_kg:
        return 0.0
    above_k = core_c - BOILING_C
    part = exp(min(0.0, above_k) / DRYING_FOLD_K) - DRYING_ROOM_PART
    rate_kg_per_s = DRYING_AT_100_KG_PER_S * max(0.0, part)
    rate_kg_per_s += BOILING_W_PER_K * max(0.0, above_k) / WATER_LATENT_J_PER_KG
    return min(water_kg, rate_kg_per_s * dt_s)


def melted(core_c: float, solid_kg: float, dt_s: float) -> float:
    """Return the plastic (kg) that melts in `dt_s`."""
    if not solid_kg or core_c <= MELTING_C:
        return 0.0
    return min(solid_kg, MELTING_W_PER_K * (core_c - MELTING_C) / PLASTIC_FUSION_J_PER_KG * dt_s)


def decayed(core_c: float, melt_kg: float, dt_s: float) -> float:
    """Return the molten plastic (kg) that turns to vapour in `dt_s`."""
    if not melt_kg or core_c < DECAY_FROM_C:
        return 0.0
    rate_per_s = PLASTIC_DECAY_PER_S * exp(
        -PLASTIC_ACTIVATION_J_PER_MOL / (GAS_CONSTANT_J_PER_MOL_K * (core_c + ZERO_C_IN_K))
    )
    left_kg = melt_kg * exp(-rate_per_s * dt_s)
    return melt_kg if left_kg < SMALLEST_KG else melt_kg - left_kg
