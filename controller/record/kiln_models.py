"""The kiln's models in the record: what was learnt from each firing, kept and read.

Written beside the journal through a short connection of its own, by the process that learns. Rows are only
ever added: every fit stays, with the firing that it was fitted on, and the refused ones with the reason.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from controller.record.opening import PATIENCE_S, connect, one_clear_line, open_to_write
from controller.record.queries import Record

WAIT_S = 4.0  # for the journal's own transaction, which takes milliseconds

INSERT = "INSERT INTO kiln_model (firing, utc_s, refused, text) VALUES (?, ?, ?, ?)"
ALL = "SELECT id, firing, utc_s, refused, text FROM kiln_model ORDER BY id"
# The newest firing, if it has ended and nothing has been learnt from it yet.
DUE = """SELECT id FROM firing WHERE id = (SELECT max(id) FROM firing) AND end_state IS NOT NULL
         AND id NOT IN (SELECT firing FROM kiln_model)"""


class ModelSeen(NamedTuple):
    """One fit. `refused`: why it is not used; empty: it is. `text`: JSON; empty where nothing came out."""

    id: int
    firing: int
    utc_s: float
    refused: str
    text: str


def write_model(path: Path, firing: int, utc_s: float, refused: str, text: str) -> None:
    """Keep one fit. Raises RecordError: no such record or firing, locked for too long, full."""
    Record(path).firing(firing)  # says in one line when the file or the firing is missing
    engine = open_to_write(path, wait_s=WAIT_S)
    try:
        with one_clear_line(path), engine.begin() as connection:
            connection.exec_driver_sql(INSERT, (firing, utc_s, refused, text))
    finally:
        engine.dispose()


def kiln_models(path: Path) -> list[ModelSeen]:
    """Return every fit, oldest first. Raises RecordError."""
    with one_clear_line(path), closing(connect(path, "ro", PATIENCE_S)) as connection:
        return [ModelSeen(*row) for row in connection.execute(ALL)]


def due(path: Path) -> int | None:
    """Return the firing that is to be learnt from: the newest, once it has ended. Raises RecordError."""
    with one_clear_line(path), closing(connect(path, "ro", PATIENCE_S)) as connection:
        found = connection.execute(DUE).fetchone()
    return int(found[0]) if found else None
