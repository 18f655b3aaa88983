"""What a tick costs over Modbus TCP, against the kiln's own process; what noise gets past a serial line.

The whole tick: poll, judge, step, control, grant. The poll alone: side by side with pymodbus' own client
asking the same questions. The noise: frames of Modbus RTU, spoilt, straight into our receiver.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import cast

import numpy as np
from pymodbus.client import ModbusTcpClient

from controller import assemble
from controller.config import TcpBusConfig, load_kiln
from controller.firing import Cue, Request
from controller.guard import LatchFile
from controller.schedule.index import find
from controller.schedule.reader import load_schedule
from controller.wire.bus import Bus
from controller.wire.kiln_wire import open_wire, wire_over
from controller.wire.modbus_tcp import modbus_tcp
from controller.wire.points import Function
from tests.wire import garble

TICKS = 1500
POLLS = 1000
GARBLED = 100_000


def measure() -> dict[str, float]:
    """Tick as fast as it goes; return the tick's own work at the median and the 99th percentile."""
    with tempfile.TemporaryDirectory() as folder:
        config_file = Path(folder) / "kiln.toml"
        command = [sys.executable, "-m", "controller.cli", "kiln", "--port", "0", "--write-config"]
        kiln = subprocess.Popen([*command, str(config_file)], stdout=subprocess.PIPE, text=True)
        try:
            assert kiln.stdout is not None
            assert kiln.stdout.readline().startswith("listening")
            took_s = _ticks(config_file, Path(folder))
            ratio = _poll_vs_raw(config_file)
        finally:
            kiln.terminate()
            kiln.wait(10.0)
    return {
        "wire.tick_ms_p50": float(np.percentile(took_s, 50)) * 1e3,
        "wire.tick_ms_p99": float(np.percentile(took_s, 99)) * 1e3,
        "wire.poll_vs_raw": ratio,
        "wire.garbled_accepted": float(_wrong(garble.run(GARBLED, seed=2))),
    }


class _Noting:
    """A bus that notes which questions it is asked."""

    def __init__(self, bus: Bus) -> None:
        self.asked: list[tuple[int, Function, int, int]] = []
        self._bus = bus

    def read(self, unit: int, function: Function, address: int, count: int) -> Sequence[int]:
        """Note a question, and ask it."""
        self.asked.append((unit, function, address, count))
        return self._bus.read(unit, function, address, count)

    def __getattr__(self, name: str) -> object:
        return getattr(self._bus, name)


def _poll_vs_raw(config_file: Path) -> float:
    """Return our poll's time over that of pymodbus' own client with the same questions, at the medians.

    The two take turns, so that what else the computer does hits both.
    """
    config = load_kiln(config_file)
    (name, settings), *_ = config.buses.items()
    assert isinstance(settings, TcpBusConfig)
    noting = _Noting(modbus_tcp(settings, time.monotonic, 1.0))
    inputs, _ = wire_over(config, {name: cast(Bus, noting)}, time.monotonic)
    assert inputs.poll().errors == ()
    questions = tuple(noting.asked)
    inputs.close()
    inputs, _ = open_wire(config, time.monotonic)
    client = ModbusTcpClient(settings.host, port=settings.port, timeout=1.0, retries=0)
    client.connect()  # type: ignore[no-untyped-call]
    ask = {
        "coil": client.read_coils,
        "discrete": client.read_discrete_inputs,
        "input": client.read_input_registers,
        "holding": client.read_holding_registers,
    }
    ours_s, raw_s = [], []
    for _ in range(POLLS):
        began_s = time.perf_counter()
        polled = inputs.poll()
        polled_s = time.perf_counter()
        replies = [ask[what](start, count=count, device_id=unit) for unit, what, start, count in questions]
        raw_s.append(time.perf_counter() - polled_s)
        ours_s.append(polled_s - began_s)
        assert polled.errors == ()
        assert not any(reply.isError() for reply in replies)
    inputs.close()
    client.close()  # type: ignore[no-untyped-call]
    return float(np.median(ours_s) / np.median(raw_s))


def _wrong(found: Counter[str]) -> int:
    """Return how many spoilt frames gave a value that was not in the frame before it was spoilt."""
    assert sum(found.values()) == GARBLED
    return sum(count for what, count in found.items() if what.startswith("wrong"))


def _ticks(config_file: Path, folder: Path) -> list[float]:
    config = load_kiln(config_file)
    inputs, output = open_wire(config, time.monotonic)
    loop = assemble.tick_loop(config, output, LatchFile(folder / "latches.json"), time.monotonic)
    schedule = load_schedule(find("printed-pla-silica-shell"))
    requests: tuple[Request, ...] = (Request(Cue.START, schedule=schedule),)
    took_s = []
    for _ in range(TICKS):
        began_s = time.monotonic()
        ticked = loop.tick(inputs.poll(), began_s, began_s, 1.0, 0.0, requests)
        took_s.append(time.monotonic() - began_s)
        assert not ticked.verdict.trip, ticked.verdict
        requests = ()
    loop.guard.withdraw()
    inputs.close()
    return took_s
