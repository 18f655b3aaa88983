"""What this shell can bear while it is wet and while its pattern is solid: from a job, before any firing.

Each is worked out for a shell that bears much, a typical one and one that bears little, each value half
of the way to its limit (`makes.part_way`); the band says how little is known of green shells.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.forecast.known import Known
from controller.forecast.makes import EARLY, LATE, NEVER_C, TYPICAL, Variant, part_way, variants
from controller.physics import gypsum, silica, water
from controller.physics.band import Band
from controller.physics.curve import at
from controller.physics.pattern import PLAY, Print, Stiff, cracks_at_c, flash_c_per_h, wall_stress_pa

WORKED_OUT = "worked out from the job"
NEAR_BOIL_C = 100.0
MOST_S = 1e9  # a wall that never dries, in a number that can be shown
NO_LIMIT_C = 1000.0
"""A wet wall that bears more than this bears whatever a kiln can do: shells go wet into hotter ones (common
practice, no source).
"""
NO_LIMIT_C_PER_H = 10000.0
"""Faster than any kiln."""


class ShellLimits(NamedTuple):
    """Limits of one job. Bands run from the shell that bears least to the one that bears most."""

    cracks_at_c: tuple[float | None, float | None, float | None]
    """Where on a slow way up the pattern cracks the shell: weak shell, typical, strong; None: it does not."""
    push_pa: Band
    """The most that the pattern pulls at the wall on the way up."""
    pull_pa: Band
    """What the green wall bears."""
    wet_face_c: Band
    """The hottest that the outer face may be while the wall is wet."""
    pocket_c: Band
    """Where water in a closed pocket presses as hard as the wall should bear."""
    wet_c_per_h: Band
    """The fastest rise, from the boil on, at which the wall is dry before `wet_face_c`."""
    gentle_s: Band
    """How long the wall takes to dry with its face at 95 C, where no steam is anywhere."""
    flash_c_per_h: float
    """From this rise on the pattern's skin runs before its middle has grown; infinite for a network."""


def shell_limits(job: Known) -> ShellLimits:
    """Return what a job's shell can bear."""
    early, typical, late = variants(job)
    shells = ((0, late), (1, typical), (2, early))  # how much it bears, and which shell that is
    strength = pull_pa(job)
    bears = [strength.at(level) for level, _ in shells]
    return ShellLimits(
        cracks_at_c=(_crack(job, LATE), _crack(job, TYPICAL), _crack(job, EARLY)),
        push_pa=_band([push_pa(job, level) for level in range(3)]),
        pull_pa=strength,
        wet_face_c=_band([_face_limit_c(pa, v) for pa, (_, v) in zip(bears, shells, strict=True)]),
        pocket_c=_band([water.pocket_limit_c(pa) for pa in bears]),
        wet_c_per_h=_band([_fastest(pa, v) for pa, (_, v) in zip(bears, shells, strict=True)]),
        gentle_s=_band([min(MOST_S, gentle_s(v)) for v in (early, typical, late)]),
        flash_c_per_h=flash_c_per_h(job.material, job.thickest_m.typical / 2.0),
    )


def pull_pa(job: Known) -> Band:
    """Return what a green wall bears before it is pulled apart."""
    rupture = gypsum.STRENGTH_PA if job.mould == "gypsum-bonded" else silica.GREEN_PA
    low, typical, high = (part_way(rupture, level) * part_way(silica.PULL_PART, level) for level in range(3))
    return Band(low, typical, high, "modulus of rupture and a chosen part of it")


def push_pa(job: Known, level: int) -> float:
    """Return the most that a pattern pulls at its wall on a slow way up, low (0), typical or high (2)."""
    if job.plastic_kg.high <= 0.0:
        return 0.0
    of, values = _print(job, level), _stiff(job, level)
    hottest_c = min(values.runs_c, 400.0) - 1.0
    return max(wall_stress_pa(of, values, c) for c in (values.glass_c, hottest_c))


def gentle_s(variant: Variant) -> float:
    """Return how long a wall takes to dry with its face at 95 C."""
    make = variant.make
    return water.drying_s(
        water.GENTLE_C, make.wall.thickness_m, make.full_kg_per_m2, _w_per_m_k(variant), make.pores
    )


def _crack(job: Known, push: int) -> float | None:
    """Return where a shell cracks: the harder the push, the weaker the shell it is held against."""
    if job.plastic_kg.high <= 0.0:
        return None
    return cracks_at_c(_print(job, push), _stiff(job, push), pull_pa(job).at(2 - push))


def _print(job: Known, push: int) -> Print:
    """A fuller pattern with a thicker skin pushes harder."""
    return Print(job.thickest_m.typical / 2.0, part_way(job.fill, push), part_way(job.skin_m, push))


def _stiff(job: Known, push: int) -> Stiff:
    """A thinner, stiffer wall is pulled harder, by plastic that grows more and stays stiff longer."""
    modulus = gypsum.MODULUS_PA if job.mould == "gypsum-bonded" else silica.GREEN_MODULUS_PA
    material = job.material
    return Stiff(
        shell_m=part_way(job.thickness_m, 2 - push),
        shell_modulus_pa=part_way(modulus, push),
        modulus_pa=part_way(material.modulus_pa, push),
        expansion_per_k=part_way(material.expansion_per_k, push),
        rubber_per_k=part_way(material.rubber_per_k, push),
        glass_c=part_way(material.glass_c, push),
        runs_c=part_way(material.runs_c, push) if material.runs else NEVER_C,
        play=part_way(PLAY, 2 - push),
    )


def _w_per_m_k(variant: Variant) -> float:
    return at(variant.make.wall.conductivity_w_per_m_k, NEAR_BOIL_C)


def _face_limit_c(strength_pa: float, variant: Variant) -> float:
    return min(NO_LIMIT_C, water.face_limit_c(strength_pa, _w_per_m_k(variant), variant.make.pores))


def _fastest(strength_pa: float, variant: Variant) -> float:
    make = variant.make
    heat = at(make.wall.heat_j_per_m3_k, NEAR_BOIL_C)
    rate = water.fastest_c_per_h(
        strength_pa, make.wall.thickness_m, make.full_kg_per_m2, _w_per_m_k(variant), heat, make.pores
    )
    return min(NO_LIMIT_C_PER_H, rate)


def _band(values: list[float]) -> Band:
    return Band(min(values), values[1], max(values), WORKED_OUT)
