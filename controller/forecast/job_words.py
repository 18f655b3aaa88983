"""A job sheet in one line of words, for where there is no room for the sheet."""

from __future__ import annotations

from collections.abc import Iterator

from controller.errors import StokeholdError
from controller.forecast.job import JobSheet
from controller.forecast.job_file import read_job

UNREADABLE = "kept with the firing; this version cannot read it"


def words_of(text: str) -> str:
    """Return what a sheet's text tells; that it cannot be read, where that is so."""
    try:
        sheet = read_job(text, "job sheet")
    except StokeholdError:
        return UNREADABLE
    return in_words(sheet)


def in_words(sheet: JobSheet) -> str:
    """Return what a sheet tells, the title first; what it does not tell is left out."""
    return ", ".join(_parts(sheet)) or "nothing is told"


def _parts(sheet: JobSheet) -> Iterator[str]:
    if sheet.title:
        yield sheet.title
    pattern = " of ".join(part for part in (_kg(sheet.pattern_kg), sheet.material or "") if part)
    if pattern:
        yield pattern
    if sheet.drained_kg is not None:
        yield f"{_kg(sheet.drained_kg)} drained"
    if sheet.mould:
        yield sheet.mould
    if sheet.coats is not None:
        yield f"{sheet.coats} coats"
    if sheet.thickness_m is not None:
        yield f"{sheet.thickness_m * 1000.0:g} mm"
    if sheet.dry_kg is not None:
        yield f"{_kg(sheet.dry_kg)} dry"
    if sheet.wet_kg is not None:
        yield f"{_kg(sheet.wet_kg)} wet"
    metal = " of ".join(part for part in (_kg(sheet.metal_kg), sheet.metal or "") if part)
    if metal:
        yield metal if sheet.pour_c is None else f"{metal} at {sheet.pour_c:.0f} C"


def _kg(kg: float | None) -> str:
    if kg is None:
        return ""
    return f"{kg * 1000.0:.0f} g" if kg < 1.0 else f"{kg:g} kg"
