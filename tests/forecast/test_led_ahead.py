"""A stage that asks for the load is run ahead as the firing itself leads the air above it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from controller.firing import Cue, Firing, Inputs, Request, State
from controller.firing import step as firing_step
from controller.forecast import kiln_ahead
from controller.forecast.job import JobSheet
from controller.forecast.kiln_ahead import Ahead
from controller.forecast.kiln_known import unknown_kiln
from controller.forecast.known import known
from controller.forecast.load import Load, Loaded, loaded, reading_c
from controller.forecast.run import Run, cold_start, run_ahead
from controller.physics.grey import GreyKiln
from controller.schedule.model import Schedule
from controller.schedule.reader import read_schedule

RATE, STEP_S, FINE_S = 300.0, 30.0, 2.0
TICKS = round(STEP_S / FINE_S)
LED = """
title = "The shell, not the air"
[[stage]]
kind = "ramp"
name = "warm"
to = "200 C"
rate = "60 C/h"
follow = "load"
lead = "60 K"
[[stage]]
kind = "hold"
name = "even"
for = "20 min"
band = "4 K"
follow = "load"
lead = "60 K"
[[stage]]
kind = "checkpoint"
name = "look"
says = "Look."
heat = "off"
remind_every = "5 min"
expect = "15 min"
[[stage]]
kind = "hold"
name = "again"
at = "200 C"
for = "20 min"
band = "4 K"
follow = "load"
lead = "60 K"
"""
SCHEDULE = read_schedule(LED, "led")


class Fired(NamedTuple):
    begins_s: list[float]
    load_c: list[float]


def with_shell() -> Loaded:
    return loaded(known(JobSheet(dry_kg=6.0, wet_kg=6.0)), unknown_kiln(6500.0))


def ahead(schedule: Schedule = SCHEDULE) -> Run:
    kiln, load, _ = with_shell()
    start = cold_start(schedule, load, kiln.room_c, RATE)
    return run_ahead(schedule, kiln, load, start, RATE, STEP_S, 24 * 3600.0)


def fired() -> Fired:
    """The firing itself in short ticks, on the same kiln in the same steps; between them, what is between."""
    kiln, load, _ = with_shell()
    state = before = kiln_ahead.at_rest(kiln.room_c, load)
    firing, tick = Firing(full_rate_c_per_h=RATE), 0
    seen = Fired([0.0], [])
    requests: tuple[Request, ...] = (Request(Cue.START, schedule=SCHEDULE),)
    while True:
        now_s, part = tick * FINE_S, (tick % TICKS + 1) / TICKS
        air_c, load_c = (
            one + part * (other - one)
            for one, other in zip(shows_c(before, kiln, load), shows_c(state, kiln, load), strict=True)
        )
        firing, outputs = firing_step(firing, Inputs(FINE_S, air_c, load_c, requests=requests))
        seen.begins_s.extend([now_s] * (firing.stage - len(seen.begins_s) + 1))
        if firing.state is State.COMPLETE:
            return seen
        due = firing.waiting == "person" and firing.progress.clock_s >= 900.0
        requests = (Request(Cue.RELEASE),) if due else ()
        tick += 1
        if tick % TICKS == 0:
            seen.load_c.append(reading_c(load, state.load_c))
            before, state = state, kiln_ahead.step(state, kiln, load, outputs.setpoint_c, STEP_S)


def shows_c(state: Ahead, kiln: GreyKiln, load: Load) -> tuple[float, float]:
    return kiln_ahead.air_c(state, kiln), reading_c(load, state.load_c)


@pytest.fixture(scope="module")
def run() -> Run:
    return ahead()


def test_it_goes_as_the_firing_itself_goes_on_the_same_kiln(run: Run) -> None:
    theirs = fired()
    ours = [*run.begins_s.values(), run.end_s]
    assert ours == pytest.approx(theirs.begins_s, abs=120.0)
    count = min(len(theirs.load_c), len(run.load_c))
    off_k = np.array(run.load_c[:count]) - np.array(theirs.load_c[:count])
    assert np.sqrt(np.mean(off_k**2)) < 1.0


def test_the_air_goes_above_the_load_and_no_further_than_the_stage_allows() -> None:
    run = ahead(read_schedule(LED.replace("60 K", "20 K"), "little lead"))
    ramp = slice(int(1800.0 / STEP_S), int(run.begins_s[1] / STEP_S) - 1)
    above_k = np.array(run.setpoint_c[ramp], dtype=float) - np.array(run.load_c[ramp])
    assert above_k.min() > 15.0
    assert above_k.max() < 20.0 + 2.0


def test_the_load_goes_where_the_schedule_asks_it_to(run: Run) -> None:
    place = int(5400.0 / STEP_S)
    asked_c = run.load_c[0] + 60.0 * 5400.0 / 3600.0
    assert run.load_c[place] == pytest.approx(asked_c, abs=6.0)
