"""The only writer of the record.

House rules: nothing here makes the caller wait for the disk, and nothing here raises because of the disk.
Rows go into a bounded backlog; ONE thread writes it, everything that waits in one transaction, twice a
second of the wall clock, so that a crash takes at most half a second of ticks and the time of one commit.
When the disk is full, the database locked or the card gone, the rows wait, the thread tries again ever
more slowly, and `healthy` says what is wrong. A transaction is written whole or not at all: nothing is
written twice, nothing out of order.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from threading import Event, Thread
from types import TracebackType
from typing import Any, Self

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite

from controller.record import tables
from controller.record.backlog import KINDS, Backlog, Batch
from controller.record.opening import one_clear_line, open_to_write, plain
from controller.record.queries import Record
from controller.record.rows import FiringRow, TickRow, Unfinished

LONGEST_PAUSE_S = 4.0  # between two tries: soon enough after a full disk was cleared, rare enough to be cheap
SLOW_AFTER_S = 5.0  # a disk that has not finished a commit in this time is told of

# A row that the database will never take (a fault in our own code), as against a disk that cannot now.
ROW_FAULTS = (
    sa.exc.IntegrityError,
    sa.exc.InterfaceError,
    sa.exc.ProgrammingError,
    sa.exc.DataError,
    ValueError,
    TypeError,
    OverflowError,
)


def _insert(table: sa.Table, *columns: str) -> str:
    return str(sa.insert(table).compile(dialect=sqlite.dialect(), column_keys=list(columns)))


SQL = {
    "begin": _insert(tables.firing, "id", *FiringRow._fields),
    "leg": _insert(tables.leg, "firing", "n", "boot", "speed", "carried"),
    "job": _insert(tables.job, "firing", "utc_s", "by", "text"),
    "tick": _insert(tables.tick, "firing", *TickRow._fields),
    "event": _insert(tables.event, "firing", "utc_s", "mono_s", "kind", "fields", "severity"),
    "request": _insert(
        tables.request, "firing", "utc_s", "mono_s", "by", "kind", "args", "accepted", "says", "n"
    ),
    "note": _insert(tables.note, "firing", "utc_s", "by", "text"),
    "end": "UPDATE firing SET ended_utc_s = ?, ended_mono_s = ?, end_state = ? WHERE id = ?",
}


class Journal:
    """Keeps everything that happens. `start` opens the file and may raise RecordError; nothing else does.

    `capacity`: rows kept in memory while they cannot be written; 200 000 is two days of one-second ticks.
    `flush_every_s`: the wall-clock time between two commits.
    """

    def __init__(self, path: Path, *, capacity: int = 200_000, flush_every_s: float = 0.5) -> None:
        self.path = path
        self._flush_every_s = flush_every_s
        self._backlog = Backlog(capacity)
        self._closing = Event()
        self._trouble: str | None = None
        self._last_good_s = time.monotonic()
        self._thread = Thread(target=self._write_on, name="journal", daemon=True)
        self._next_firing = 1
        self._engine: sa.Engine | None = None
        self._file: tuple[int, int] | None = None

    def start(self) -> Self:
        """Open, make or bring up to date the database, and start the one writing thread."""
        self._engine = open_to_write(self.path)
        self._file = _identity(self.path)
        with one_clear_line(self.path), self._engine.begin() as connection:
            self._next_firing = 1 + (connection.scalar(sa.select(sa.func.max(tables.firing.c.id))) or 0)
        self._last_good_s = time.monotonic()
        self._thread.start()
        return self

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def open_firing(self, row: FiringRow) -> int:
        """Keep a firing's beginning; return its number."""
        number, self._next_firing = self._next_firing, self._next_firing + 1
        self._backlog.put("begin", (number, *row))
        return number

    def open_leg(self, firing: int, n: int, boot: str, speed: float, carried: str) -> None:
        """Keep the beginning of a stretch of a firing in one run of the controller, at tick `n`."""
        self._backlog.put("leg", (firing, n, boot, speed, carried))

    def job(self, firing: int, by: str, text: str, utc_s: float) -> None:
        """Keep the job sheet that came with a firing's start; later ones: `jobs.write_job`."""
        self._backlog.put("job", (firing, utc_s, by, text))

    def together(self) -> AbstractContextManager[object]:
        """What is kept meanwhile is on the disk whole or not at all: a tick and what happened in it."""
        return self._backlog.together()

    def tick(self, firing: int, row: TickRow) -> None:
        """Keep one tick. `row.n` must rise within the firing, also after a restart of the controller."""
        self._backlog.put("tick", (firing, *row))

    def event(
        self,
        firing: int | None,
        kind: str,
        fields: Mapping[str, Any],
        severity: str,
        utc_s: float,
        mono_s: float,
    ) -> None:
        """Keep one event of the catalogue."""
        self._backlog.put("event", (firing, utc_s, mono_s, kind, _json(fields), severity))

    def request(
        self,
        firing: int | None,
        by: str,
        kind: str,
        args: Mapping[str, Any],
        accepted: bool,
        says: str,
        utc_s: float,
        mono_s: float,
        n: int | None = None,
    ) -> None:
        """Keep one request and its answer, without the code that proves presence. `n`: its tick."""
        kept = {name: value for name, value in args.items() if name != "presence"}
        self._backlog.put("request", (firing, utc_s, mono_s, by, kind, _json(kept), accepted, says, n))

    def note(self, firing: int, by: str, text: str, utc_s: float) -> None:
        """Keep what a person wrote."""
        self._backlog.put("note", (firing, utc_s, by, text))

    def close_firing(self, firing: int, end_state: str, utc_s: float, mono_s: float | None = None) -> None:
        """Keep a firing's end."""
        self._backlog.put("end", (utc_s, mono_s, end_state, firing))

    @property
    def healthy(self) -> str | None:
        """None, or why the record cannot be written right now (one line for a person)."""
        if self._trouble:
            return f"the record cannot be written: {self._trouble}; {self.waiting} rows wait in memory"
        silent_s = time.monotonic() - self._last_good_s
        if self._thread.is_alive() and silent_s > SLOW_AFTER_S + self._flush_every_s:
            return (
                f"the record's disk has not answered for {silent_s:.0f} s; {self.waiting} rows wait in memory"
            )
        return None

    @property
    def waiting(self) -> int:
        """Rows in memory that are not on the disk yet."""
        return self._backlog.waiting

    @property
    def lost(self) -> int:
        """Rows that had to make way for newer ones, or that the database refused for good."""
        return self._backlog.lost

    def latest_unfinished(self) -> Unfinished | None:
        """Return the newest firing if it has no end: what a start after a crash has to decide about."""
        return Record(self.path).latest_unfinished()

    def close(self, within_s: float = 5.0) -> int:
        """Write what waits, for at most about `within_s`; return the number of rows that could not be."""
        self._closing.set()
        if self._thread.is_alive():
            self._thread.join(within_s)
        if self._engine is not None and not self._thread.is_alive():
            self._engine.dispose()
        return self.waiting

    def _write_on(self) -> None:
        """The thread: write, wait, write; when it cannot, wait longer; at the end, one last try."""
        pause_s = self._flush_every_s
        while not self._closing.wait(pause_s):
            pause_s = self._flush_every_s if self._flush() else min(2 * pause_s, LONGEST_PAUSE_S)
        self._flush()

    def _flush(self) -> bool:
        """Write everything that waits in one transaction; return whether that was done."""
        batch = self._backlog.take()
        try:
            self._still_there()
            refused = self._write(batch) if batch else 0
        except Exception as error:  # whatever it is, the rows are kept and the kiln goes on
            self._backlog.give_back(batch)
            self._trouble = plain(error)
            self._forget_connection()
            return False
        self._trouble = None
        self._last_good_s = time.monotonic()
        self._backlog.done(refused)
        return True

    def _still_there(self) -> None:
        """A file that was removed can be written to as long as it is open, and nobody will ever read it."""
        found = _identity(self.path)
        if found != self._file:
            raise OSError("it was removed" if found is None else "another file is in its place")

    def _forget_connection(self) -> None:
        if self._engine is not None:
            self._engine.dispose()

    def _write(self, batch: Batch) -> int:
        """Return the number of refused rows (0, but for a fault in our own code)."""
        assert self._engine is not None
        try:
            with self._engine.begin() as connection:
                for kind in KINDS:
                    if kind in batch:
                        connection.exec_driver_sql(SQL[kind], list(batch[kind]))
        except ROW_FAULTS:
            return self._write_one_by_one(batch)
        return 0

    def _write_one_by_one(self, batch: Batch) -> int:
        """One row is impossible: write all the others, so that it cannot stop the record."""
        assert self._engine is not None
        refused = 0
        with self._engine.begin() as connection:
            for kind in KINDS:
                for row in batch.get(kind, ()):
                    try:
                        connection.exec_driver_sql(SQL[kind], row)
                    except ROW_FAULTS as error:
                        refused += 1
                        logging.getLogger(__name__).error("refused %s %r: %s", kind, row, plain(error))
        return refused


def write_note(path: Path, firing: int, by: str, text: str, utc_s: float) -> None:
    """Write one note through a short connection of its own, beside the journal or without it.

    Raises RecordError: no such record or firing, locked for longer than the patience, full.
    """
    Record(path).firing(firing)  # says in one line when the file or the firing is missing
    engine = open_to_write(path, wait_s=4.0)
    try:
        with one_clear_line(path), engine.begin() as connection:
            connection.exec_driver_sql(SQL["note"], (firing, utc_s, by, text))
    finally:
        engine.dispose()


def _identity(path: Path) -> tuple[int, int] | None:
    """Return which file is at `path`, None when there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _json(fields: Mapping[str, Any]) -> str:
    return json.dumps(dict(fields), default=str, ensure_ascii=False)
