"""The forecast renewed from where a firing is: pure, from what the record and the newest frame say.

Every kiln of the ensemble is led along the air that was measured, so that its walls are as warm as they
must be by now, and its shell along the load that was measured; from there the schedule is run ahead. A
doubt that the firing has settled meanwhile (water that is long gone) counts no more.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from controller.forecast import observer
from controller.forecast.follow import Place
from controller.forecast.forecast import Forecast, forecast, job_for
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import known
from controller.forecast.load import Load
from controller.forecast.makes import TYPICAL
from controller.forecast.observer import ObserverState
from controller.forecast.past import EVERY_S, Seen, cold_c, led_along
from controller.forecast.run import Start
from controller.forecast.settled import settled
from controller.live import Frame
from controller.physics.grey import GreyKiln
from controller.schedule.model import Hold, Schedule
from controller.schedule.plan import plan

REJOINING_K = 0.5
"""A hold whose setpoint is further than this below it is still being led back to it."""


class Now(NamedTuple):
    """Where a firing is: its stage, how long by that stage's own clock, and the stage's setpoint.

    The setpoint is the load's where the stage asks for the load; None: the heat is off.
    """

    stage: int
    clock_s: float
    setpoint_c: float | None


def now_of(frame: Frame) -> Now | None:
    """Return where the firing of a frame is; None where nothing is fired."""
    stage = frame["stage"]
    if stage is None:
        return None
    asked_c = frame["load_setpoint_c"]
    return Now(stage["index"], stage["elapsed_s"], frame["setpoint_c"] if asked_c is None else asked_c)


def renew(
    schedule: Schedule,
    sheet: JobSheet | None,
    kiln: KilnKnown,
    full_rate_c_per_h: float,
    seen: Seen,
    now: Now,
    *,
    longest_s: float | None = None,
    vent_m3_per_h: float | None = None,
    begun: ObserverState | None = None,
) -> Forecast:
    """Return the forecast from now on. `begun`: the live estimate, where one runs; else it is made here.

    `longest_s`: what is left until the kiln's guard trips. A person for whom it waits longer than was
    expected is taken to come at once.
    """
    known_c = seen.air_c[~np.isnan(seen.air_c)]
    room_c = cold_c(seen)
    air_c = float(known_c[-1]) if len(known_c) else room_c
    place = _place(schedule, now, air_c)
    plastic = known(job_for(schedule, sheet)).plastic_kg.high > 0.0

    def starter(of: GreyKiln, load: Load) -> tuple[GreyKiln, Start]:
        free = led_along(of, load, seen, pinned=False)
        led = led_along(of, load, seen, pinned=True)
        return settled(of, free, seen, plastic=plastic), Start(place, led[-1])

    left = plan(
        schedule,
        air_c if now.setpoint_c is None else now.setpoint_c,
        full_rate_c_per_h,
        from_stage=now.stage,
        elapsed_s=now.clock_s,
    )
    return forecast(
        schedule,
        sheet,
        kiln,
        full_rate_c_per_h,
        room_c=room_c,
        longest_s=longest_s,
        vent_m3_per_h=vent_m3_per_h,
        starter=starter,
        left_s=left.total_s,
        begun=begun or observed(schedule, sheet, seen)[-1],
    )


def _place(schedule: Schedule, now: Now, air_c: float) -> Place:
    """Return the place of a firing. A ramp's rest begins at its setpoint, and its clock anew."""
    stage, from_c = schedule.stages[now.stage], air_c if now.setpoint_c is None else now.setpoint_c
    if isinstance(stage, Hold):
        led_back = now.setpoint_c is not None and now.setpoint_c < stage.at_c - REJOINING_K
        rejoin_c = stage.at_c if led_back else None
        return Place(now.stage, from_c, now.clock_s, now.setpoint_c, rejoin_c)
    clock_s = now.clock_s if stage.kind == "checkpoint" else 0.0
    return Place(now.stage, from_c, clock_s, now.setpoint_c)


def observed(
    schedule: Schedule, sheet: JobSheet | None, seen: Seen, weighed_s: float | None = None
) -> list[ObserverState]:
    """Return the live estimate at each moment of what was measured, the last one now.

    `weighed_s`: when it was told how much plastic was drained, from the firing's start. It counts from then
    on, or, where that was before any had run (told in advance, by another clock), as soon as the first has.
    """
    setup = observer.set_up(job_for(schedule, sheet))
    state = observer.start(setup, cold_c(seen))
    states = [state]
    drained_kg = None if sheet is None or weighed_s is None else sheet.drained_kg
    measured = zip(seen.air_c[1:].tolist(), seen.load_c[1:].tolist(), strict=True)
    for number, (air_c, load_c) in enumerate(measured, start=1):
        state = observer.step(state, setup, load_c, air_c, EVERY_S, EVERY_S)
        told = weighed_s is not None and number * EVERY_S >= weighed_s
        if told and drained_kg is not None and state.shells[TYPICAL].drained_kg_per_m2 > 0.0:
            state, drained_kg = observer.weigh(state, setup, drained_kg), None
        states.append(state)
    return states
