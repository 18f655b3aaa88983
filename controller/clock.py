"""Time, handed in. Nothing in the house asks the system for the time but `SystemClock`.

`now_s` never goes back and is for durations; its zero means nothing. `utc_s` is for people and the
record: seconds since 1970-01-01 00:00 UTC. Both are seconds of the kiln, which on a simulated kiln
may pass faster than those on the wall.
"""

from __future__ import annotations

import time
from typing import Protocol

from controller.errors import UsageError

# The monotonic clock in which a computer's sleep counts, where the system has one (Linux): a kiln does not
# sleep with it.
_COUNTS = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


def _monotonic_s() -> float:
    """Return the system's monotonic time, its sleep included, s."""
    return time.clock_gettime(_COUNTS)


class Clock(Protocol):
    """What a tick needs to know of time."""

    def now_s(self) -> float:
        """Return the kiln's monotonic time, s."""
        ...

    def utc_s(self) -> float:
        """Return the kiln's date and time, s since 1970 UTC."""
        ...

    def sleep_until(self, t_s: float) -> None:
        """Return when `now_s` has reached `t_s`; at once if it has."""
        ...


class SystemClock:
    """The system's clock, `speed` times as fast.

    Two processes on one machine with the same speed have the same `now_s`. At speed 1 `utc_s` is the
    system's own date and time, so that a clock that someone sets can be noticed by comparing the two;
    at any other speed it is the date and time at the start plus the kiln seconds since.
    """

    def __init__(self, speed: float = 1.0) -> None:
        if not 0.0 < speed < float("inf"):
            raise UsageError(f"speed: found {speed:g}, expected a number above 0")
        self.speed = speed
        self._start_now_s = _monotonic_s() * speed
        self._start_utc_s = time.time()

    def now_s(self) -> float:
        """Return the system's monotonic time, its sleep included, times the speed, s."""
        return _monotonic_s() * self.speed

    def utc_s(self) -> float:
        """Return the date and time, s since 1970 UTC."""
        if self.speed == 1.0:
            return time.time()
        return self._start_utc_s + (self.now_s() - self._start_now_s)

    def sleep_until(self, t_s: float) -> None:
        """Sleep until `now_s` has reached `t_s`."""
        while (left_s := t_s - self.now_s()) > 0.0:
            time.sleep(left_s / self.speed)


class ManualClock:
    """A clock that moves only when it is told to, or when someone sleeps by it: for tests and for replay."""

    def __init__(self, now_s: float = 0.0, utc_s: float = 0.0) -> None:
        self._now_s = now_s
        self._utc_less_now_s = utc_s - now_s

    def now_s(self) -> float:
        """Return the time that it was moved to, s."""
        return self._now_s

    def utc_s(self) -> float:
        """Return the date and time that goes with it, s since 1970 UTC."""
        return self._utc_less_now_s + self._now_s

    def sleep_until(self, t_s: float) -> None:
        """Move to `t_s` at once; never back."""
        self._now_s = max(self._now_s, t_s)

    def advance(self, dt_s: float) -> None:
        """Move on by `dt_s`, which is not negative."""
        if dt_s < 0.0:
            raise ValueError(f"a monotonic clock cannot move by {dt_s} s")
        self._now_s += dt_s

    def set_utc(self, utc_s: float) -> None:
        """Set the date and time, as a person or the network may; `now_s` does not move."""
        self._utc_less_now_s = utc_s - self._now_s
