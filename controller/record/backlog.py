"""What waits in memory to be written: bounded, in order, and nothing of it twice.

Rows wait by kind, because a kind is written by one statement. When there is no room, the oldest tick makes
way for the newest (what is just being written is beside the bound, and comes under it when it is given
back); a firing's beginning, legs, job sheets and end are never given up, since all the rest hangs on them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from threading import RLock
from typing import Any

Row = tuple[Any, ...]
Batch = Mapping[str, Sequence[Row]]

# In the order in which they are written, and for the losable ones in which they make way.
KINDS = ("begin", "leg", "job", "tick", "event", "request", "note", "end")
LOSABLE = ("tick", "request", "event", "note")


class Backlog:
    """Any thread puts rows in; one thread takes them out, and gives back what it could not write."""

    def __init__(self, capacity: int) -> None:
        self._capacity = capacity
        self._lock = RLock()
        self._rows: dict[str, deque[Row]] = {kind: deque() for kind in KINDS}
        self._waiting = 0
        self._taken = 0
        self._lost = 0

    @property
    def waiting(self) -> int:
        """Rows in memory: those that wait and those that are being written."""
        return self._waiting + self._taken

    @property
    def lost(self) -> int:
        """Rows that had to make way, or that the database refused for good."""
        return self._lost

    def together(self) -> AbstractContextManager[object]:
        """What is put meanwhile goes into one transaction. Not for long: the writer waits."""
        return self._lock

    def put(self, kind: str, row: Row) -> None:
        """Let a row wait; never blocks for longer than another row's putting takes."""
        with self._lock:
            self._rows[kind].append(row)
            self._waiting += 1
            if self._waiting > self._capacity:
                self._make_way()

    def take(self) -> Batch:
        """Take everything out, by kind in the order of writing; follow with `done` or `give_back`."""
        with self._lock:
            batch = {kind: list(rows) for kind, rows in self._rows.items() if rows}
            for kind in batch:
                self._rows[kind].clear()
            self._taken, self._waiting = self._waiting, 0
            return batch

    def done(self, refused: int = 0) -> None:
        """What was taken is in the database, but for the rows that it refused."""
        with self._lock:
            self._taken = 0
            self._lost += refused

    def give_back(self, batch: Batch) -> None:
        """What was taken is not in the database: it goes before all that came since."""
        with self._lock:
            for kind, rows in batch.items():
                self._rows[kind].extendleft(reversed(rows))
            self._waiting += self._taken
            self._taken = 0
            while self._waiting > self._capacity and self._make_way():
                pass

    def _make_way(self) -> bool:
        for kind in LOSABLE:
            if self._rows[kind]:
                self._rows[kind].popleft()
                self._waiting -= 1
                self._lost += 1
                return True
        return False
