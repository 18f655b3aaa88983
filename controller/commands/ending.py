"""How a program that may heat is ended: in order, whatever its terminal does, so that no relay is left on.

A terminal that is closed hangs up on its programs, which ends them on the spot unless they ask otherwise; one
that stops them (Ctrl-Z) would leave a relay that knows no lease as it is. So they are ended by all that means
an end, and stopped by nothing.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType
from typing import Any


def on_ending(end: Callable[[], object]) -> None:
    """Have `end` called by whatever asks this program to end.

    It gets a thread of its own: a signal comes in the middle of anything, also of what holds a lock that
    `end` wants.
    """
    _take(lambda *_: threading.Thread(target=end, daemon=True).start())


def as_ctrl_c() -> None:
    """Have whatever asks this program to end do as Ctrl-C does."""
    _take(signal.default_int_handler)


def _take(handler: Callable[[int, FrameType | None], Any]) -> None:
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGQUIT):
        signal.signal(number, handler)
    if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:  # nohup: it is to outlive its terminal
        signal.signal(signal.SIGHUP, handler)
    signal.signal(signal.SIGTSTP, signal.SIG_IGN)
