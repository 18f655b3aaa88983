"""Speed of the whole loop in one process, without a wire: plant, guard, core and control.

Measured twice, in turns: as it runs a kiln (plain Python), and with its heart compiled, as the campaign of
faults and the bench of control run it. Both must make the same of a firing, tick by tick and to the bit.
"""

from __future__ import annotations

import gc
import hashlib
import json
import tempfile
import time
from pathlib import Path

from controller.firing import State
from controller.schedule.index import find
from controller.schedule.reader import load_schedule
from controller.simulator.plant import Plant
from controller.tick import Ticked
from tests import compiled
from tests.in_process import DEMO_PLAN, InProcess, in_process

SCHEDULE = "printed-pla-silica-shell"
TURNS = 3


def measure() -> dict[str, float]:
    """Run the PLA schedule at one-second ticks; return kiln seconds a second (the best of three).

    The best, because this asks what the code costs, not what else the computer was doing.
    """
    folder = compiled.tree()
    ways = {"plain": None} if folder is None else {"plain": None, "compiled": folder}
    runs: dict[str, list[dict[str, str | float]]] = {way: [] for way in ways}
    for _ in range(TURNS):
        for way, where in ways.items():
            runs[way].append(json.loads(compiled.run(where, "tests.bench.core", capture=True)))
    same = {run["fingerprint"] for all_runs in runs.values() for run in all_runs}
    assert len(same) == 1, "plain and compiled do not make the same of a firing"
    assert all(run["compiled"] == (way == "compiled") for way in runs for run in runs[way])
    best = {way: max(float(run["speed"]) for run in all_runs) for way, all_runs in runs.items()}
    plain = best["plain"]
    figures = {"core.speed_vs_real_time_plain": plain, "core.tick_us_plain": 1e6 / plain}
    if "compiled" in best:
        figures |= {"core.speed_vs_real_time": best["compiled"], "core.tick_us": 1e6 / best["compiled"]}
    return figures


def speed() -> float:
    """Return kiln seconds for each second of computing, of one firing."""
    with tempfile.TemporaryDirectory() as folder:
        kiln = _kiln(folder)
        schedule = load_schedule(find(SCHEDULE))
        gc.collect()
        began_s = time.perf_counter()
        firing = kiln.fire(schedule)
        took_s = time.perf_counter() - began_s
    assert firing.state is State.COMPLETE
    return kiln.plant.now_s / took_s


def fingerprint() -> str:
    """Return a digest of all that the ticks of one firing gave."""
    digest = hashlib.sha256()

    def add(ticked: Ticked) -> None:
        found = [(one.row.id, *one[1:]) for one in ticked.verdict.findings]
        firing = ticked.firing._replace(schedule=None)  # the same one all along; it knows where its file lies
        digest.update(repr((ticked._replace(verdict=None, firing=firing), found)).encode())

    with tempfile.TemporaryDirectory() as folder:
        _kiln(folder).fire(load_schedule(find(SCHEDULE)), add)
    return digest.hexdigest()


def _kiln(folder: str) -> InProcess:
    return in_process(Plant(), DEMO_PLAN, Path(folder))


if __name__ == "__main__":
    print(
        json.dumps({"compiled": compiled.is_compiled(), "speed": speed(), "fingerprint": fingerprint()}),
    )
