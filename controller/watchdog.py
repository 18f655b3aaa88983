"""Tells systemd that ticks go on (`Type=notify`, `WatchdogSec`; see hardware_notes/systemd.md).

Without systemd there is no $NOTIFY_SOCKET, and nothing is told. READY goes out with the first tick and
WATCHDOG with later ones, at most a few times in each watchdog period: a program whose tick hangs falls
silent, whatever its other threads do, and systemd kills it and starts it again.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Callable, Mapping

# Told so many times in one period, so that one lost message or one slow tick ends nothing.
TIMES_A_PERIOD = 4.0


class Watchdog:
    """One datagram socket to systemd. `ticked` never raises and never waits."""

    def __init__(self, environment: Mapping[str, str], now: Callable[[], float]) -> None:
        """`now`: seconds of the wall's monotonic clock. The variables are systemd's own."""
        self._now = now
        self._address = environment.get("NOTIFY_SOCKET", "")
        if self._address.startswith("@"):
            self._address = "\0" + self._address[1:]  # a name that is not in the file system
        mine = environment.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
        period_us = environment.get("WATCHDOG_USEC", "") if mine else ""
        self._every_s = int(period_us) / 1e6 / TIMES_A_PERIOD if period_us.isdecimal() else None
        self._told_s: float | None = None

    def ticked(self) -> None:
        """Say that a tick has been done."""
        if not self._address:
            return
        now_s = self._now()
        if self._told_s is None:
            self._tell("READY=1\nWATCHDOG=1")
        elif self._every_s is not None and now_s - self._told_s >= self._every_s:
            self._tell("WATCHDOG=1")
        else:
            return
        self._told_s = now_s

    def stopping(self) -> None:
        """Say that the program ends because it was asked to."""
        if self._address:
            self._tell("STOPPING=1")

    def _tell(self, message: str) -> None:
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as to:
            to.setblocking(False)
            to.sendto(message.encode(), self._address)
