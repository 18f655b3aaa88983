"""From an abort at the local channel to the relay open as the far side saw it, on each kind of wire.

A whole `stokehold controller` in a process of its own heats a kiln that notes its relay's moves: the
simulated kiln over Modbus TCP, the same over RTU at 19200 baud, and the firmware as compiled in simavr.
Each abort comes at another moment of the tick. `python -m tests.bench.latency` prints a table; `reclosed`
counts the aborts after which the relay closed once more.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from controller.channel import SOCKET_NAME
from controller.channel_client import ChannelClient
from controller.errors import ChannelError
from controller.presence import read_code
from tests.bench.far_kilns import FAR_SIDES, TICK_S, Far, FarSide
from tests.board import build

ABORTS = 50
GOAL_MS = 100.0
SOON_S = 20.0
SCHEDULE = """\
title = "Full heat"

[[stage]]
kind = "ramp"
name = "up"
to = "600 C"
rate = "full"
"""


class Aborts(NamedTuple):
    """How long each abort took, ms, and after how many of them the relay closed once more."""

    took_ms: list[float]
    reclosed: int


def measure() -> dict[str, float]:
    """Return the 99th percentile of each wire in milliseconds; of those that can be measured here."""
    measured = {}
    for name, far in FAR_SIDES.items():
        if name != "board" or not build.missing():
            aborts = aborted(far)
            measured[f"wire.abort_ms_p99.{name}"] = float(np.percentile(aborts.took_ms, 99))
            measured[f"wire.abort_reclosed.{name}"] = float(aborts.reclosed)
    return measured


def aborted(far_side: FarSide, count: int = ABORTS) -> Aborts:
    """Abort so many firings on one wire; those do not count whose relay had opened by itself before."""
    chance = random.Random(1)
    took_ms: list[float] = []
    reclosed = 0
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with far_side(home) as (far, config), _Controller(home, config) as controller:
            for _ in range(2 * count):
                controller.heat(far)
                time.sleep(chance.uniform(0.0, TICK_S))  # anywhere in a tick
                was_on = far.moves()[-1].on
                began_s = time.monotonic()
                controller.ask("abort")
                controller.reset()
                after = [move for move in far.moves() if move.at_s > began_s]
                if was_on and after and not after[0].on:
                    took_ms.append(1e3 * (after[0].at_s - began_s))
                    reclosed += any(move.on for move in after)
                if len(took_ms) == count:
                    return Aborts(took_ms, reclosed)
    raise AssertionError(f"only {len(took_ms)} of {2 * count} firings were heating when they were aborted")


class _Controller:
    """A running controller, and the way to ask it for things."""

    def __init__(self, home: Path, config: str) -> None:
        kiln = home / "kiln.toml"
        kiln.write_text(config)
        command = ["-m", "controller.cli", "controller", "--kiln", str(kiln), "--home", str(home / "home")]
        self._home = home / "home"
        self._process = subprocess.Popen(
            [sys.executable, *command, "--quiet-code"], stdout=subprocess.DEVNULL
        )
        self._client = ChannelClient(self._home / SOCKET_NAME)

    def __enter__(self) -> _Controller:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(SOON_S)

    def heat(self, far: Far) -> None:
        """Start a firing, and wait until the relay is closed and stays so."""
        before = len(far.moves())
        _until(self._client.path.exists, "the controller did not start")
        _until(self._start, "no start")
        _until(lambda: len(far.moves()) > before and far.moves()[-1].on, "the relay did not close")

    def _start(self) -> bool:
        """Start with everything looked at; whoever measures stays at the kiln that is not there."""
        try:
            found = self._client.ask({"request": "prefire", "by": "bench", "schedule": SCHEDULE})
        except ChannelError:
            return False
        looked = {
            "ticked": [item["id"] for item in found.get("items", [])],
            "reachable": "the bench",
            "attended": True,
        }
        return self._try("start", schedule=SCHEDULE, presence=read_code(self._home) or "", **looked)

    def reset(self) -> None:
        """Bring an aborted firing back to idle."""
        _until(lambda: self._try("reset"), "the firing did not end")

    def ask(self, request: str, **more: str) -> None:
        """Ask for something that must be granted."""
        reply = self._client.ask({"request": request, "by": "bench", **more})  # type: ignore[typeddict-item]
        assert reply["ok"], reply["says"]

    def _try(self, request: str, **more: object) -> bool:
        try:
            return self._client.ask({"request": request, "by": "bench", **more})["ok"]  # type: ignore[typeddict-item]
        except ChannelError:
            return False


def _until(true: Callable[[], bool], otherwise: str) -> None:
    end_s = time.monotonic() + SOON_S
    while not true():
        assert time.monotonic() < end_s, otherwise
        time.sleep(0.005)


def print_table(names: list[str]) -> None:
    """Print what an abort takes on each wire."""
    heads = "".join(f"{head:>9}" for head in ("median", "90th", "99th", "worst"))
    print(f"{'wire':8}{heads}  ms (goal: {GOAL_MS:g} at the 99th); reclosed")
    for name in names or FAR_SIDES:
        if name == "board" and build.missing():
            print(f"{name:8} not measured: needs {', '.join(build.missing())}")
            continue
        aborts = aborted(FAR_SIDES[name])
        figures = "".join(f"{np.percentile(aborts.took_ms, share):9.1f}" for share in (50, 90, 99, 100))
        print(f"{name:8}{figures}  {aborts.reclosed} of {len(aborts.took_ms)}", flush=True)


if __name__ == "__main__":
    print_table(sys.argv[1:])
