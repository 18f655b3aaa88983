"""The schedule that a firing carries with it, read again."""

from __future__ import annotations

from controller.errors import StokeholdError
from controller.record.rows import Firing
from controller.schedule.model import Schedule
from controller.schedule.reader import read_schedule


def schedule_of(firing: Firing) -> Schedule | None:
    """Return the firing's own schedule; None when its text says nothing to this version of the program."""
    try:
        return read_schedule(firing.start.schedule_text, firing.start.schedule_name)
    except StokeholdError:
        return None
