"""After an outage: what becomes of a firing that was cut short. Pure.

House rules. Power-up is off: a firing that is taken up again is first held with the heat off, whatever it
was doing, and only then decided about. It resumes by the same restart as after a hold: the setpoint is led
back from where the kiln is, and the schedule's clock stands until it is there. A stage is never skipped and
its clock is never set: a checkpoint that waited for a person waits on. What is not known (for how long,
how far it fell) never speaks for resuming. Only resuming is ever done without a person, and only by the
schedule's own rule; a firing that a person had held stays held.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

from controller.firing.model import Firing, Progress
from controller.firing.states import GOING_OUT, HEATING, State
from controller.schedule.model import Recovery, Schedule, Stage

What = Literal["resume", "wait", "stop"]


class Decision(NamedTuple):
    """What to do, and the reason in words for the person who reads it."""

    what: What
    why: str


def decide(rule: Recovery, stage: Stage, outage_s: float | None, fall_k: float | None) -> Decision:
    """Decide by the schedule's rule. `outage_s`, `fall_k` (how far the air has fallen): None is unknown."""
    if stage.after_outage is not None:
        return Decision(stage.after_outage, f'the stage "{stage.name}" says so')
    why_not = _why_not(rule, outage_s, fall_k)
    return (
        Decision(rule.otherwise, why_not) if why_not else Decision("resume", "the schedule's rule allows it")
    )


def _why_not(rule: Recovery, outage_s: float | None, fall_k: float | None) -> str:
    """Say why a firing does not resume by itself; empty when it does."""
    longest_s, furthest_k = rule.resume_within_s, rule.resume_if_fallen_by_k
    if longest_s is None and furthest_k is None:
        return "the schedule has no rule to resume by"
    if longest_s is not None and outage_s is None:
        return "it is not known how long the outage lasted"
    if longest_s is not None and outage_s is not None and outage_s > longest_s:
        return f"the outage lasted {in_words(outage_s)}, over {in_words(longest_s)}"
    if furthest_k is not None and fall_k is None:
        return "it is not known how far the kiln has cooled"
    if furthest_k is not None and fall_k is not None and fall_k > furthest_k:
        return f"the kiln has cooled by {fall_k:.0f} K, over {furthest_k:.0f} K"
    return ""


def kept(firing: Firing) -> dict[str, Any]:
    """Return what must be kept of a firing at every tick so that it can be taken up again.

    State, stage and setpoint stand in the tick itself; what has its usual value is left out.
    """
    progress = firing.progress
    every = {
        "elapsed_s": firing.elapsed_s,
        "from_c": progress.from_c,
        "clock_s": progress.clock_s,
        "reminders": progress.reminders,
        "nobody": progress.nobody,
        "rejoin_c": firing.rejoin_c,
        "asked_c": firing.setpoint_c if firing.led is not None else None,
    }
    return {name: value for name, value in every.items() if value}


def taken_up(
    schedule: Schedule,
    full_rate_c_per_h: float,
    state: State,
    stage: int,
    setpoint_c: float | None,
    progress: dict[str, Any],
    outage_s: float,
) -> Firing:
    """Return a firing as it was at its last kept tick, with the heat off: held, or on its way out.

    `progress` is what `kept` gave. `outage_s` counts as elapsed, and for no stage's clock.
    """
    rejoin_c = progress.get("rejoin_c")
    setpoint_c = progress.get("asked_c", setpoint_c)  # where the air was led, it is the load's
    heating = state in HEATING
    return Firing(
        state=state if state in GOING_OUT else State.HELD,
        schedule=schedule,
        full_rate_c_per_h=full_rate_c_per_h,
        stage=stage,
        progress=Progress(
            float(progress.get("from_c", 0.0)),
            float(progress.get("clock_s", 0.0)),
            int(progress.get("reminders", 0)),
            bool(progress.get("nobody", False)),
        ),
        rejoin_c=(setpoint_c if rejoin_c is None else rejoin_c) if heating else None,
        elapsed_s=float(progress.get("elapsed_s", 0.0)) + outage_s,
        waiting="recovery" if heating else "",
    )


def in_words(seconds: float | None) -> str:
    """Return a time as a person would say it."""
    if seconds is None:
        return "an unknown time"
    if seconds < 120.0:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"
