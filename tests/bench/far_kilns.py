"""Kilns that note when their relay moves, on each kind of wire, with the configuration that reaches them."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import NamedTuple, Protocol

from controller.simulator.process import demo_config
from tests.board import build
from tests.board.chip import Chip

TICK_S = 0.6  # short, so that many aborts fit into a few minutes
SOON_S = 20.0
TIMES = f'tick = "{TICK_S * 1000:.0f} ms"\nlease = "2 s"\nfull_rate = "3000 C/h"\n'
BOARD_KILN = f"""\
name = "board"
ceiling = "900 C"
{TIMES}
[bus.board]
kind = "board"
port = "@"

[reader.air]
bus = "board"
channel = 0

[reader.load]
bus = "board"
channel = 1

[contact.door]
bus = "board"

[contact.emergency_stop]
bus = "board"

[contact.extraction]
bus = "board"

[heater]
bus = "board"
power = "3 kW"

[main_contactor]
bus = "board"

[control]
cycle = "2 s"
"""


class Move(NamedTuple):
    """A move of the relay, s of `time.monotonic`."""

    on: bool
    at_s: float


class Far(Protocol):
    """A kiln that notes its relay's moves."""

    def moves(self) -> list[Move]:
        """Return all moves so far."""


class _Process:
    """The simulated kiln in a process of its own."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def moves(self) -> list[Move]:
        """Return all moves so far."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write("\n")
        self._process.stdin.flush()
        return [Move(*move) for move in json.loads(self._process.stdout.readline())]


class _Board:
    """The firmware in simavr."""

    def __init__(self, chip: Chip) -> None:
        self._chip = chip

    def moves(self) -> list[Move]:
        """Return all moves so far."""
        self._chip.news()
        return [Move(edge.on, edge.wall_s) for edge in self._chip.edges if edge.what == "heat"]


@contextmanager
def _process(how: str) -> Iterator[tuple[_Process, str]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.far_side", how],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        yield _Process(process), process.stdout.readline().strip()
    finally:
        process.terminate()
        process.wait(SOON_S)


@contextmanager
def tcp(_: Path) -> Iterator[tuple[Far, str]]:
    """Yield the simulated kiln on TCP, and the configuration that reaches it."""
    with _process("tcp") as (far, port):
        yield far, _quick(demo_config(int(port))).replace('timeout = "300 ms"', 'timeout = "200 ms"')


@contextmanager
def rtu(_: Path) -> Iterator[tuple[Far, str]]:
    """Yield the simulated kiln on a serial line at 19200 baud, and the configuration that reaches it."""
    with _process("rtu") as (far, port):
        head, tail = _quick(demo_config(0)).split("[bus.main]")
        bus = f'[bus.main]\nkind = "modbus-rtu"\nport = "{port}"\nbaud = 19200\ntimeout = "100 ms"\n\n'
        yield far, head + bus + tail[tail.index("[reader.air]") :]


@contextmanager
def board(folder: Path) -> Iterator[tuple[Far, str]]:
    """Yield the firmware in simavr at the wall's pace, and the configuration that reaches it."""
    chip = Chip(build.harness(folder / "harness"), build.firmware(folder / "firmware"))
    try:
        chip.run(300)
        chip.pace(True)
        yield _Board(chip), BOARD_KILN.replace("@", chip.line)
    finally:
        chip.close()


FarSide = Callable[[Path], AbstractContextManager[tuple[Far, str]]]

FAR_SIDES: dict[str, FarSide] = {"tcp": tcp, "rtu": rtu, "board": board}


def _quick(text: str) -> str:
    """Return a configuration with a short tick, so that many aborts fit into a few minutes."""
    lines = [line for line in text.split("\n") if not line.startswith(("tick =", "lease =", "full_rate ="))]
    return "\n".join(lines).replace("\n\n# --- Wires", f"\n{TIMES}\n# --- Wires", 1)
