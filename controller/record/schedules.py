"""The schedule that a firing carries with it, read again; and whether one of that name is in use."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from controller.errors import StokeholdError
from controller.record.opening import PATIENCE_S, connect, one_clear_line
from controller.record.rows import Firing
from controller.schedule.model import Schedule
from controller.schedule.reader import read_schedule


def schedule_of(firing: Firing) -> Schedule | None:
    """Return the firing's own schedule; None when its text says nothing to this version of the program."""
    try:
        return read_schedule(firing.start.schedule_text, firing.start.schedule_name)
    except StokeholdError:
        return None


def firing_with(record: Path, name: str) -> int | None:
    """Return the number of a firing without an end that was started from a schedule of this name.

    Raises RecordError.
    """
    with one_clear_line(record), closing(connect(record, "ro", PATIENCE_S)) as connection:
        rows = connection.execute("SELECT id, schedule_name FROM firing WHERE ended_utc_s IS NULL").fetchall()
    return next((number for number, file in rows if Path(file).stem == name), None)
