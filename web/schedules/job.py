"""The job sheet as a form: each of its fields with its units, and what is taken where nothing is told.

The fields, their forms and their limits are the job file's own (`controller.forecast.job_file`), and so are
the defaults (`controller.forecast.known`); here they only get words.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from controller.forecast import known
from controller.forecast.job_file import KEYS, TITLE, read_job
from controller.physics import silica
from controller.physics.band import Band
from controller.physics.material import MATERIALS
from controller.physics.metal import LOSS_PART, MELT_S, METALS, SPRUE_PART
from controller.physics.mould import MOULDS
from controller.schedule.keys import Key
from controller.schedule.located import FileProblems

MASSES, LENGTHS, DEGREES = ("g", "kg", "oz", "lb"), ("mm", "cm", "in"), ("C", "F")


class Asked(NamedTuple):
    """How a field is asked for: its words, what is taken without it, its units or choices, how rare it is."""

    words: str
    without: str
    units: tuple[str, ...] = ()
    choices: tuple[str, ...] = ()
    rare: bool = False


def _about(band: Band, unit: str, factor: float = 1.0) -> str:
    low, typical, high = (f"{factor * value:.4g}" for value in band[:3])
    return f"about {typical} {unit} ({low} to {high})"


_METAL = METALS[known.DEFAULT_METAL]

ASKED: dict[str, Asked] = {
    "material": Asked("Material", known.DEFAULT_MATERIAL, choices=tuple(MATERIALS)),
    "pattern_kg": Asked("Mass, as printed", _about(known.PATTERN_KG, "g", 1000.0), MASSES),
    "fill": Asked("How full it is inside", _about(known.FILL, "%", 100.0), ("%",)),
    "skin_m": Asked("Its outer walls", _about(known.SKIN_M, "mm", 1000.0), LENGTHS, rare=True),
    "thickest_m": Asked("Its thickest part", _about(known.THICKEST_M, "mm", 1000.0), LENGTHS, rare=True),
    "height_m": Asked("Top to drain", _about(known.HEIGHT_M, "mm", 1000.0), LENGTHS, rare=True),
    "drained_kg": Asked("Plastic that ran out", "worked out", MASSES, rare=True),
    "coats": Asked("Coats", f"about {known.COATS.typical:g}"),
    "thickness_m": Asked("Wall, measured", f"{silica.COAT_M.typical * 1000:g} mm for each coat", LENGTHS),
    "dry_kg": Asked("Mass, dry", "worked out from the pattern", ("kg", "g", "lb", "oz")),
    "wet_kg": Asked(
        "Mass, with its water",
        f"water {_about(known.SHELL_WATER_PART, '%', 100.0)} of the dry mass",
        ("kg", "g", "lb", "oz"),
    ),
    "mould": Asked("Mould", known.DEFAULT_MOULD, choices=tuple(MOULDS)),
    "reheated": Asked("Fired before, and empty", "no", rare=True),
    "metal": Asked("Metal", known.DEFAULT_METAL, choices=tuple(METALS)),
    "metal_kg": Asked("Mass to melt", "worked out from the pattern", ("kg", "g", "lb", "oz")),
    "pour_c": Asked(
        "Temperature at the pour", f"{_about(_METAL.pour_c, 'C')} for {known.DEFAULT_METAL}", DEGREES
    ),
    "melt_s": Asked("Melting time", _about(MELT_S, "min", 1 / 60), ("min", "h")),
    "sprue_part": Asked("Sprue, over the piece", _about(SPRUE_PART, "%", 100.0), ("%",), rare=True),
    "loss_part": Asked("Lost in melting", _about(LOSS_PART, "%", 100.0), ("%",), rare=True),
}
"""By the field of the job sheet; a test holds it to the job file's own table."""


def form() -> list[dict[str, Any]]:
    """Return the sheet's tables in order, each with its fields."""
    title = _field("title", TITLE, Asked("What it is", ""))
    tables = [
        {"name": name, "fields": [_field(field, key, ASKED[field]) for field, key in table.items()]}
        for name, table in KEYS.items()
    ]
    return [{"name": "", "fields": [title]}, *tables]


def mistakes(text: str) -> list[dict[str, Any]]:
    """Return what is wrong with a job sheet's text, each with the way to its key."""
    try:
        read_job(text, "job")
    except FileProblems as error:
        return [
            {"path": list(one.path), "says": f"found {one.found}, expected {one.expected}"}
            for one in error.problems
        ]
    return []


def _field(field: str, key: Key, asked: Asked) -> dict[str, Any]:
    return {
        "name": key.name,
        "words": asked.words,
        "without": asked.without,
        "meaning": key.meaning,
        "example": key.example.strip('"'),
        "units": list(asked.units),
        "choices": list(asked.choices),
        "yes_or_no": field == "reheated",
        "whole": field == "coats",
        "rare": asked.rare,
    }
