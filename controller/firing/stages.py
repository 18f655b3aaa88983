"""How each kind of stage moves: one pure function a kind, and the table that finds it.

A stage's function takes the stage, its progress, what is measured and some seconds of the schedule's
clock, and returns a `Moved`. Time that a stage did not use goes to the next one, so the setpoint does
not depend on how finely time is cut into ticks.

To add a kind of stage: its data in `schedule/model.py`, its keys in `schedule/reader.py`, its line in
`schedule/plan.py`, and its function here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

from controller.firing.model import Event, Progress
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Stage

# A ramp at full rate may run this far ahead of the load before it waits: enough for an honest lag, little
# enough that the setpoint is never a dream (common practice, no source).
FULL_RATE_LEAD_K = 30.0
# A controlled cooling has arrived when the air is within this of its end; the setpoint gets there first.
ARRIVED_K = 5.0
# A checkpoint that nobody answers brings the kiln back to its waiting temperature at this rate: gentle,
# because the shell may have been opened and cooled (common practice, no source).
KEEP_WAITING_C_PER_H = 100.0
# Sums of tick lengths are exact to far better than this, and nothing in a kiln is: a stage that lacks less
# has ended, so that its end does not depend on how the ticks were added up.
NOTHING_S = 1e-6


class Measured(NamedTuple):
    """The good readings of a tick; `load_c` falls back to the air where there is no load reading."""

    air_c: float | None
    load_c: float | None


class Moved(NamedTuple):
    """Where a stage stands after some seconds.

    `left_s` None: it goes on; else it has ended, and that many seconds belong to the next stage.
    `slope_c_per_h`: how fast the setpoint moves. `stop`: the firing is to be stopped.
    """

    progress: Progress
    setpoint_c: float | None
    slope_c_per_h: float = 0.0
    left_s: float | None = None
    waiting: str = ""
    events: tuple[Event, ...] = ()
    stop: bool = False


def ramp(stage: Ramp, progress: Progress, seen: Measured, dt_s: float, full_rate_c_per_h: float) -> Moved:
    """Move the setpoint in a straight line; stand still while the load is too far behind."""
    rate, lead_k = stage.rate_c_per_h, stage.wait_within_k
    if rate is None:
        rate = full_rate_c_per_h
        lead_k = FULL_RATE_LEAD_K if lead_k is None else lead_k
    from_c, to_c = progress.from_c, stage.to_c
    up = to_c >= from_c
    slope = rate if up else -rate
    clock_s = progress.clock_s
    if lead_k is not None and up:
        at_c = min(to_c, from_c + slope * clock_s / 3600.0)
        if seen.load_c is None or seen.load_c < at_c - lead_k:
            return Moved(progress, at_c, 0.0, waiting="load")
    clock_s += dt_s
    lasts_s = abs(to_c - from_c) / rate * 3600.0
    if clock_s >= lasts_s - NOTHING_S:
        return Moved(Progress(from_c, lasts_s), to_c, 0.0, left_s=max(0.0, clock_s - lasts_s))
    return Moved(Progress(from_c, clock_s), from_c + slope * clock_s / 3600.0, slope)


def hold(stage: Hold, progress: Progress, seen: Measured, dt_s: float, _full_rate: float) -> Moved:
    """Keep the setpoint; count only while the load is in the band."""
    if seen.load_c is None or abs(seen.load_c - stage.at_c) > stage.band_k:
        return Moved(progress, stage.at_c, waiting="band")
    clock_s = progress.clock_s + dt_s
    if stage.for_s is None:
        return _pour_hold(stage, progress, clock_s)
    if clock_s >= stage.for_s - NOTHING_S:
        left_s = max(0.0, clock_s - stage.for_s)
        return Moved(Progress(progress.from_c, stage.for_s), stage.at_c, left_s=left_s)
    return Moved(Progress(progress.from_c, clock_s), stage.at_c)


def _pour_hold(stage: Hold, progress: Progress, clock_s: float) -> Moved:
    """Wait, hot, for the pour: until a person releases it or its limit is reached."""
    events: tuple[Event, ...] = ()
    if progress.clock_s == 0.0 < clock_s:
        events = (Event("pour_ready", {"stage": stage.name, "at_c": stage.at_c}),)
    if stage.at_most_s is not None and clock_s >= stage.at_most_s - NOTHING_S:
        events += (Event("pour_limit", {"stage": stage.name, "held_s": stage.at_most_s}),)
        left_s = max(0.0, clock_s - stage.at_most_s)
        return Moved(Progress(progress.from_c, stage.at_most_s), stage.at_c, left_s=left_s, events=events)
    return Moved(Progress(progress.from_c, clock_s), stage.at_c, waiting="pour", events=events)


def checkpoint(
    stage: Checkpoint, progress: Progress, seen: Measured, dt_s: float, _full_rate: float
) -> Moved:
    """Wait for a person; remind; do what the schedule says when nobody comes."""
    clock_s = progress.clock_s + dt_s
    events: tuple[Event, ...] = ()
    reminders, nobody, from_c = progress.reminders, progress.nobody, progress.from_c
    if stage.remind_every_s is not None:
        due = math.floor(clock_s / stage.remind_every_s + 1e-9)
        if due > reminders:
            reminders = due
            events = (Event("checkpoint_reminder", {"stage": stage.name, "waited_s": round(clock_s, 3)}),)
    if not nobody and stage.after_s is not None and clock_s >= stage.after_s - NOTHING_S:
        nobody = True
        events += (Event("nobody_came", {"stage": stage.name, "then": stage.then.action}),)
        if stage.then.action == "go on":
            return Moved(
                Progress(from_c, clock_s, reminders, True),
                None,
                left_s=clock_s - stage.after_s,
                events=events,
            )
        if stage.then.action == "stop":
            return Moved(
                Progress(from_c, clock_s, reminders, True), None, waiting="person", events=events, stop=True
            )
        if stage.then.at_c is not None:
            start_c = from_c if stage.heat == "keep" else seen.air_c
            from_c = stage.then.at_c if start_c is None else min(start_c, stage.then.at_c)
    moved = Progress(from_c, clock_s, reminders, nobody)
    setpoint_c, slope = _waiting_setpoint(stage, moved)
    return Moved(moved, setpoint_c, slope, waiting="person", events=events)


def _waiting_setpoint(stage: Checkpoint, progress: Progress) -> tuple[float | None, float]:
    """The setpoint of a checkpoint and its slope (C/h): off, kept, or climbing back to where it waits."""
    if progress.nobody and stage.then.at_c is not None and stage.after_s is not None:
        climbed_k = (progress.clock_s - stage.after_s) / 3600.0 * KEEP_WAITING_C_PER_H
        if progress.from_c + climbed_k < stage.then.at_c:
            return progress.from_c + climbed_k, KEEP_WAITING_C_PER_H
        return stage.then.at_c, 0.0
    return (progress.from_c, 0.0) if stage.heat == "keep" else (None, 0.0)


def cool(stage: Cool, progress: Progress, seen: Measured, dt_s: float, _full_rate: float) -> Moved:
    """Let the kiln fall with the heat off, or lead the setpoint down; end when the air is there."""
    air_c, to_c = seen.air_c, stage.to_c
    if stage.rate_c_per_h is None:
        if air_c is not None and air_c <= to_c:
            return Moved(progress, None, left_s=0.0)
        return Moved(Progress(progress.from_c, progress.clock_s + dt_s), None, waiting="cooling")
    clock_s = progress.clock_s + dt_s
    lasts_s = max(0.0, progress.from_c - to_c) / stage.rate_c_per_h * 3600.0
    if clock_s < lasts_s - NOTHING_S:
        at_c = progress.from_c - stage.rate_c_per_h * clock_s / 3600.0
        return Moved(Progress(progress.from_c, clock_s), at_c, -stage.rate_c_per_h)
    if air_c is not None and air_c <= to_c + ARRIVED_K:
        over_s = max(
            0.0, clock_s - lasts_s
        )  # time since the setpoint arrived; more than a tick was spent waiting
        return Moved(Progress(progress.from_c, lasts_s), to_c, left_s=over_s if over_s <= dt_s else 0.0)
    return Moved(Progress(progress.from_c, clock_s), to_c, waiting="cooling")


# The one place that knows which function moves which kind of stage.
MOVE: dict[type[Stage], Callable[[Any, Progress, Measured, float, float], Moved]] = {
    Ramp: ramp,
    Hold: hold,
    Checkpoint: checkpoint,
    Cool: cool,
}
