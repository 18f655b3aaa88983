"""Frames for the screens, made from the newest tick. Runs beside the tick, never in it."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from datetime import UTC, datetime

from controller import live
from controller.firing import HEATING, OPEN, Firing, State, accepts, person_needed, stage_of
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage
from controller.schedule.plan import Plan, Span, plan
from controller.tick import Ticked
from controller.wire.reading import Reading

WAITING = {
    "load": "The schedule waits: the load is too far below the setpoint.",
    "band": "The hold has not begun to count: the load is not within its band yet.",
    "guard": "The schedule waits for the guard: see the alarms.",
    "cooling": "The schedule waits for the kiln to cool.",
    "recovery": live.CUT_SHORT,
    "rejoining": "The kiln fell behind; it is being led back to where the schedule stopped.",
}


@dataclass(frozen=True, slots=True)
class About:
    """What does not change from frame to frame."""

    kiln: str
    simulated: bool
    ceiling_c: float
    tick_s: float
    speed: float


@dataclass(frozen=True, slots=True)
class Extra:
    """What the service knows besides the tick."""

    firing: int | None
    started_utc_s: float | None
    elapsed_s: float
    alarms: list[live.Alarm]
    late_ticks: int
    now_s: float


def iso(utc_s: float) -> str:
    """Return UTC seconds as an ISO 8601 text."""
    return datetime.fromtimestamp(utc_s, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def frame(ticked: Ticked, about: About, extra: Extra) -> live.Frame:
    """Make one frame. Pure."""
    firing, readings = ticked.firing, ticked.polled.readings
    air_c = readings["air"].value_c
    ahead = _ahead(firing, air_c)
    return {
        "n": ticked.n,
        "mono_s": round(ticked.now_s, 3),
        "utc": iso(ticked.utc_s),
        "speed": about.speed,
        "kiln": about.kiln,
        "simulated": about.simulated,
        "ceiling_c": about.ceiling_c,
        "firing": extra.firing,
        "state": firing.state.value,
        "title": firing.schedule.title if firing.schedule else "",
        "started_utc": iso(extra.started_utc_s) if extra.started_utc_s is not None else None,
        "elapsed_s": round(extra.elapsed_s, 1),
        "stage": _stage_now(firing, ahead),
        "next": _span_ahead(ahead, lambda span: span.index > firing.stage),
        "stop": _span_ahead(ahead, lambda span: span.index > firing.stage and _waits(firing, span)),
        "pour": _span_ahead(ahead, lambda span: _is_pour(firing, span)),
        "end": _end(ahead),
        "setpoint_c": ticked.outputs.setpoint_c,
        "load_setpoint_c": ticked.outputs.load_setpoint_c,
        "air": _sensed(readings["air"], extra.now_s),
        "load": _sensed(readings["load"], extra.now_s) if "load" in readings else None,
        "limit": _sensed(readings["limit"], extra.now_s) if "limit" in readings else None,
        "duty": round(ticked.duty, 4),
        "heat_on": ticked.grant.heat,
        "lease_s": ticked.grant.lease_s,
        "person": _person(firing),
        "waiting": _stands(firing, ticked.behind_k),
        "alarms": extra.alarms,
        "plan": [(round(t_s, 1), round(c, 2)) for t_s, c in ahead.points] if ahead else [],
        "can": [cue.value for cue in accepts(firing)],
        "late_ticks": extra.late_ticks,
        "tick_s": about.tick_s,
    }


def _stands(firing: Firing, behind_k: float) -> str | None:
    """Return why the schedule's clock stands, or by how much the kiln cannot follow it; None: all is well."""
    if firing.state not in HEATING:
        return None
    if firing.waiting not in WAITING and behind_k > 0.0:
        return f"Full heat, and the kiln falls behind: {behind_k:.0f} K behind the plan."
    return WAITING.get(firing.waiting)


def _sensed(reading: Reading, now_s: float) -> live.Sensed:
    value_c = None if reading.value_c is None else round(reading.value_c, 2)
    return {"c": value_c, "fault": reading.fault, "age_s": round(max(0.0, now_s - reading.at_s), 3)}


def _ahead(firing: Firing, air_c: float | None) -> Plan | None:
    """Return the plan of what is still to come, or None when nothing runs."""
    start_c = firing.setpoint_c if firing.setpoint_c is not None else air_c
    if firing.state not in HEATING or firing.schedule is None or start_c is None:
        return None
    # A plan costs far more than a frame: it is made anew only when it would differ visibly.
    return _plan(
        firing.schedule,
        round(start_c, 1),
        firing.full_rate_c_per_h,
        firing.stage,
        round(firing.progress.clock_s),
    )


@functools.lru_cache(maxsize=4)
def _plan(
    schedule: Schedule, start_c: float, full_rate_c_per_h: float, from_stage: int, elapsed_s: float
) -> Plan:
    return plan(schedule, start_c, full_rate_c_per_h, from_stage=from_stage, elapsed_s=elapsed_s)


def _stage_now(firing: Firing, ahead: Plan | None) -> live.StageNow | None:
    stage = stage_of(firing)
    if stage is None or firing.schedule is None or firing.state not in OPEN:
        return None
    left_s = None
    if ahead and not ahead.spans[0].estimated:
        left_s = round(ahead.spans[0].end_s, 1)
    return {
        "index": firing.stage,
        "count": len(firing.schedule.stages),
        "name": stage.name,
        "kind": stage.kind,
        "elapsed_s": round(firing.progress.clock_s, 1),
        "left_s": left_s,
        "target_c": _target_c(stage),
    }


def _target_c(stage: Stage) -> float | None:
    if isinstance(stage, Ramp | Cool):
        return stage.to_c
    return stage.at_c if isinstance(stage, Hold) else None


def _waits(firing: Firing, span: Span) -> bool:
    """Whether a person is needed in a span."""
    stage = firing.schedule.stages[span.index] if firing.schedule else None
    return isinstance(stage, Checkpoint) or (isinstance(stage, Hold) and stage.for_s is None)


def _is_pour(firing: Firing, span: Span) -> bool:
    stage = firing.schedule.stages[span.index] if firing.schedule else None
    return isinstance(stage, Hold) and stage.for_s is None


def _span_ahead(ahead: Plan | None, wanted: object) -> live.Ahead | None:
    """Return the first span that is wanted, with the time until it begins."""
    for span in ahead.spans if ahead else ():
        if callable(wanted) and wanted(span):
            return {"name": span.name, "kind": span.kind, "in_s": round(span.start_s, 1)}
    return None


def _end(ahead: Plan | None) -> live.Ahead | None:
    return {"name": "end", "kind": "end", "in_s": round(ahead.total_s, 1)} if ahead else None


def _person(firing: Firing) -> live.Person | None:
    says = person_needed(firing)
    if says is None or firing.state is not State.RUNNING:
        return None
    return {"says": says, "waited_s": round(firing.progress.clock_s, 1)}
