"""Which kiln an estimate is for: the one whose file the page was started with, else the last one fired."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from controller.errors import StokeholdError, UsageError
from controller.forecast.kiln_told import KilnTold, kiln_told
from controller.record.queries import Record

SIMULATED = Path(__file__).parents[2] / "controller" / "simulator" / "demo_kiln.toml"


class Kiln(NamedTuple):
    """What a kiln's file tells, and which kiln it is."""

    told: KilnTold
    says: str


def kiln_here(file: str | None, record: Path) -> Kiln:
    """Return the kiln to forecast for. Raises UsageError where the file that was named cannot be read."""
    if file is not None:
        told = _told(Path(file))
        return Kiln(told, told.name)
    last = _last_fired(record)
    if last is not None:
        return Kiln(last, f"{last.name}, as it was when it was last fired")
    told = _told(SIMULATED)
    return Kiln(told, f"{told.name}: no kiln's file was named, and none was fired yet")


def _told(path: Path) -> KilnTold:
    try:
        return kiln_told(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: the kiln's file cannot be read: {error}") from error


def _last_fired(record: Path) -> KilnTold | None:
    if not record.exists():
        return None
    try:
        past = Record(record)
        return kiln_told(past.firing(past.number("last")).start.kiln_text)
    except StokeholdError:  # no firing yet, or a file that tells too little
        return None
