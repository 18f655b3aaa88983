"""The schedule led along by what a forecast kiln does: where the setpoint is, which stage is in hand.

The same rules as a firing's (a ramp waits for the load, a hold counts only in its band, a heat that was off
comes back at the last ramp's rate), written for steps of half a minute, and with people who come when the
schedule expects them: a checkpoint is released after its `expect`, a pour after the hold's.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage

FULL_RATE_LEAD_K = 30.0
"""A ramp at full rate waits when the load is this far behind; as the firing does."""

ARRIVED_K = 5.0
REJOIN_WITHIN_K = 10.0
"""As the firing has them: when a cooling has arrived, and when a heat that was off goes straight on."""


class Place(NamedTuple):
    """Where a schedule stands. `clock_s` counts as the stage's own clock does."""

    stage: int
    from_c: float
    clock_s: float = 0.0
    setpoint_c: float | None = None
    rejoin_c: float | None = None
    """The setpoint is being led back to this."""
    waiting: bool = False


class Moved(NamedTuple):
    """The stage's clock and setpoint after some seconds; `left_s` is not None when it ended."""

    clock_s: float
    setpoint_c: float | None
    left_s: float | None = None
    waiting: bool = False


def begin(schedule: Schedule, stage: int, setpoint_c: float | None, air_c: float, rate: float) -> Place:
    """Return the place at the beginning of a stage; `setpoint_c` None: the heat was off.

    `air_c`: what the stage's setpoint is for: the load's, where it asks for the load.
    """
    from_c = air_c if setpoint_c is None else setpoint_c
    if stage >= len(schedule.stages):
        return Place(stage, from_c)
    now = schedule.stages[stage]
    if isinstance(now, Checkpoint):
        return Place(stage, from_c, setpoint_c=from_c if now.heat == "keep" else None)
    if isinstance(now, Hold):
        if setpoint_c is None and air_c < now.at_c - REJOIN_WITHIN_K:
            return Place(stage, from_c, setpoint_c=air_c, rejoin_c=now.at_c)
        return Place(stage, from_c, setpoint_c=now.at_c)
    return Place(stage, from_c, setpoint_c=from_c)


def follow(
    schedule: Schedule, place: Place, air_c: float, load_c: float, dt_s: float, full_rate_c_per_h: float
) -> Place:
    """Return the place `dt_s` later; its `stage` is the number of stages when the schedule has ended."""
    while place.stage < len(schedule.stages):
        if place.rejoin_c is not None:
            hottest_c = max(load_c, _asked_of(schedule, place.stage, air_c, load_c))
            return _rejoin(schedule, place, hottest_c, dt_s, full_rate_c_per_h)
        moved = _move(schedule.stages[place.stage], place, air_c, load_c, dt_s, full_rate_c_per_h)
        if moved.left_s is None:
            return place._replace(clock_s=moved.clock_s, setpoint_c=moved.setpoint_c, waiting=moved.waiting)
        shows_c = _asked_of(schedule, place.stage + 1, air_c, load_c)
        place = begin(schedule, place.stage + 1, moved.setpoint_c, shows_c, full_rate_c_per_h)
        dt_s = moved.left_s
    return place


def _asked_of(schedule: Schedule, stage: int, air_c: float, load_c: float) -> float:
    """Return what shows how far a stage's setpoint is reached: the load, where it asks for the load."""
    led = stage < len(schedule.stages) and schedule.stages[stage].lead_k is not None
    return load_c if led else air_c


def _move(stage: Stage, place: Place, air_c: float, load_c: float, dt_s: float, full: float) -> Moved:
    match stage:
        case Ramp():
            return _ramp(stage, place, load_c, dt_s, full)
        case Hold():
            return _hold(stage, place, load_c, dt_s)
        case Checkpoint():
            return _count(place.clock_s + dt_s, stage.expect_s, place.setpoint_c)
        case Cool():
            return _cool(stage, place, air_c, dt_s)


def _ramp(stage: Ramp, place: Place, load_c: float, dt_s: float, full: float) -> Moved:
    rate = stage.rate_c_per_h or full
    lead_k = stage.wait_within_k
    if stage.rate_c_per_h is None and lead_k is None:
        lead_k = FULL_RATE_LEAD_K
    slope = rate if stage.to_c >= place.from_c else -rate
    at_c = place.from_c + slope * place.clock_s / 3600.0
    if lead_k is not None and slope > 0.0 and load_c < min(at_c, stage.to_c) - lead_k:
        return Moved(place.clock_s, at_c, waiting=True)
    clock_s = place.clock_s + dt_s
    lasts_s = abs(stage.to_c - place.from_c) / rate * 3600.0
    if clock_s >= lasts_s:
        return Moved(lasts_s, stage.to_c, clock_s - lasts_s)
    return Moved(clock_s, place.from_c + slope * clock_s / 3600.0)


def _hold(stage: Hold, place: Place, load_c: float, dt_s: float) -> Moved:
    if abs(load_c - stage.at_c) > stage.band_k:
        return Moved(place.clock_s, stage.at_c, waiting=True)
    lasts_s = stage.for_s
    if lasts_s is None:
        lasts_s = stage.expect_s if stage.at_most_s is None else min(stage.expect_s, stage.at_most_s)
    return _count(place.clock_s + dt_s, lasts_s, stage.at_c)


def _count(clock_s: float, lasts_s: float, setpoint_c: float | None) -> Moved:
    return Moved(clock_s, setpoint_c, clock_s - lasts_s if clock_s >= lasts_s else None)


def _cool(stage: Cool, place: Place, air_c: float, dt_s: float) -> Moved:
    if stage.rate_c_per_h is None:
        return Moved(place.clock_s, None, dt_s if air_c <= stage.to_c else None, waiting=True)
    clock_s = place.clock_s + dt_s
    lasts_s = max(0.0, place.from_c - stage.to_c) / stage.rate_c_per_h * 3600.0
    if clock_s < lasts_s:
        return Moved(clock_s, place.from_c - stage.rate_c_per_h * clock_s / 3600.0)
    arrived = air_c <= stage.to_c + ARRIVED_K
    return Moved(place.clock_s, stage.to_c, 0.0 if arrived else None, waiting=not arrived)


def _rejoin(schedule: Schedule, place: Place, hottest_c: float, dt_s: float, full: float) -> Place:
    assert place.rejoin_c is not None
    assert place.setpoint_c is not None
    rate = next(
        (
            stage.rate_c_per_h or full
            for stage in reversed(schedule.stages[: place.stage + 1])
            if isinstance(stage, Ramp)
        ),
        full,
    )
    next_c = max(place.setpoint_c + rate * dt_s / 3600.0, hottest_c)
    if next_c >= place.rejoin_c:
        return place._replace(setpoint_c=place.rejoin_c, rejoin_c=None, waiting=False)
    return place._replace(setpoint_c=next_c, waiting=True)
