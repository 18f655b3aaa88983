"""Speed of the whole loop in one process, without a wire: plant, guard, core and control."""

from __future__ import annotations

import gc
import tempfile
import time
from pathlib import Path

from controller.firing import State
from controller.schedule.index import find
from controller.schedule.reader import load_schedule
from controller.simulator.plant import Plant
from tests.in_process import DEMO_PLAN, in_process

TIMES = 3


def measure() -> dict[str, float]:
    """Run the PLA schedule at one-second ticks; return kiln seconds a second (the best of three).

    The best, because this asks what the code costs, not what else the computer was doing.
    """
    schedule = load_schedule(find("printed-pla-silica-shell"))
    best = 0.0
    for _ in range(TIMES):
        with tempfile.TemporaryDirectory() as folder:
            kiln = in_process(Plant(), DEMO_PLAN, Path(folder))
            gc.collect()
            began_s = time.perf_counter()
            firing = kiln.fire(schedule)
            took_s = time.perf_counter() - began_s
        assert firing.state is State.COMPLETE
        best = max(best, kiln.plant.now_s / took_s)
    return {"core.speed_vs_real_time": best, "core.tick_us": 1e6 / best}
