"""From `drop()` to the relay's pin low as the chip saw it: the board in simavr, in real time.

The line is as busy as it can be meanwhile: another thread gives leases and polls without a pause, so that
taking heat away has to make its way through. `python -m tests.bench.board` prints a table.
"""

from __future__ import annotations

import random
import tempfile
import threading
import time
from contextlib import suppress
from pathlib import Path

import numpy as np

from controller.errors import WireError
from controller.wire.board import BoardConfig
from controller.wire.board_kiln import BoardHeatOutput, BoardInputs, Place, open_board
from tests.board import build
from tests.board.chip import Chip

ABORTS = 120
GOAL_MS = 100.0


class _Busy:
    """A thread that heats and polls, for as long as it is let."""

    def __init__(self, inputs: BoardInputs, heat: BoardHeatOutput) -> None:
        self.may = threading.Event()
        self.ended = threading.Event()
        self._inputs, self._heat = inputs, heat
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End it."""
        self.ended.set()
        self.may.set()
        self._thread.join()

    def _run(self) -> None:
        while not self.ended.is_set():
            self.may.wait()
            with suppress(WireError):  # it gives way
                self._heat.energise(3.0)
                self._inputs.poll()


def measure() -> dict[str, float]:
    """Return the 99th percentile in milliseconds; nothing where the chip cannot be simulated."""
    took_ms = aborts_ms()
    return {"wire.abort_ms_p99.board": float(np.percentile(took_ms, 99))} if took_ms else {}


def aborts_ms(count: int = ABORTS) -> list[float]:
    """Return how long each abort took, ms of the clock on the wall."""
    if build.missing():
        return []
    with tempfile.TemporaryDirectory() as folder:
        chip = Chip(build.harness(Path(folder, "harness")), build.firmware(Path(folder, "firmware")))
        config = BoardConfig(name="board", port=chip.line)
        inputs, heat = open_board(config, {"air": Place(0)}, ("door",), time.monotonic, tick_s=0.0)
        chip.run(300)
        chip.pace(True)
        heat.close_main()
        busy = _Busy(inputs, heat)
        chance = random.Random(1)
        try:
            return [_abort_ms(chip, heat, busy, chance.uniform(0.03, 0.1)) for _ in range(count)]
        finally:
            busy.close()
            inputs.close()
            chip.close()


def _abort_ms(chip: Chip, heat: BoardHeatOutput, busy: _Busy, after_s: float) -> float:
    busy.may.set()
    time.sleep(after_s)
    while not chip.heat():
        time.sleep(0.005)
    busy.may.clear()  # a guard that aborts grants nothing more
    began_s = time.monotonic()
    heat.drop()
    off_s = [edge.wall_s for edge in chip.news() if edge.what == "heat" and not edge.on]
    return 1e3 * (off_s[-1] - began_s)


def print_table() -> None:
    """Print what an abort takes."""
    took_ms = aborts_ms()
    if not took_ms:
        print(f"not measured: needs {', '.join(build.missing())}")
        return
    for name, share in (("median", 50), ("90th percentile", 90), ("99th percentile", 99), ("worst", 100)):
        print(f"{name:16} {np.percentile(took_ms, share):6.1f} ms")
    print(f"{'goal (99th)':16} {GOAL_MS:6.1f} ms; {len(took_ms)} aborts on a busy line")


if __name__ == "__main__":
    print_table()
