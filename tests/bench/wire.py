"""What a tick costs over Modbus TCP: poll, judge, step, control, grant, against the kiln's own process."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from controller import assemble
from controller.config import load_kiln
from controller.firing import Cue, Request
from controller.guard import LatchFile
from controller.schedule.index import find
from controller.schedule.reader import load_schedule
from controller.wire.kiln_wire import open_wire

TICKS = 1500


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
        finally:
            kiln.terminate()
            kiln.wait(10.0)
    return {
        "wire.tick_ms_p50": float(np.percentile(took_s, 50)) * 1e3,
        "wire.tick_ms_p99": float(np.percentile(took_s, 99)) * 1e3,
    }


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
