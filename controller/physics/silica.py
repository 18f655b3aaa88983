"""What a fused-silica shell is made of: conductivity, heat, strength, permeability, expansion.

The solid's values come from a handbook's fused-silica brick, whose own pores are taken out of them, and
the shell's pores are put in. Below 400 C, where the handbook's table ends, the values are from memory.
What was never measured on a shell is a band, and weak.
"""

from __future__ import annotations

from math import exp

from controller.physics.band import Band, exactly
from controller.physics.curve import Curve, through

SOLID_KG_PER_M3 = 2200.0
"""Density of vitreous silica; from memory."""

BRICK_KG_PER_M3 = 1940.0
"""Density of the handbook's fused-silica brick: VDI Heat Atlas, refractories."""

BRICK_W_PER_M_K = ((20.0, 1.28), (400.0, 1.44), (600.0, 1.53), (800.0, 1.61), (1000.0, 1.67))
"""Conductivity of that brick: VDI Heat Atlas from 400 C; at 20 C its slope carried on, weak."""

BRICK_J_PER_KG_K = ((20.0, 740.0), (400.0, 917.0), (600.0, 946.0), (800.0, 963.0), (1000.0, 972.0))
"""Specific heat of that brick: VDI Heat Atlas from 400 C; at 20 C vitreous silica, from memory, weak."""

TABLE_STEP_K = 20.0
"""Step of the curves made from the two tables; both pass through every point of theirs."""

POROSITY_FACTOR = 1.5
"""Pores lower conductivity by exp(-1.5 p / (1 - p)): Xu, Lekakh, Richards, Int J Metalcasting 2016."""

POROSITY = Band(0.18, 0.25, 0.30, "10 to 30 %: Xu, Lekakh, Richards, Int J Metalcasting 2016", weak=False)
"""Part of a shell's volume that is pores; with the solid's density it gives 1540 to 1800 kg/m3."""

CONTACT = Band(0.5, 0.75, 1.0, "chosen so that a shell has 0.5 to 1.2 W/(m K); from memory")
"""Grains that only touch conduct less than a brick's: the shell's conductivity over the brick's way."""

GREEN_PA = Band(2.0e6, 3.5e6, 6.0e6, "modulus of rupture of a green shell; from memory")
FIRED_PA = Band(4.0e6, 7.0e6, 10.0e6, "modulus of rupture of a fired shell; from memory")

PULL_PART = Band(0.25, 0.4, 0.6, "chosen: brittle porous bodies, and coats that part from one another")
"""Strength against being pulled or burst apart, as a part of the modulus of rupture."""

PERMEABILITY_M2 = Band(1e-15, 1e-14, 1e-13, "permeability of a shell; from memory")
EMISSIVITY = Band(0.5, 0.65, 0.8, "emissivity of a shell near 800 C; from memory")
COAT_M = Band(0.8e-3, 1.0e-3, 1.2e-3, "about 1 mm a coat; from memory, common practice")

GREEN_MODULUS_PA = Band(1.0e9, 3.0e9, 8.0e9, "elastic modulus of a green shell; from memory")
POISSON = 0.2
"""Poisson's ratio of a porous ceramic; from memory."""

EXPANSION_PER_K = exactly(0.5e-6, "vitreous silica; from memory", weak=True)


def shell_kg_per_m3(porosity: float) -> float:
    """Return the density of a dry shell."""
    return SOLID_KG_PER_M3 * (1.0 - porosity)


def porosity_factor(porosity: float) -> float:
    """Return the conductivity of a porous body over that of its solid."""
    return exp(-POROSITY_FACTOR * porosity / (1.0 - porosity))


def shell_w_per_m_k(porosity: float, contact: float) -> Curve:
    """Return a shell's conductivity against temperature. `contact`: 1 a brick, less loose grains."""
    brick_porosity = 1.0 - BRICK_KG_PER_M3 / SOLID_KG_PER_M3
    factor = porosity_factor(porosity) / porosity_factor(brick_porosity)
    return through(BRICK_W_PER_M_K, TABLE_STEP_K).scaled(contact * factor)


def shell_j_per_m3_k(porosity: float) -> Curve:
    """Return a dry shell's heat capacity, by volume, against temperature."""
    return through(BRICK_J_PER_KG_K, TABLE_STEP_K).scaled(shell_kg_per_m3(porosity))


def difference_stress_pa(
    difference_k: float,
    modulus_pa: float = GREEN_MODULUS_PA.high,
    expansion_per_k: float = EXPANSION_PER_K.typical,
    poisson: float = POISSON,
) -> float:
    """Return the stress that a difference of temperature across a restrained wall makes.

    E a dT / (1 - nu): half of it on either side of a wall with an even slope, all of it in a thin skin
    (Timoshenko and Goodier, Theory of Elasticity, thermal stress in a plate; from memory). For fused
    silica it is small, 50 kPa for 10 K: why such shells may be heated fast.
    """
    return modulus_pa * expansion_per_k * abs(difference_k) / (1.0 - poisson)
