"""What comes next is told in time, and comes: the slope and the moment, as `step` then gives them."""

from __future__ import annotations

from math import inf

import pytest

from controller.firing import Cue, Firing, Inputs, Outputs, Request, step
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Then

WAITS = Checkpoint("look", "Look.", "keep", None, None, Then("keep waiting"), 60.0)


def outputs(*stages: object, ticks: int, load_k: float = 0.0) -> list[Outputs]:
    """Run stages from 20 C at ticks of 10 s, with air and load `load_k` from the setpoint."""
    schedule = Schedule("one", tuple(stages))  # type: ignore[arg-type]
    firing, told = step(Firing(), Inputs(0.0, 20.0, requests=(Request(Cue.START, schedule=schedule),)))
    seen = [told]
    for _ in range(ticks):
        at_c = told.setpoint_c if told.setpoint_c is not None else 20.0
        firing, told = step(firing, Inputs(10.0, at_c + load_k, at_c + load_k))
        seen.append(told)
    return seen


@pytest.mark.parametrize(
    ("after", "slope"),
    [
        (Hold("rest", 50.0, 600.0, 5.0), 0.0),
        (Ramp("on", 80.0, 30.0), 30.0),
        (Ramp("down", 20.0, 40.0), -40.0),
        (Ramp("full", 80.0, None), 300.0),
        (Cool("cool", 20.0, 25.0), -25.0),
        (WAITS, 0.0),
    ],
)
def test_a_ramp_tells_of_its_corner_and_of_the_slope_behind_it(after: object, slope: float) -> None:
    seen = outputs(Ramp("up", 50.0, 120.0), after, ticks=120)
    corner = next(n for n, told in enumerate(seen) if n and told.slope_c_per_h != 120.0)
    before = seen[corner - 7]
    assert before.next_slope_c_per_h == pytest.approx(slope)
    assert before.corner_s == pytest.approx(60.0, abs=10.0)
    assert seen[corner + 1].slope_c_per_h == pytest.approx(slope)


def test_a_hold_tells_when_the_next_ramp_begins() -> None:
    seen = outputs(Ramp("up", 21.0, 360.0), Hold("rest", 21.0, 300.0, 5.0), Ramp("on", 90.0, 60.0), ticks=60)
    told = [(n, one) for n, one in enumerate(seen) if one.next_slope_c_per_h == pytest.approx(60.0)]
    begins = {round(n * 10.0 + one.corner_s) for n, one in told}
    assert len(told) > 20
    assert begins == {310}


def test_far_ahead_nobody_looks() -> None:
    seen = outputs(Ramp("up", 500.0, 60.0), Hold("rest", 500.0, 300.0, 5.0), ticks=3)
    assert all(one.corner_s == inf and one.next_slope_c_per_h is None for one in seen)


def test_a_hold_whose_clock_waits_for_its_band_tells_nothing() -> None:
    seen = outputs(Hold("rest", 20.0, 300.0, 5.0), Ramp("on", 90.0, 60.0), ticks=10, load_k=-8.0)
    assert all(one.corner_s == inf for one in seen[1:])


def test_nor_does_a_pour_that_waits_for_a_person() -> None:
    seen = outputs(Hold("pour", 20.0, None, 5.0), Ramp("on", 90.0, 60.0), ticks=10)
    assert all(one.corner_s == inf for one in seen)
