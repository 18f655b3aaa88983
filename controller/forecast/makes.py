"""From a job to three shells: one that is ready early, a typical one, one that is ready late.

The band of every estimate is the spread of these three, run side by side. All values at their limits at
once hardly ever happens: an early or late shell takes each value `SPREAD` of the way to its limit. Of n
values that matter alike and know nothing of each other, the sum strays as sqrt(n), not n: half is for
n = 4 (thickness, conductivity, water, kinetics). Chosen; the same each time, nothing is drawn by lot.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from controller.forecast.known import Known
from controller.physics import gypsum, silica
from controller.physics.band import Band
from controller.physics.curve import constant
from controller.physics.decay import CHAR_J_PER_MOL, CHAR_PEAK_C, kinetics
from controller.physics.shell import Plastic, ShellMake
from controller.physics.sintering import ENERGY_J_PER_MOL
from controller.physics.wall import Wall
from controller.physics.water import Pores

Lateness = Literal[0, 1, 2]
EARLY, TYPICAL, LATE = 0, 1, 2
SPREAD = 0.5

NEVER_C = 1e4
"""Where a network would run."""

FUSION_OVER_K = 20.0
"""A print melts over so many kelvin: tables say 150 to 160, 130 to 180 C are seen. Chosen."""


class Variant(NamedTuple):
    """One of the three shells, and the area of its wall."""

    make: ShellMake
    area_m2: float


def variants(job: Known) -> tuple[Variant, Variant, Variant]:
    """Return the early, the typical and the late shell of a job."""
    return _variant(job, EARLY), _variant(job, TYPICAL), _variant(job, LATE)


def part_way(band: Band, level: int) -> float:
    """Return a band's value for a level, low and high only `SPREAD` of the way to their limits."""
    return band.typical + SPREAD * (band.at(level) - band.typical)


def _late_high(band: Band, lateness: int) -> float:
    return part_way(band, lateness)


def _late_low(band: Band, lateness: int) -> float:
    return part_way(band, 2 - lateness)


def _variant(job: Known, lateness: int) -> Variant:
    thickness_m = _late_high(job.thickness_m, lateness)
    area_m2 = wall_m2(job, thickness_m, lateness)
    if job.water_kg is None:
        water_kg_per_m2 = _late_high(job.water_part, lateness) * thickness_m * job.kg_per_m3.typical
    else:
        water_kg_per_m2 = _late_high(job.water_kg, lateness) / area_m2
    make = ShellMake(
        wall=_wall(job, thickness_m, lateness),
        pores=_pores(job, lateness),
        full_kg_per_m2=water_kg_per_m2,
        plastic_kg_per_m2=_late_high(job.plastic_kg, lateness) / area_m2,
        pocket_part=_late_high(job.pocket_part, lateness),
        drain_m=_late_high(job.height_m, lateness),
        plastic=_plastic(job, lateness),
        sinter_j_per_mol=_late_high(ENERGY_J_PER_MOL, lateness),
    )
    return Variant(make, area_m2)


def wall_m2(job: Known, thickness_m: float, lateness: int) -> float:
    """Return the wall's area: from the shell's mass where it was weighed, else from the pattern's volume.

    A late shell is the more compact piece: less wall for what is in it.
    """
    if job.dry_kg is not None:
        return _late_low(job.dry_kg, lateness) / (thickness_m * job.kg_per_m3.typical)
    plastic_kg_per_m3 = _late_high(job.fill, lateness) * job.material.kg_per_m3.typical
    volume_m3 = _late_high(job.print_kg, lateness) / plastic_kg_per_m3
    side_m2: float = volume_m3 ** (2.0 / 3.0)
    return _late_low(job.shape, lateness) * side_m2


def _wall(job: Known, thickness_m: float, lateness: int) -> Wall:
    if job.mould == "gypsum-bonded":
        conductivity = constant(_late_low(gypsum.W_PER_M_K, lateness))
        return Wall(thickness_m, conductivity, constant(_late_high(gypsum.J_PER_M3_K, lateness)))
    porosity = silica.POROSITY.typical
    conductivity = silica.shell_w_per_m_k(porosity, _late_low(silica.CONTACT, lateness))
    return Wall(thickness_m, conductivity, silica.shell_j_per_m3_k(porosity))


def _pores(job: Known, lateness: int) -> Pores:
    stuff = gypsum if job.mould == "gypsum-bonded" else silica
    permeability, porosity = stuff.PERMEABILITY_M2, stuff.POROSITY
    way = (permeability.at(2 - lateness) * permeability.typical) ** SPREAD  # it spans tenfolds: half a fold
    return Pores(way, _late_low(porosity, lateness))


def _plastic(job: Known, lateness: int) -> Plastic:
    material = job.material
    peak_c = _late_high(material.peak_c, lateness)
    char_peak_c = _late_high(Band(*CHAR_PEAK_C, ""), lateness)
    runs_c = _late_high(material.runs_c, lateness) if material.runs else NEVER_C
    return Plastic(
        kg_per_m3=material.kg_per_m3.typical,
        w_per_m_k=_late_low(material.w_per_m_k, lateness),
        j_per_kg_k=material.j_per_kg_k.typical,
        fusion_j_per_kg=_late_high(material.fusion_j_per_kg, lateness),
        runs_c=runs_c,
        melts_over_k=FUSION_OVER_K,
        melt_pa_s=_late_high(material.melt_pa_s, lateness) if material.runs else 0.0,
        decays=kinetics(_late_high(material.decay_j_per_mol, lateness), peak_c),
        char_part=_late_high(material.char_part, lateness),
        char_burns=kinetics(_late_high(Band(*CHAR_J_PER_MOL, ""), lateness), char_peak_c),
        ash_part=_late_high(material.ash_part, lateness),
    )
