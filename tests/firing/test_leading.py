"""A stage that asks for the load: the air leads it, no further above it than the schedule allows."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from controller.control import Plan, Tuning
from controller.firing import Cue, Firing, Inputs, Request, State, step
from controller.firing.recovery import kept, taken_up
from controller.known_kiln import known_kiln
from controller.physics.grey import typical
from controller.schedule.leading import LONGEST_S, SHORTEST_S, Led, lag_s, lead
from controller.schedule.reader import read_schedule
from controller.simulator.plant import Plant
from controller.tick import Ticked
from tests.in_process import DEMO_PLAN, in_process

SCHEDULE = """
title = "The shell, not the air"
[[stage]]
kind = "ramp"
name = "warm"
to = "300 C"
rate = "150 C/h"
follow = "load"
lead = "40 K"
[[stage]]
kind = "hold"
name = "stay"
for = "40 min"
band = "6 K"
follow = "load"
lead = "40 K"
"""
MARGIN_K = 40.0
KNOWN = Plan(Tuning(0.08, 500.0), DEMO_PLAN.switching, 6500.0, kiln=known_kiln(typical(6500.0)))


class Seen(NamedTuple):
    """A row a tick."""

    stage: np.ndarray
    asked_c: np.ndarray
    led_c: np.ndarray
    air_c: np.ndarray
    load_c: np.ndarray


def fired(plan: Plan, folder: Path, water_kg: float, text: str = SCHEDULE) -> Seen:
    kiln = in_process(Plant(water_kg=water_kg, plastic_kg=0.0), plan, folder)
    rows: list[tuple[float, ...]] = []

    def note(ticked: Ticked) -> None:
        outputs, state = ticked.outputs, kiln.plant.state
        if outputs.load_setpoint_c is not None and outputs.setpoint_c is not None:
            rows.append(
                (
                    ticked.firing.stage,
                    outputs.load_setpoint_c,
                    outputs.setpoint_c,
                    state.air_probe_c,
                    state.load_probe_c,
                )
            )

    assert kiln.fire(read_schedule(text, "load"), note).state is State.COMPLETE
    return Seen(*np.array(rows).T)


@pytest.mark.parametrize(("plan", "water_kg"), [(DEMO_PLAN, 0.0), (KNOWN, 0.6)])
def test_the_load_gets_where_it_is_asked_and_the_air_never_far_above_it(
    plan: Plan, water_kg: float, tmp_path: Path
) -> None:
    seen = fired(plan, tmp_path, water_kg)
    above_k = seen.air_c - seen.load_c
    assert 15.0 < above_k.max() < MARGIN_K + 2.0  # it leads, and noise and the relay have their own
    assert (seen.led_c <= seen.asked_c + MARGIN_K).all()
    hold = seen.load_c[seen.stage == 1]
    assert abs(hold[-600:] - 300.0).max() < 2.0
    assert hold.max() < 303.0


def test_where_the_margin_suffices_the_load_is_on_its_line_and_not_behind_the_air(tmp_path: Path) -> None:
    text = SCHEDULE.replace("150 C/h", "60 C/h").replace("40 K", "150 K")
    seen = fired(KNOWN, tmp_path, 0.0, text)
    ramp = np.flatnonzero(seen.stage == 0)[5400:-600]
    assert (seen.air_c - seen.load_c)[ramp].mean() > 10.0  # so much it would lag behind air on that line
    assert np.abs(seen.load_c - seen.asked_c)[ramp].max() < 5.0
    assert seen.load_c.max() < 304.0


def steady(led: Led | None, lag: float, seconds: int, rate: float = 100.0 / 3600.0) -> Led:
    """Show it a load that rises steadily behind its air."""
    for n in range(seconds):
        load_c = 100.0 + rate * n
        led = lead(led, load_c, rate * 3600.0, 500.0, load_c + lag * rate, load_c, 300.0, 1.0)
    assert led is not None
    return led


@pytest.mark.parametrize("lag", [300.0, 900.0, 2400.0])
def test_the_load_s_lag_is_found_from_what_the_thermocouples_show(lag: float) -> None:
    assert lag_s(steady(None, lag, 5400)) == pytest.approx(lag, rel=0.05)


def test_a_lag_that_makes_no_sense_stays_in_bounds() -> None:
    assert lag_s(Led(0.0, 0.0, 0.0, xy=-1.0, yy=1.0)) == SHORTEST_S
    assert lag_s(Led(0.0, 0.0, 0.0, xy=1e9, yy=1.0)) == LONGEST_S


def test_a_load_that_stands_still_holds_the_air_at_the_margin() -> None:
    led = None
    for _ in range(7200):
        led = lead(led, 200.0, 60.0, 30.0, 125.0, 100.0, 300.0, 1.0)
    assert led is not None
    assert led.air_c == pytest.approx(130.0)


def test_a_load_that_cannot_be_read_leads_nothing_upwards() -> None:
    led = lead(steady(None, 900.0, 600), 150.0, 100.0, 40.0, 160.0, None, 300.0, 1.0)
    assert led.air_c <= 150.0
    assert led.slope_k_per_s == 0.0
    assert lead(None, 150.0, 100.0, 40.0, 160.0, None, 300.0, 1.0).air_c == 150.0


def test_after_an_outage_the_load_s_own_setpoint_is_what_is_gone_back_to() -> None:
    schedule = read_schedule(SCHEDULE, "load")
    firing, _ = step(Firing(), Inputs(1.0, 20.0, 20.0, requests=(Request(Cue.START, schedule=schedule),)))
    for n in range(600):
        firing, outputs = step(firing, Inputs(1.0, 20.0 + n / 20.0, 20.0 + n / 40.0))
    assert outputs.setpoint_c is not None
    assert outputs.setpoint_c > (outputs.load_setpoint_c or 0.0) + 1.0
    again = taken_up(schedule, 300.0, firing.state, 0, outputs.setpoint_c, kept(firing), 10.0)
    assert again.rejoin_c == firing.setpoint_c == outputs.load_setpoint_c


def test_an_air_hotter_than_the_load_does_not_bring_the_load_s_setpoint_on() -> None:
    schedule = read_schedule(SCHEDULE, "load")
    back = Firing(
        State.RESTARTING, schedule, 300.0, 0, Firing().progress._replace(from_c=20.0), 100.0, rejoin_c=200.0
    )
    for _ in itertools.repeat(None, 10):
        back, _ = step(back, Inputs(1.0, 150.0, 100.0))
    assert back.setpoint_c == pytest.approx(100.0, abs=1.0)
