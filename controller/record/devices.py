"""Reads the paired devices. Plain rows from SQLite: the page looks here at every request from afar."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from controller.record.opening import connect, one_clear_line

# A request waits for the answer; the record in WAL is never locked against a reader.
PATIENCE_S = 1.0
COLUMNS = "SELECT id, name, role, token_hash, paired_utc_s, seen_utc_s, revoked_utc_s FROM device ORDER BY id"
HAS_TABLE = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'device'"


@dataclass(frozen=True, slots=True)
class Device:
    """A paired device. `role`: "watcher" or "operator". Times: seconds since 1970 UTC, or None."""

    number: int
    name: str
    role: str
    token_hash: str
    paired_utc_s: float
    seen_utc_s: float | None
    revoked_utc_s: float | None

    @property
    def paired(self) -> bool:
        """Whether its token still counts."""
        return self.revoked_utc_s is None


def devices(record: Path) -> list[Device]:
    """Return every device that was ever paired, oldest first. Raises RecordError: it cannot be read.

    A record that is not there yet, or from before devices were kept, has none.
    """
    if not record.exists():
        return []
    with one_clear_line(record), closing(connect(record, "ro", PATIENCE_S)) as connection:
        if connection.execute(HAS_TABLE).fetchone() is None:
            return []
        return [Device(*row) for row in connection.execute(COLUMNS)]
