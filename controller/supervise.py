"""Keeps the controller's process, the page's and the learner's running, and knows nothing of what they do."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

from controller.errors import UsageError

# A process that dies sooner than this after its start is waited for a little longer each time.
STEADY_S = 30.0
LONGEST_PAUSE_S = 30.0
# An exit status that says "asked wrongly": starting it again would not help.
HOPELESS = 2


def free_port(port: int) -> int:
    """Return the port, or for 0 one that is free now: the page keeps it when it is started again.

    Raises UsageError when it is none, or something listens on it already.
    """
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OverflowError as error:
            raise UsageError(f"--port: found {port}, expected a number from 0 to 65535") from error
        except OSError as error:
            raise UsageError(
                f"--port {port}: found {(error.strerror or str(error)).lower()}, "
                "expected a free port (another page may run)"
            ) from error
        return int(probe.getsockname()[1])


class Child:
    """One process that is to run for ever."""

    def __init__(self, name: str, arguments: list[str]) -> None:
        self.name = name
        self._command = [sys.executable, "-m", "controller.cli", *arguments]
        self._process: subprocess.Popen[bytes] | None = None
        self._began_s = 0.0
        self._again_s = 0.0
        self._pause_s = 0.5

    def start(self) -> None:
        """Start the process."""
        self._process = subprocess.Popen(self._command, stdin=subprocess.DEVNULL)
        self._began_s = time.monotonic()

    @property
    def pid(self) -> int | None:
        """The process's number, for tests that kill it."""
        return self._process.pid if self._process is not None else None

    def ended(self) -> int | None:
        """Return the exit status if the process has just been found dead, and plan its next start."""
        if self._process is None or (status := self._process.poll()) is None:
            return None
        now_s = time.monotonic()
        steady = now_s - self._began_s > STEADY_S
        self._pause_s = 0.5 if steady else min(2 * self._pause_s, LONGEST_PAUSE_S)
        self._again_s = now_s + self._pause_s
        self._process = None
        return status

    def revive(self) -> None:
        """Start the process again, once its pause is over."""
        if self._process is None and time.monotonic() >= self._again_s:
            self.start()

    def stop(self) -> None:
        """Ask the process to end, and make it."""
        if self._process is None:
            return
        self._process.terminate()
        try:
            self._process.wait(8.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


class Supervisor:
    """The controller, the page and the learner of one kiln."""

    def __init__(
        self,
        kiln: Path,
        home: Path,
        port: int,
        speed: float = 1.0,
        *,
        quiet_code: bool = False,
        learns: bool = True,
        page: Sequence[str] = (),
    ) -> None:
        """`learns`: whether the kiln is learnt after each firing. `page`: what else the page is told."""
        own = ["--kiln", str(kiln), "--home", str(home), "--speed", str(speed)]
        self.controller = Child("controller", ["controller", *own, *(["--quiet-code"] if quiet_code else [])])
        shown = ["--kiln", str(kiln), "--home", str(home), "--port", str(port), "--with-parent"]
        self.web = Child("page", ["web", *shown, *page])
        self.learner = Child("learner", ["learn", "--each", "--home", str(home), "--with-parent"])
        self._children = (self.controller, self.web, *((self.learner,) if learns else ()))

    def start(self) -> None:
        """Start all."""
        for child in self._children:
            child.start()

    def watch(self, stop: threading.Event) -> int:
        """Start again what dies, until `stop`; return 2 when the controller says it was asked wrongly."""
        while not stop.wait(0.1):
            if self.look() == HOPELESS:
                return HOPELESS
        return 0

    def look(self) -> int | None:
        """Look at all once; return the controller's exit status if it was found dead."""
        found = None
        for child in self._children:
            status = child.ended()
            if status is not None:
                print(
                    f"the {child.name}'s process ended (status {status}); starting it again", file=sys.stderr
                )
                if child is self.controller:
                    found = status
            child.revive()
        return found

    def stop(self) -> None:
        """End all, the controller first: it takes the heat off."""
        for child in self._children:
            child.stop()
