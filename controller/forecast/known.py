"""What is known of a job: what its sheet tells, and stated defaults, as bands, where it tells nothing.

Every default is a band of its own, so that each gap in the sheet widens what is worked out from it.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.forecast.job import JobSheet
from controller.physics import gypsum, silica
from controller.physics.band import Band, about, exactly, times
from controller.physics.material import MATERIALS, Material
from controller.physics.metal import LOSS_PART, MELT_S, METALS, SPRUE_PART, Metal, metal_kg

TOLD = "job sheet"
PRACTICE = "common practice, no source"

DEFAULT_MATERIAL = "PLA"
DEFAULT_MOULD = "silica shell"
DEFAULT_METAL = "silicon bronze"
PATTERN_KG = Band(0.15, 0.4, 1.0, "a piece that one person casts; chosen")
FILL = Band(0.15, 0.3, 0.6, "prints with a few walls and sparse infill; " + PRACTICE)
SKIN_M = Band(0.8e-3, 1.2e-3, 1.6e-3, "two to four lines of 0.4 mm; " + PRACTICE)
THICKEST_M = Band(0.015, 0.03, 0.06, "chosen")
HEIGHT_M = Band(0.08, 0.15, 0.30, "chosen")
COATS = Band(7.0, 9.0, 11.0, "nine coats; " + PRACTICE)
SHAPE = Band(
    6.0, 10.0, 16.0, "wall over volume to 2/3: a ball 4.8, a cube 6, a thin branched piece 16; chosen"
)
SHELL_WATER_PART = Band(0.01, 0.04, 0.10, "water over the dry mass of a shell dry to the touch; chosen")
POCKET_PART = Band(0.02, 0.08, 0.25, "plastic that has no way down to the drain; chosen")

UNEVEN_PART = 0.10
"""A measured wall is uneven by so much; a mass is weighed on a kitchen scale, to `SCALE_PART`. Chosen."""
SCALE_PART = 0.02
SCALE_KG = 0.01
"""What two weighings on one scale differ by beside that: its last digits, and how it is loaded. Chosen."""


@dataclass(frozen=True, slots=True)
class Known:
    """A job with no gaps: each value told, or a stated default."""

    material: Material
    mould: str
    reheated: bool
    metal: Metal
    thickness_m: Band
    kg_per_m3: Band
    """Of the dry wall."""
    dry_kg: Band | None
    """The shell, weighed; None: the wall's area comes from the pattern's volume and `shape`."""
    shape: Band
    water_kg: Band | None
    """Weighed; None: `water_part` of the dry mass."""
    water_part: Band
    print_kg: Band
    """The pattern, as it was printed."""
    plastic_kg: Band
    """What of it is in the shell: 0 in a shell that is reheated empty."""
    fill: Band
    skin_m: Band
    thickest_m: Band
    height_m: Band
    pocket_part: Band
    metal_kg: Band
    """All that is to be melted, sprue and loss included."""
    pour_c: Band
    melt_s: Band
    told: tuple[str, ...]
    """The fields of the sheet that were told, for the page that says what an estimate rests on."""


def known(sheet: JobSheet) -> Known:
    """Return a job without gaps."""
    material = MATERIALS[sheet.material or DEFAULT_MATERIAL]
    mould = sheet.mould or DEFAULT_MOULD
    metal = METALS[sheet.metal or DEFAULT_METAL]
    plastic_kg = weighed_or(sheet.pattern_kg, PATTERN_KG)
    fill = FILL if sheet.fill is None else exactly(sheet.fill, TOLD)
    return Known(
        material=material,
        mould=mould,
        reheated=sheet.reheated,
        metal=metal,
        thickness_m=wall_m(sheet, mould),
        kg_per_m3=shell_kg_per_m3(mould),
        dry_kg=None if sheet.dry_kg is None else weighed_or(sheet.dry_kg, PATTERN_KG),
        shape=SHAPE,
        water_kg=water_kg(sheet),
        water_part=water_part(sheet.reheated, mould),
        print_kg=plastic_kg,
        plastic_kg=exactly(0.0, "reheated empty") if sheet.reheated else plastic_kg,
        fill=fill,
        skin_m=SKIN_M if sheet.skin_m is None else about(sheet.skin_m, UNEVEN_PART, TOLD, weak=False),
        thickest_m=_told_or(sheet.thickest_m, THICKEST_M),
        height_m=_told_or(sheet.height_m, HEIGHT_M),
        pocket_part=POCKET_PART if material.runs else exactly(1.0, "a network does not run"),
        metal_kg=melt_kg(sheet, plastic_kg, fill, material, metal),
        pour_c=metal.pour_c if sheet.pour_c is None else exactly(sheet.pour_c, TOLD),
        melt_s=MELT_S if sheet.melt_s is None else about(sheet.melt_s, UNEVEN_PART, TOLD, weak=False),
        told=tuple(
            name for name in JobSheet.__slots__ if name not in ("text", "file") and _is_told(sheet, name)
        ),
    )


def weighed_or(told_kg: float | None, default: Band) -> Band:
    """Return a mass that was weighed, or the default."""
    return default if told_kg is None else about(told_kg, SCALE_PART, TOLD, weak=False)


def wall_m(sheet: JobSheet, mould: str) -> Band:
    """Return the wall's thickness: measured, or from the coats, or by default."""
    if sheet.thickness_m is not None:
        return about(sheet.thickness_m, UNEVEN_PART, TOLD, weak=False)
    if sheet.coats is not None:
        return silica.COAT_M.scaled(float(sheet.coats))
    return gypsum.THICKNESS_M if mould == "gypsum-bonded" else times(COATS, silica.COAT_M, "coats of 1 mm")


def shell_kg_per_m3(mould: str) -> Band:
    """Return the density of a dry wall."""
    if mould == "gypsum-bonded":
        return gypsum.KG_PER_M3
    loose, typical, dense = (silica.shell_kg_per_m3(silica.POROSITY.at(level)) for level in (2, 1, 0))
    return Band(loose, typical, dense, "vitreous silica and the shell's pores", weak=False)


def water_kg(sheet: JobSheet) -> Band | None:
    """Return the water in the wall, weighed wet less dry; None if either is not told."""
    if sheet.wet_kg is None or sheet.dry_kg is None:
        return None
    water = sheet.wet_kg - sheet.dry_kg
    scale_kg = min(SCALE_PART * water + SCALE_KG, 0.5 * water)  # two weighings on one scale err alike
    return Band(water - scale_kg, water, water + scale_kg, "wet less dry", weak=False)


def water_part(reheated: bool, mould: str) -> Band:
    """Return the water over the dry mass where it was not weighed."""
    part = gypsum.WATER_PART if mould == "gypsum-bonded" else SHELL_WATER_PART
    return Band(0.0, part.low, part.typical, "a fired shell, patched; chosen") if reheated else part


def melt_kg(sheet: JobSheet, plastic_kg: Band, fill: Band, material: Material, metal: Metal) -> Band:
    """Return the metal to melt: told, else from the pattern's mass and the two densities."""
    if sheet.metal_kg is not None:
        return weighed_or(sheet.metal_kg, PATTERN_KG)
    sprue = SPRUE_PART if sheet.sprue_part is None else exactly(sheet.sprue_part, TOLD)
    loss = LOSS_PART if sheet.loss_part is None else exactly(sheet.loss_part, TOLD)
    low, typical, high = (
        metal_kg(
            plastic_kg.at(level),
            fill.at(2 - level),
            material.kg_per_m3.at(2 - level),
            metal.kg_per_m3.at(level),
            sprue.at(level),
            loss.at(level),
        )
        for level in range(3)
    )
    weak = sheet.pattern_kg is None or sheet.fill is None
    return Band(low, typical, high, "pattern's mass, fill and the two densities", weak)


def _told_or(told: float | None, default: Band) -> Band:
    return default if told is None else about(told, UNEVEN_PART, TOLD, weak=False)


def _is_told(sheet: JobSheet, name: str) -> bool:
    value = getattr(sheet, name)
    return value is not None and value is not False and value != ""
