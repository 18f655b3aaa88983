"""The shell as a load of the kiln: two halves of a wall, and the water that has to leave it.

Much coarser than `physics.shell`, and quick enough to be run ahead many times: the outer half meets the
chamber, the inner half holds the water and the plastic. The water's flow is that of `physics.water`: a
front that recedes, with the vapour's way growing behind it.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import Known
from controller.forecast.makes import TYPICAL, Variant, variants
from controller.physics.band import Band, exactly
from controller.physics.constants import PLASTIC_J_PER_KG_K
from controller.physics.curve import Curve, at
from controller.physics.grey import TYPICAL as TYPICAL_KILN
from controller.physics.grey import GreyKiln
from controller.physics.steam import latent_j_per_kg
from controller.physics.water import film_m, flow_kg_per_m_s

J_PER_KG_K = 900.0
"""Shell between 100 and 800 C: the handbook's brick has 800 to 963 (VDI Heat Atlas)."""

UNWEIGHED = (0.5, 2.0)
"""A shell that nobody weighed: half to twice what its pattern lets one expect. Chosen."""

AS_LAST_TIME = (0.8, 1.25)
"""A shell that nobody weighed, in a kiln whose last load is known: taken as like the last. Chosen, weak."""

AIR_W_PER_M2_K, EXCHANGE_M2_PER_M2 = 8.0, 0.6
"""Convection to a shell, and radiation with view and both emissivities in it; from memory, weak."""

FURNITURE_J_PER_K = 4000.0
"""A shelf and its posts in a kiln of typical size, J/K; grows with the kiln's power. From memory."""

EXCHANGE, EXCHANGE_LEARNT = (0.625, 2.0), (0.965, 1.035)
"""Doubt of how fast heat gets to the shell, as factors: of a kiln whose load nobody weighed when it was
learnt, or of which nothing was, and of one whose last load was weighed and told its water as well. Chosen
so that on drawn kilns the band holds nine of ten.
"""

DRYING, DRYING_LEARNT = (0.625, 1.6), (0.95, 1.05)
"""Doubt of how fast water leaves the wall, as factors. The permeability spans tenfolds; the heat that gets
to the shell rules most of the time. Chosen, the second on drawn kilns.
"""

WALL_LEARNT = 1.07
"""Doubt of a wall's area over the last one's. It comes from the mass and the thickness, and each of the two
walls was measured with a calliper to some 5 %. What is thinner by that lets more through as well. Chosen.
"""

DRIES_AS_AREA = (0.0, 0.5, 1.0)
"""With which power of its wall's area a shell dries, against the shell that was learnt from. Vapour leaves
the wall by all of its face, and the chamber by what air passes, however large the shell is: which of the two
hinders more is not known. Chosen, the middle between them. (The simulated shell has a power of 0.)
"""

COLDEST_C, HOTTEST_C, STEP_K = 0.0, 240.0, 4.0


class Load(NamedTuple):
    """What is in the kiln. In a fitted kiln the furniture counts to the outer half, else to the chamber."""

    outer_j_per_k: float
    core_j_per_k: float
    plastic_j_per_k: float
    """Of the pattern, until it has run or gone (`PATTERN_GONE_C`)."""
    through_w_per_k: float
    """From the outer to the inner half."""
    water_kg: float
    drying_w_per_m: Curve
    """Heat that evaporation takes for the whole wall, times the vapour's way, against temperature."""
    thickness_m: float
    film_m: float
    sees: float
    """The shell meets the chamber, and so much of what the elements are above it: it sees them, and the air
    comes from them."""
    reads: float
    room_c: float
    """The load thermocouple shows so many times what the outer half is above the room (`reading_c`)."""


class Loaded(NamedTuple):
    """A kiln with its load, and the ways in which they may be wrong: pairs at the 5 % and the 95 %."""

    kiln: GreyKiln
    load: Load
    ways: tuple[tuple[tuple[GreyKiln, Load], tuple[GreyKiln, Load]], ...]


def loaded(job: Known, known: KilnKnown) -> Loaded:
    """Return a kiln with a job's shell in it."""
    variant = variants(job)[TYPICAL]
    mass, water = dry_kg(job, known, variant), water_kg(job, known, variant)
    area_m2 = mass.typical / (variant.make.wall.thickness_m * job.kg_per_m3.typical)
    drying = _drying(variant, known.dries)
    (slow, fast), (damp, airy) = doubts(known)

    def both(
        kg: float, wet_kg: float, faster: float = 1.0, dries: float = 1.0, wider: float = 1.0, level: int = 1
    ) -> tuple[GreyKiln, Load]:
        m2 = area_m2 * kg / mass.typical * wider
        load = _load(job, known, variant, kg, wet_kg, drying.scaled(dries * dries_m2(m2, known, level)))
        load = load._replace(through_w_per_k=load.through_w_per_k * wider * wider)
        return _around(known.kiln, known, m2, faster), load

    def beside(of: GreyKiln) -> tuple[GreyKiln, Load]:
        return _around(of, known, area_m2), load

    kg, wet_kg = mass.typical, water.typical
    kiln, load = both(kg, wet_kg)
    ways = [
        (both(mass.low, wet_kg), both(mass.high, wet_kg)),
        (both(kg, water.low), both(kg, water.high)),
        (both(kg, wet_kg, faster=slow), both(kg, wet_kg, faster=fast)),
        (both(kg, wet_kg, dries=damp), both(kg, wet_kg, dries=airy)),
    ]
    if known.water_known:
        thick, thin = wall_doubts(job)
        ways.append((both(kg, wet_kg, wider=thick), both(kg, wet_kg, wider=thin)))
        ways.append((both(kg, wet_kg, level=0), both(kg, wet_kg, level=2)))
    ways += [(beside(one), beside(other)) for one, other in known.ways]
    return Loaded(kiln, load, tuple(ways))


def reading_c(load: Load, c: float) -> float:
    """Return what the load thermocouple shows when the shell's outer half is at `c`."""
    return load.room_c + load.reads * (c - load.room_c)


def shown_by(load: Load, reading: float) -> float:
    """Return how hot the shell's outer half is when its thermocouple shows `reading` (C)."""
    return load.room_c + (reading - load.room_c) / load.reads


def remembered(known: KilnKnown, job: Known) -> KilnKnown:
    """Return a fitted kiln that knows which shell was in it when it was fitted; as it was, if not weighed."""
    if job.dry_kg is None:
        return known
    kg = job.dry_kg.typical
    return known._replace(load_dry_kg=kg, load_m2=kg / (wall_m(job) * job.kg_per_m3.typical))


def wall_m(job: Known) -> float:
    """Return the typical thickness of the wall."""
    return job.thickness_m.typical


def doubts(known: KilnKnown) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the doubts of the heat's way to the shell and of the water's way out, as factors."""
    if known.water_known:
        return EXCHANGE_LEARNT, DRYING_LEARNT
    return EXCHANGE, DRYING


def wall_doubts(job: Known) -> tuple[float, float]:
    """Return the doubts of a wall's area, as factors, by its thickness."""
    if "thickness_m" in job.told:
        return 1.0 / WALL_LEARNT, WALL_LEARNT
    wall_m = job.thickness_m
    return wall_m.typical / wall_m.high, wall_m.typical / wall_m.low


def dries_m2(area_m2: float, known: KilnKnown, level: int = 1) -> float:
    """Return the area by which a wall dries; `level`: of `DRIES_AS_AREA`."""
    learnt_m2 = area_m2 if known.load_m2 is None else known.load_m2
    return learnt_m2 * math.pow(area_m2 / learnt_m2, DRIES_AS_AREA[level])


def dry_kg(job: Known, known: KilnKnown, typical: Variant) -> Band:
    """Return the shell's dry mass: weighed, as last time, or as its pattern lets one expect."""
    if job.dry_kg is not None:
        return job.dry_kg
    if known.load_dry_kg is not None:
        kg, limits = known.load_dry_kg, AS_LAST_TIME
    else:
        kg, limits = typical.area_m2 * typical.make.wall.thickness_m * job.kg_per_m3.typical, UNWEIGHED
    return Band(kg * limits[0], kg, kg * limits[1], "not weighed")


def water_kg(job: Known, known: KilnKnown, typical: Variant) -> Band:
    """Return the water in the shell."""
    if job.mould in ("kiln lining", "none"):
        return exactly(0.0, "no shell")
    return job.water_kg or job.water_part.scaled(dry_kg(job, known, typical).typical)


def _around(kiln: GreyKiln, known: KilnKnown, area_m2: float, faster: float = 1.0) -> GreyKiln:
    """Return the kiln with what it passes to a shell of this area, `faster` or slower."""
    if known.load_known:
        size = faster * area_m2 / (area_m2 if known.load_m2 is None else known.load_m2)
        return kiln._replace(load_w_per_k=kiln.load_w_per_k * size, load_m2=kiln.load_m2 * size)
    return kiln._replace(
        chamber_j_per_k=kiln.chamber_j_per_k + furniture_j_per_k(kiln),
        load_w_per_k=AIR_W_PER_M2_K * area_m2 * faster,
        load_m2=EXCHANGE_M2_PER_M2 * area_m2 * faster,
    )


def furniture_j_per_k(kiln: GreyKiln) -> float:
    """Return what a shelf and its posts hold in a kiln of this power."""
    return FURNITURE_J_PER_K * kiln.power_w / TYPICAL_KILN.power_w


def _load(
    job: Known, known: KilnKnown, variant: Variant, kg: float, wet_kg: float, drying_w_per_m: Curve
) -> Load:
    wall = variant.make.wall
    outer_j_per_k = half_j_per_k = 0.5 * kg * J_PER_KG_K
    if known.load_known:
        was_kg = kg if known.load_dry_kg is None else known.load_dry_kg
        all_j_per_k = known.kiln.load_j_per_k + (kg - was_kg) * J_PER_KG_K
        outer_j_per_k = max(half_j_per_k, all_j_per_k - half_j_per_k)
    through = known.through * 2.0 * at(wall.conductivity_w_per_m_k, 100.0) / wall.thickness_m
    return Load(
        outer_j_per_k=outer_j_per_k,
        core_j_per_k=half_j_per_k,
        plastic_j_per_k=job.plastic_kg.typical * PLASTIC_J_PER_KG_K,
        through_w_per_k=through * kg / (wall.thickness_m * job.kg_per_m3.typical),
        water_kg=wet_kg,
        drying_w_per_m=drying_w_per_m,
        thickness_m=wall.thickness_m,
        film_m=known.film * film_m(variant.make.pores),
        sees=known.sees,
        reads=known.reads,
        room_c=known.kiln.room_c,
    )


def _drying(variant: Variant, dries: float) -> Curve:
    """Return the curve of a wall of 1 m2."""
    count = round((HOTTEST_C - COLDEST_C) / STEP_K)
    cs = [COLDEST_C + STEP_K * place for place in range(count + 1)]
    values = [dries * latent_j_per_kg(c) * flow_kg_per_m_s(c, variant.make.pores) for c in cs]
    return Curve(COLDEST_C, STEP_K, tuple(values))
