"""A drawn kiln through the PLA schedule in one process, and what the control made of it, in numbers.

Errors are of what the air thermocouple would show without its noise: nobody can control noise.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from controller.control import Plan
from controller.firing import State
from controller.physics.kiln import KilnState
from controller.record.curve import NO_STAGE, Curve, Floats
from controller.review.measures import hold_error_k, overshoot_k
from controller.schedule.index import find
from controller.schedule.model import Hold, Schedule
from controller.schedule.reader import load_schedule
from controller.tick import Ticked
from tests.bench.kilns import DrawnKiln
from tests.in_process import InProcess, in_process

SCHEDULE = load_schedule(find("printed-pla-silica-shell"))


class Fired(NamedTuple):
    """A firing's curve as a record has it, what the air thermocouple (C) would show without noise, and the
    plant's whole state, a row a tick (temperatures in the order of `KilnState`)."""

    curve: Curve
    true_c: Floats
    states: Floats


class Quality(NamedTuple):
    """How well a firing was controlled. `iae_k_s`: integral of the absolute error, K s."""

    iae_k_s: float
    rms_k: float
    overshoot_k: float
    hold_error_k: float
    cycles_per_h: float


def fire(
    drawn: DrawnKiln,
    plan: Plan,
    noise_seed: int,
    tick_s: float = 1.0,
    prepare: Callable[[InProcess], None] = lambda _kiln: None,
    schedule: Schedule = SCHEDULE,
) -> Fired:
    """Run a schedule to its end. `prepare` may change the loop before it starts."""
    rows: list[tuple[float, ...]] = []
    states: list[KilnState] = []
    plant = drawn.plant(noise_seed)
    polled = [plant.state]

    def note(ticked: Ticked) -> None:
        firing, readings = ticked.firing, ticked.polled.readings
        setpoint_c = ticked.outputs.setpoint_c
        rows.append(
            (
                ticked.now_s,
                np.nan if setpoint_c is None else setpoint_c,
                readings["air"].value_c or np.nan,
                readings["load"].value_c or np.nan,
                ticked.duty,
                ticked.grant.heat,
                firing.stage,
            )
        )
        states.append(polled[0])
        polled[0] = plant.state  # the plant has gone on since: this is what the next tick polls

    with tempfile.TemporaryDirectory() as folder:
        kiln = in_process(plant, plan, Path(folder), tick_s=tick_s, longest_firing_s=96 * 3600.0)
        prepare(kiln)
        firing = kiln.fire(schedule, note)
    assert firing.state is State.COMPLETE, (drawn.seed, firing.state)
    seen = np.array(states)
    return Fired(_curve(rows), seen[:, KilnState._fields.index("air_probe_c")], seen)


def _curve(rows: list[tuple[float, ...]]) -> Curve:
    t_s, setpoint_c, air_c, load_c, duty, heat, stage = np.array(rows).T
    return Curve(
        n=np.arange(len(t_s)),
        t_s=t_s - t_s[0],
        utc_s=t_s,
        setpoint_c=setpoint_c,
        air_c=air_c,
        load_c=load_c,
        limit_c=air_c,
        duty=duty,
        heat_on=heat > 0.5,
        stage=np.where(np.isnan(setpoint_c) & (stage < 0), NO_STAGE, stage).astype(np.int64),
    )


def quality(fired: Fired, schedule: Schedule = SCHEDULE) -> Quality:
    """Measure a firing, by the definitions of the reports (`controller.review.measures`)."""
    recorded, true_c, _ = fired
    curve = Curve(
        **{name: getattr(recorded, name) for name in Curve.__slots__ if name != "air_c"}, air_c=true_c
    )
    asked = ~np.isnan(curve.setpoint_c)
    off_k = np.abs(true_c - curve.setpoint_c)[asked]
    dt_s = float(np.median(np.diff(curve.t_s)))
    holds = [(place, stage) for place, stage in enumerate(schedule.stages) if isinstance(stage, Hold)]
    heat = curve.heat_on
    cycles = int((heat[1:] & ~heat[:-1]).sum())
    return Quality(
        iae_k_s=float(off_k.sum() * dt_s),
        rms_k=float(np.sqrt(np.mean(off_k * off_k))),
        overshoot_k=max(overshoot_k(curve, schedule.stages, place) or 0.0 for place, _ in holds),
        hold_error_k=max(hold_error_k(curve, stage, place) or 0.0 for place, stage in holds),
        cycles_per_h=cycles / (asked.sum() * dt_s / 3600.0),
    )
