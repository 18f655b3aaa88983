"""What is carried from tick to tick goes through the record as text and comes back the same to the bit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from controller.firing import Cue, Request
from controller.plain import from_plain, to_plain
from controller.schedule.model import Hold, Ramp, Schedule
from controller.simulator.plant import Plant
from controller.tick import Carried
from tests.in_process import DEMO_PLAN, in_process

SCHEDULE = Schedule("short", (Ramp("up", 300.0, 600.0), Hold("soak", 300.0, 600.0, 20.0)))


def carried_after(ticks: int, folder: Path, fault: str | None = None) -> Carried:
    kiln = in_process(Plant(), DEMO_PLAN, folder)
    kiln.tick(Request(Cue.START, schedule=SCHEDULE))
    if fault is not None:
        kiln.plant.set_fault(fault, True)
    for _ in range(ticks):
        kiln.tick()
    carried = kiln.loop.carries()
    return carried._replace(firing=type(carried.firing)(carried.firing.state))


@pytest.mark.parametrize(("ticks", "fault"), [(0, None), (900, None), (200, "air_open")])
def test_what_a_loop_carries_comes_back_the_same(ticks: int, fault: str | None, tmp_path: Path) -> None:
    carried = carried_after(ticks, tmp_path, fault)
    again = from_plain(Carried, json.loads(json.dumps(to_plain(carried))))
    assert again == carried
    assert repr(again) == repr(carried)


def test_what_another_version_kept_is_refused(tmp_path: Path) -> None:
    plain = to_plain(carried_after(0, tmp_path))
    with pytest.raises(ValueError, match=f"found {len(plain) - 1} fields, expected {len(plain)}"):
        from_plain(Carried, plain[:-1])
