"""A drawn kiln through the PLA schedule in one process, and what the control made of it, in numbers.

Errors are of what the air thermocouple would show without its noise: nobody can control noise. (Noise moves
the kiln all the same, by way of the control, and that counts.)

What burns in the kiln may heat it with the heat off, and no control can cool a kiln. So overshoot and hold
error are told twice: `overshoot_k` and `hold_error_k` leave out the moments at which the air was above the
hold with no heat given for `UNHEATED_S`; `*_all_told_k` leave out nothing.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from controller.control import Plan
from controller.firing import State
from controller.physics.kiln import KilnState
from controller.record.curve import NO_STAGE, Curve, Floats
from controller.review.measures import hold_error_k, overshoot_k
from controller.schedule.index import find
from controller.schedule.model import Hold, Ramp, Schedule
from controller.schedule.reader import load_schedule
from controller.tick import Ticked
from tests.bench.kilns import DrawnKiln
from tests.in_process import InProcess, in_process

SCHEDULE = load_schedule(find("printed-pla-silica-shell"))

UNHEATED_S = 300.0
"""So long after the last heat, what the elements still held has gone over (their lag is 60 to 180 s), and a
rise is none of the heater's. Until then all of it counts against the control. Chosen."""


class CutShortError(Exception):
    """A firing that the guard ended; its text is what it found."""


class Fired(NamedTuple):
    """A firing's curve as a record has it, what the air thermocouple (C) would show without noise, and the
    plant's whole state, a row a tick (temperatures in the order of `KilnState`)."""

    curve: Curve
    true_c: Floats
    states: Floats


class Quality(NamedTuple):
    """How well a firing was controlled. `iae_k_s`: integral of the absolute error, K s.

    `overshoot_k`, `hold_error_k`: the worst of all holds, without what nobody heated (see above).
    """

    iae_k_s: float
    rms_k: float
    overshoot_k: float
    hold_error_k: float
    cycles_per_h: float
    overshoot_all_told_k: float
    hold_error_all_told_k: float


def fire(
    drawn: DrawnKiln,
    plan: Plan,
    noise_seed: int,
    tick_s: float = 1.0,
    prepare: Callable[[InProcess], None] = lambda _kiln: None,
    schedule: Schedule = SCHEDULE,
) -> Fired:
    """Run a schedule to its end. `prepare` may change the loop before it starts. Raises CutShortError."""
    found = ""
    rows: list[tuple[float, ...]] = []
    states: list[KilnState] = []
    plant = drawn.plant(noise_seed)
    polled = [plant.state]

    def note(ticked: Ticked) -> None:
        nonlocal found
        if ticked.verdict.trip and not found:
            found = ", ".join(f"{one.row.id}: {one.found}" for one in ticked.verdict.findings)
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
    if found:
        raise CutShortError(found)
    assert firing.state is State.COMPLETE, (drawn.seed, firing.state)
    seen = np.array(states)
    return Fired(curve_of(rows), seen[:, KilnState._fields.index("air_probe_c")], seen)


def curve_of(rows: list[tuple[float, ...]]) -> Curve:
    """Return the curve of rows of time (s), setpoint, air, load (C), duty, heat and stage."""
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
    curve = replace(recorded, air_c=true_c)
    asked = ~np.isnan(curve.setpoint_c)
    off_k = np.abs(true_c - curve.setpoint_c)[asked]
    dt_s = float(np.median(np.diff(curve.t_s)))
    heat = curve.heat_on
    cycles = int((heat[1:] & ~heat[:-1]).sum())
    over_k, error_k = _at_holds(heated_part(curve, schedule), schedule)
    all_over_k, all_error_k = _at_holds(curve, schedule)
    return Quality(
        iae_k_s=float(off_k.sum() * dt_s),
        rms_k=float(np.sqrt(np.mean(off_k * off_k))),
        overshoot_k=over_k,
        hold_error_k=error_k,
        cycles_per_h=float(cycles / (asked.sum() * dt_s / 3600.0)),
        overshoot_all_told_k=all_over_k,
        hold_error_all_told_k=all_error_k,
    )


def _at_holds(curve: Curve, schedule: Schedule) -> tuple[float, float]:
    """Return the worst overshoot and the worst error (K) of all holds."""
    holds = [(place, stage) for place, stage in enumerate(schedule.stages) if isinstance(stage, Hold)]
    return (
        max(overshoot_k(curve, schedule.stages, place) or 0.0 for place, _ in holds),
        max(hold_error_k(curve, stage, place) or 0.0 for place, stage in holds),
    )


def heated_part(curve: Curve, schedule: Schedule = SCHEDULE) -> Curve:
    """Return the curve with the air at its hold's temperature wherever it is above it and nobody heated."""
    last_s = np.maximum.accumulate(np.where(curve.heat_on, curve.t_s, -np.inf))
    unheated = curve.t_s - last_s > UNHEATED_S
    air_c = curve.air_c.copy()
    for place, stage in enumerate(schedule.stages):
        if isinstance(stage, Hold):
            leads = place > 0 and isinstance(schedule.stages[place - 1], Ramp)
            window = (curve.stage == place) | (leads & (curve.stage == place - 1))
            mine = unheated & window & (air_c > stage.at_c)
            air_c[mine] = stage.at_c
    return replace(curve, air_c=air_c)
