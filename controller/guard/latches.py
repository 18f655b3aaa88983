"""Latched trips, kept on disk so that a restart does not forget them.

One small file beside the record, written whole and renamed into place, and synced before the guard goes
on. A file that is there but cannot be read is itself a trip: what is unknown is not safe.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import NamedTuple


class Latch(NamedTuple):
    """A trip that stands until a person clears it: its row, what was found, when, whether it was first."""

    row_id: str
    found: str
    utc_s: float
    first_out: bool


UNREADABLE = "latches_unreadable"


class LatchFile:
    """The latched trips on disk. `load` never raises; `save` raises OSError."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def load(self) -> tuple[Latch, ...]:
        """Return what is latched; an unreadable file counts as one latch of its own."""
        try:
            text = self._path.read_text(encoding="utf-8")
        except FileNotFoundError:
            return ()
        except (OSError, UnicodeDecodeError) as error:
            return (Latch(UNREADABLE, f"{self._path.name}: {error}", 0.0, True),)
        try:
            rows = json.loads(text)
            if not isinstance(rows, list):
                raise TypeError
            return tuple(
                Latch(str(row["row_id"]), str(row["found"]), float(row["utc_s"]), bool(row["first_out"]))
                for row in rows
            )
        except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
            return (Latch(UNREADABLE, f"{self._path.name} is damaged", 0.0, True),)

    def save(self, latches: tuple[Latch, ...]) -> None:
        """Replace the file. When this returns, the latches are on the disk."""
        new = self._path.with_suffix(".new")
        with new.open("w", encoding="utf-8") as file:
            json.dump([latch._asdict() for latch in latches], file)
            file.flush()
            os.fsync(file.fileno())
        new.replace(self._path)
        folder = os.open(self._path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
