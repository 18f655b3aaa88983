"""What the library of schedules needs of the record: who changed what, and what is in use just now.

The rooms of schedules know no record (an import contract holds that); the application hands one in.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import Literal, Protocol

Deed = Literal["schedule_saved", "schedule_renamed", "schedule_deleted"]


class Diary(Protocol):
    """Raises RecordError where the record cannot be read or written; then nothing is done."""

    def noted(self, deed: Deed, fields: dict[str, str]) -> AbstractContextManager[None]:
        """Note what the block does, if it does it."""

    def in_use(self, name: str) -> int | None:
        """Return the number of a firing without an end that was started from this schedule."""
