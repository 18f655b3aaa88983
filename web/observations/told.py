"""What people saw of a firing, as plain JSON: a checkpoint's list, and everything for the firing's page."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from controller.record.observed import observations, photos
from controller.record.queries import Record
from controller.record.rows import PhotoSeen
from controller.record.schedules import schedule_of
from controller.review.observed import Observed, Ticked, gather
from controller.schedule.checklist import to_tick
from controller.schedule.model import Checkpoint, Schedule

LINING = "kiln lining"  # a mould that no plastic runs out of


def lines_of(record: Path, firing: int, stage: int) -> tuple[str, ...] | None:
    """Return the lines to tick off at a firing's stage; None: it is no checkpoint. Raises RecordError."""
    schedule = schedule_of(Record(record).firing(firing))
    found = _stage(schedule, stage)
    return to_tick(found) if found else None


def checkpoint(record: Path, firing: int, stage: int) -> dict[str, Any] | None:
    """Return a checkpoint's list as it stands now; None: the stage is none. Raises RecordError."""
    schedule = schedule_of(Record(record).firing(firing))
    found = _stage(schedule, stage)
    if schedule is None or found is None:
        return None
    seen = gather(observations(record, firing))
    ticked = seen.ticked.get(stage, {})
    drained = seen.drained.get(stage)
    return {
        "firing": firing,
        "stage": stage,
        "ticks": [_tick(line, ticked.get(line)) for line in to_tick(found)],
        "cracks": _cracks(seen, stage),
        "drains": schedule.mould != LINING,
        "drained": drained and drained._asdict(),
    }


def everything(record: Path, firing: int, schedule: Schedule | None) -> dict[str, Any]:
    """Return all that people saw in a firing, stage by stage. Raises RecordError."""
    seen = gather(observations(record, firing))
    stages = schedule.stages if schedule else ()
    at = {*seen.ticked, *seen.drained, *(crack.stage for crack in seen.cracks)}
    numbers = sorted(stage for stage in at if stage is not None)
    return {
        "rating": seen.rating and seen.rating._asdict(),
        "crack_count": seen.crack_count,
        "drained_kg": seen.drained_kg,
        "stops": [
            _stop(seen, number, stages[number].name if number < len(stages) else "") for number in numbers
        ],
        "photos": [_photo(each) for each in photos(record, firing)],
    }


def _stage(schedule: Schedule | None, stage: int) -> Checkpoint | None:
    stages = schedule.stages if schedule else ()
    found = stages[stage] if stage < len(stages) else None
    return found if isinstance(found, Checkpoint) else None


def _stop(seen: Observed, stage: int, name: str) -> dict[str, Any]:
    drained = seen.drained.get(stage)
    return {
        "stage": stage,
        "name": name or f"stage {stage + 1}",
        "ticks": [_tick(line, ticked) for line, ticked in seen.ticked.get(stage, {}).items()],
        "cracks": _cracks(seen, stage),
        "drained": drained and drained._asdict(),
    }


def _tick(line: str, ticked: Ticked | None) -> dict[str, Any]:
    return {"says": line, **(ticked._asdict() if ticked else {"done": False, "utc_s": None, "by": None})}


def _cracks(seen: Observed, stage: int) -> list[dict[str, Any]]:
    return [asdict(crack) for crack in seen.cracks if crack.stage == stage]


def _photo(photo: PhotoSeen) -> dict[str, Any]:
    return asdict(photo)
