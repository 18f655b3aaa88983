"""Writes what people saw: observations and photographs, each through a short connection of its own.

It is written beside the journal, not through it: whoever saw something may say so while no controller runs,
and half a megabyte of photograph must not stand in the queue that keeps a kiln's ticks. Rows are only ever
added; what turns out otherwise is said again, and the newer word counts.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from controller.record import tables
from controller.record.opening import one_clear_line, open_to_write
from controller.record.queries import Record
from controller.record.rows import PhotoRow

WAIT_S = 4.0  # for the journal's own transaction, which takes milliseconds


def write_observation(
    path: Path,
    firing: int,
    by: str,
    kind: str,
    fields: Mapping[str, Any],
    utc_s: float,
    stage: int | None = None,
) -> int:
    """Keep one thing that a person saw or did; return its number.

    Raises RecordError: no such record or firing, locked for longer than the patience, full.
    """
    text = json.dumps(dict(fields), ensure_ascii=False)
    row = {"firing": firing, "utc_s": utc_s, "by": by, "stage": stage, "kind": kind, "fields": text}
    return _insert(path, firing, tables.observation, row)


def write_photo(path: Path, firing: int, photo: PhotoRow) -> int:
    """Keep one photograph; return its number. Raises RecordError, as above."""
    return _insert(path, firing, tables.photo, {"firing": firing, **photo._asdict()})


def _insert(path: Path, firing: int, table: sa.Table, row: Mapping[str, Any]) -> int:
    Record(path).firing(firing)  # says in one line when the file or the firing is missing
    engine = open_to_write(path, wait_s=WAIT_S)
    try:
        with one_clear_line(path), engine.begin() as connection:
            done = connection.execute(sa.insert(table).values(**row))
            key = done.inserted_primary_key
    finally:
        engine.dispose()
    assert key is not None
    return int(key[0])
