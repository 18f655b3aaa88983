"""How guessing is slowed down: after some wrong tries nothing is taken for a while, then for twice as long.

Pure: the time is handed in, in seconds of any monotonic clock.
"""

from __future__ import annotations

# Common practice, no source: five tries forgive a person's fingers; an hour leaves a guesser 120 a day.
TRIES = 5
LOCKED_S = 60.0
LONGEST_LOCK_S = 3600.0


class Backoff:
    """Counts the wrong tries of one source, or of all together."""

    def __init__(self, tries: int = TRIES) -> None:
        self._tries = tries
        self._wrong = 0
        self._lock_s = LOCKED_S
        self._until_s = float("-inf")

    def left_s(self, now_s: float) -> float:
        """Return for how long nothing is taken any more; 0 when a try counts."""
        return max(0.0, self._until_s - now_s)

    def wrong(self, now_s: float) -> int:
        """Count one wrong try; return how many are left, 0 when nothing is taken from now on."""
        self._wrong += 1
        if self._wrong < self._tries:
            return self._tries - self._wrong
        self._wrong, self._until_s = 0, now_s + self._lock_s
        self._lock_s = min(2.0 * self._lock_s, LONGEST_LOCK_S)
        return 0

    def right(self) -> None:
        """Forget what was wrong."""
        self._wrong, self._lock_s = 0, LOCKED_S
