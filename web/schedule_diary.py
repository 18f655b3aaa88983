"""What people do with the library of schedules, written into the record; see web/schedules/diary.py."""

from __future__ import annotations

import time
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path

from controller.record.schedules import firing_with
from controller.record.write_schedules import schedule_noted
from web.schedules.diary import Deed


class RecordDiary:
    """Before anything was ever fired or paired there is no record: then there is nothing to note in."""

    def __init__(self, record: Path) -> None:
        self._record = record

    def noted(self, deed: Deed, fields: dict[str, str]) -> AbstractContextManager[None]:
        """Note what the block does, if it does it."""
        if not self._record.exists():
            return nullcontext()
        return schedule_noted(self._record, deed, fields, time.time())

    def in_use(self, name: str) -> int | None:
        """Return the number of a firing without an end that was started from this schedule."""
        return firing_with(self._record, name) if self._record.exists() else None
