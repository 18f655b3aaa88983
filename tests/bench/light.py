"""The same firing without guard, wire and record: plant, firing, control and relay alone, twice as fast.

In a healthy firing the guard only looks on, so what happens is the same to the bit (a test holds that). It
is used where hundreds of firings are needed and nobody looks at each: for the search of the rival's settings.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from controller.control import Control, Plan, control
from controller.firing import OPEN, Cue, Firing, Inputs, Request, State, step
from controller.schedule.model import Checkpoint, Hold, Schedule
from tests.bench.firings import SCHEDULE, Fired, curve_of
from tests.bench.kilns import DrawnKiln

Act = Callable[
    [Control, Plan, float | None, float, float | None, bool, float, float | None, float],
    tuple[Control, bool],
]
"""As `controller.control.control`."""

FULL_RATE_C_PER_H = 300.0


def fire_light(
    drawn: DrawnKiln,
    plan: Plan,
    noise_seed: int,
    tick_s: float = 1.0,
    act: Act = control,
    schedule: Schedule = SCHEDULE,
) -> Fired:
    """Run a schedule to its end; a person comes when expected. The plant's states are not kept."""
    plant = drawn.plant(noise_seed)
    plant.set_main(True)
    firing, carried, heat = Firing(full_rate_c_per_h=FULL_RATE_C_PER_H), Control(), False
    requests: tuple[Request, ...] = (Request(Cue.START, schedule=schedule),)
    rows: list[tuple[float, ...]] = []
    true_c: list[float] = []
    while True:
        air_c, load_c, _ = plant.readings()
        proven_off = not plant.heat_aux
        firing, out = step(firing, Inputs(tick_s, air_c, load_c, False, False, False, proven_off, requests))
        carried, heat = act(
            carried,
            plan,
            out.setpoint_c,
            out.slope_c_per_h,
            air_c,
            heat,
            tick_s,
            out.next_slope_c_per_h,
            out.corner_s,
        )
        setpoint_c = np.nan if out.setpoint_c is None else out.setpoint_c
        rows.append(
            (plant.now_s, setpoint_c, air_c or np.nan, load_c or np.nan, carried.duty, heat, firing.stage)
        )
        true_c.append(plant.state.air_probe_c)
        if firing.state not in OPEN:
            assert firing.state is State.COMPLETE, (drawn.seed, firing.state)
            return Fired(curve_of(rows), np.array(true_c), np.empty((0, 0)))
        plant.set_heat(heat)
        plant.advance(tick_s)
        requests = _released(firing, schedule)


def _released(firing: Firing, schedule: Schedule) -> tuple[Request, ...]:
    """As `InProcess`: a person comes once it has waited for as long as the schedule expects."""
    if firing.waiting in ("person", "pour") and firing.state is State.RUNNING:
        stage = schedule.stages[firing.stage]
        if isinstance(stage, Checkpoint | Hold) and firing.progress.clock_s >= stage.expect_s:
            return (Request(Cue.RELEASE),)
    return ()
