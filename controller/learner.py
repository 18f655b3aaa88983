"""Learns the kiln after each firing: a process that waits for a firing's end, and starts `stokehold learn`.

It only reads the record, now and then, and is as polite as the system allows; the fit runs in a process of
its own, so that its memory and its faults end with it. What was learnt, or why not, is in the record: what a
power cut breaks off is done at the next start. Nothing waits for this process, and nothing ends with it.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from threading import Event

from controller.errors import RecordError
from controller.home import RECORD_NAME
from controller.record.kiln_models import due

LOOK_EVERY_S = 10.0
"""A kiln takes hours to be cold enough for the next firing: a look is cheap, and none is urgent."""
NICEST = 19


def learn_in_a_process(home: Path, firing: int, stop: Event) -> None:
    """Learn from one firing, or break it off when `stop` is set."""
    command = [sys.executable, "-m", "controller.cli", "learn", str(firing), "--home", str(home)]
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL)
    while process.poll() is None:
        if stop.wait(0.2):
            process.kill()
            process.wait()


class Learner:
    """Looks for a firing to learn from, and learns from each only once in its life."""

    def __init__(self, home: Path, learn: Callable[[Path, int], None]) -> None:
        """`learn` is given the home folder and the firing's number."""
        self._home = home
        self._learn = learn
        self._tried: int | None = None

    def look(self) -> int | None:
        """Learn from the newest firing if it has ended and is not learnt from; return its number."""
        record = self._home / RECORD_NAME
        if not record.is_file():
            return None
        try:
            firing = due(record)
        except RecordError:
            return None  # locked, or just being made: there is time
        if firing is None or firing == self._tried:
            return None
        self._tried = firing
        self._learn(self._home, firing)
        return firing


def learn_on(home: Path, stop: Event, *, with_parent: bool = False) -> None:
    """Learn after each firing until `stop`, or until the process that started this one has ended."""
    with contextlib.suppress(OSError):
        os.nice(NICEST)
    parent = os.getppid()
    learner = Learner(home, lambda home, firing: learn_in_a_process(home, firing, stop))
    while not (with_parent and os.getppid() != parent):
        learner.look()
        if stop.wait(LOOK_EVERY_S):
            return
