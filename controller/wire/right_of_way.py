"""Who may use a wire next: one at a time, and taking heat away goes before everything that waits.

A plain lock lets the thread that has just let go of it take it again at once, so a poll of ten questions
could keep an abort waiting for all ten. Here an urgent user waits for the one question in hand only.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Condition, Lock


class RightOfWay:
    """Lets one thread at a time through; the urgent ones first."""

    def __init__(self) -> None:
        self._changed = Condition(Lock())
        self._taken = False
        self._urgent = 0  # how many are waiting to take heat away

    @property
    def is_wanted(self) -> bool:
        """Return whether someone waits to take heat away."""
        return self._urgent > 0

    @contextmanager
    def turn(self, urgent: bool = False) -> Iterator[None]:
        """Wait for the wire, hold it, let go of it."""
        with self._changed:
            self._wait(urgent)
            self._taken = True
        try:
            yield
        finally:
            with self._changed:
                self._taken = False
                self._changed.notify_all()

    def _wait(self, urgent: bool) -> None:
        self._urgent += urgent
        try:
            while self._taken or (self._urgent and not urgent):
                self._changed.wait()
        finally:
            self._urgent -= urgent
