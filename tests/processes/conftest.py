"""A simulated kiln, a controller and a page as real processes, with a schedule short enough for a test."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from controller.channel_client import ChannelClient
from controller.live import Reply
from controller.presence import read_code
from controller.record.queries import Record

SPEED = 60.0

SCHEDULE = """
title = "A short one"

[[stage]]
kind = "ramp"
name = "up"
to = "80 C"
rate = "300 C/h"

[[stage]]
kind = "checkpoint"
name = "look"
says = "Look at it."
heat = "keep"
expect = "5 min"

[[stage]]
kind = "hold"
name = "soak"
for = "5 min"
band = "40 K"
"""


# The same in a third of the time: two minutes of the kiln's, two seconds on the wall, to the checkpoint.
SHORTER = SCHEDULE.replace('to = "80 C"', 'to = "30 C"').replace('for = "5 min"', 'for = "1 min"')


def command(*arguments: str) -> list[str]:
    """Return the command line of one of our commands."""
    return [sys.executable, "-m", "controller.cli", *arguments]


def until(true: Callable[[], Any], within_s: float = 20.0, every_s: float = 0.02) -> Any:
    """Wait until something is true; return it. Fails when it never is."""
    end_s = time.monotonic() + within_s
    while not (value := true()):
        assert time.monotonic() < end_s, "it did not come about in time"
        time.sleep(every_s)
    return value


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class House:
    """The processes of one kiln, and what a person at its console can do."""

    def __init__(self, home: Path, speed: float = SPEED) -> None:
        self.home = home
        self.speed = speed
        self.config = home / "kiln.toml"
        self.page_port = free_port()
        self.kiln = subprocess.Popen(
            command("kiln", "--port", "0", "--speed", str(speed), "--write-config", str(self.config)),
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self.kiln.stdout is not None
        self.kiln_port = int(self.kiln.stdout.readline().strip().rsplit(":", 1)[1])
        self.client = ChannelClient(home / "channel.sock")
        self.processes: list[subprocess.Popen[str]] = []

    def start(self, *more: str, name: str = "controller") -> subprocess.Popen[str]:
        """Start `stokehold controller` or `stokehold run` on this kiln, and wait until it answers."""
        process = subprocess.Popen(
            command(
                name, "--kiln", str(self.config), "--home", str(self.home), "--speed", str(self.speed), *more
            ),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.processes.append(process)
        until(lambda: (self.home / "channel.sock").exists() and self.answers())
        return process

    def answers(self) -> bool:
        """Whether a controller answers."""
        try:
            self.client.ask({"request": "acknowledge", "by": "test"})
        except Exception:
            return False
        return True

    def ask(self, request: str, **more: object) -> Reply:
        """Ask with the code on the console; before a start, look at everything on the list."""
        code = read_code(self.home) or ""
        if request == "start":
            more = self.prepared(**more) | more
        return self.client.ask({"request": request, "by": "test", "presence": code, **more})  # type: ignore[typeddict-item]

    def prepared(self, **about: object) -> dict[str, object]:
        """What goes with a start: everything looked at, and somebody who can be reached."""
        found = self.client.ask({"request": "prefire", "by": "test", **about})  # type: ignore[typeddict-item]
        return {"ticked": [item["id"] for item in found.get("items", [])], "reachable": "Ada, 12"}

    def fire(self, schedule: str = SCHEDULE, **more: object) -> None:
        """Start the short schedule, and wait until it is in the record. `more`: what goes with the start."""
        known = len(self.record.firings(9))
        reply = self.ask("start", schedule=schedule, name="short.toml", **more)
        assert reply["ok"], reply
        until(lambda: len(self.record.firings(9)) > known)

    @property
    def record(self) -> Record:
        return Record(self.home / "record.db")

    def state(self) -> str | None:
        """Return the newest tick's state, from the record."""
        firings = self.record.firings(1)
        if not firings:
            return None
        rows = list(self.record.rows(firings[0].id))
        return rows[-1][1].state if rows else None

    def end(self) -> None:
        """End the controllers first: each takes the heat off while the kiln can still hear it."""
        for group in (self.processes, [self.kiln]):
            for process in group:
                if process.poll() is None:
                    process.send_signal(signal.SIGTERM)
            for process in group:
                try:
                    process.communicate(timeout=15)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.communicate()


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """A kiln of the test's own; it starts what it needs."""
    made = House(tmp_path)
    try:
        yield made
    finally:
        made.end()


@pytest.fixture
def slow_house(tmp_path: Path) -> Iterator[House]:
    """A kiln at which a lease is most of a second on the wall, so that a busy computer is no trouble."""
    made = House(tmp_path, speed=8.0)
    try:
        yield made
    finally:
        made.end()


@pytest.fixture(scope="module")
def kiln_alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """One simulated kiln for tests that start nothing on it."""
    made = House(tmp_path_factory.mktemp("kiln"))
    try:
        yield made
    finally:
        made.end()


def alive(pid: int) -> bool:
    """Whether a process runs."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return Path(f"/proc/{pid}/stat").read_text().split()[2] != "Z"
