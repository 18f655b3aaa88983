"""Writing beside the journal: a short transaction of one's own, and an event that belongs to no firing."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa

from controller.catalogue import severity
from controller.record import tables
from controller.record.opening import one_clear_line, open_to_write

WAIT_S = 4.0  # for the journal's own transaction, which takes milliseconds


@contextmanager
def writing(record: Path) -> Iterator[sa.Connection]:
    """Open a transaction: kept when the block ends, undone when it raises. Raises RecordError."""
    engine = open_to_write(record, wait_s=WAIT_S)
    try:
        with one_clear_line(record), engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


def write_event(connection: sa.Connection, kind: str, fields: Mapping[str, object], utc_s: float) -> None:
    """Keep an event of the catalogue."""
    row = {
        "utc_s": utc_s,
        "mono_s": time.monotonic(),
        "kind": kind,
        "fields": json.dumps(dict(fields), ensure_ascii=False),
        "severity": severity(kind),
    }
    connection.execute(sa.insert(tables.event).values(row))
