"""Control on the demo kiln, through the whole PLA schedule: overshoot and hold error at every hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.firing import State
from controller.schedule.index import find
from controller.schedule.model import Hold
from controller.schedule.reader import load_schedule
from controller.simulator.plant import Plant
from controller.tick import Ticked
from tests.in_process import DEMO_PLAN, in_process

SETTLED_S = 900.0


@pytest.mark.parametrize("tick_s", [1.0, 2.0])
def test_every_hold_of_the_pla_schedule_is_kept(tick_s: float, tmp_path: Path) -> None:
    schedule = load_schedule(find("printed-pla-silica-shell"))
    kiln = in_process(Plant(), DEMO_PLAN, tmp_path, tick_s=tick_s)
    seen: dict[int, list[tuple[float, float]]] = {}

    def note(ticked: Ticked) -> None:
        air_c = ticked.polled.readings["air"].value_c
        assert air_c is not None
        seen.setdefault(ticked.firing.stage, []).append((ticked.now_s, air_c))

    firing = kiln.fire(schedule, note)
    assert firing.state is State.COMPLETE
    holds = [(place, stage) for place, stage in enumerate(schedule.stages) if isinstance(stage, Hold)]
    assert len(holds) >= 4
    for place, stage in holds:
        began_s = seen[place][0][0]
        overshoot_k = max(air_c for _, air_c in seen[place]) - stage.at_c
        settled = [abs(air_c - stage.at_c) for t_s, air_c in seen[place] if t_s - began_s > SETTLED_S]
        assert overshoot_k < 5.0, stage.name
        assert max(settled) < 3.0, stage.name
