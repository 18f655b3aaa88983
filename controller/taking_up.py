"""A firing that the record has no end for: what can be made of it when the controller is back.

The record gives the last tick that was kept; `interrupted` makes of it a held firing with the heat off;
`Recovery` waits until the kiln can be measured, and then gives what the schedule's rule decides as a cue
of the firing's own state table. Until then, and whenever a person is quicker, nothing is decided.

A program that lived and did not tick for long (it was stopped, its computer slept) was away as well: what
the kiln did meanwhile nobody saw, and `unwatched` makes the same of its firing.
"""

from __future__ import annotations

import json
from typing import NamedTuple

from controller.boot import boot
from controller.config import KilnConfig
from controller.firing import OPEN, Cue, Firing, State, stage_of
from controller.firing.recovery import Decision, decide, kept, taken_up
from controller.record.rows import Unfinished
from controller.record.schedules import schedule_of

# A reader that was without power as well needs this long to come up, at most; then nothing is resumed.
READING_WITHIN_S = 60.0


class Interrupted(NamedTuple):
    """A firing to be taken up. `outage_s` None: nobody knows how long it was. `was`: its last kept state.

    `at_s`: the kiln's monotonic time up to which the outage was counted.
    """

    number: int
    started_utc_s: float
    firing: Firing
    n: int
    was: State
    air_c: float | None
    outage_s: float | None
    same_kiln: bool
    at_s: float


def interrupted(
    left: Unfinished, config: KilnConfig, now_s: float, utc_s: float, speed: float
) -> Interrupted | None:
    """Return what can be taken up, or None: nothing kept, ended already, or a schedule of another version."""
    last, schedule = left.last, schedule_of(left.firing)
    if last is None or schedule is None or last.stage is None or last.stage >= len(schedule.stages):
        return None
    if last.state not in {state.value for state in OPEN} or not last.progress:
        return None
    outage_s = outage(left, now_s, utc_s, speed)
    firing = taken_up(
        schedule,
        config.full_rate_c_per_h,
        State(last.state),
        last.stage,
        last.setpoint_c,
        json.loads(last.progress),
        outage_s or 0.0,
    )
    same_kiln = left.firing.start.kiln_text == config.text
    return Interrupted(
        left.firing.id,
        left.firing.start.started_utc_s,
        firing,
        last.n,
        State(last.state),
        last.air_c,
        outage_s,
        same_kiln,
        now_s,
    )


def unwatched(
    number: int, started_utc_s: float, firing: Firing, n: int, air_c: float | None, gap_s: float, now_s: float
) -> Interrupted:
    """Return the same for a firing that nobody ticked for `gap_s`, though the program lived."""
    assert firing.schedule is not None  # it is open
    again = taken_up(
        firing.schedule,
        firing.full_rate_c_per_h,
        firing.state,
        firing.stage,
        firing.setpoint_c,
        kept(firing),
        gap_s,
    )
    return Interrupted(number, started_utc_s, again, n, firing.state, air_c, gap_s, True, now_s)


def outage(left: Unfinished, now_s: float, utc_s: float, speed: float) -> float | None:
    """Return for how long nobody ticked (s), or None when that cannot be known.

    Within one start of the computer its monotonic clock knows, whoever sets the date and time. Over two, the
    date and time must do; a date before the last tick's says that they cannot be trusted.
    """
    last, leg = left.last, left.leg
    if last is None or leg is None or leg.speed != speed:
        return None
    if leg.boot and leg.boot == boot():
        return max(0.0, now_s - last.mono_s)
    by_date_s = utc_s - last.utc_s
    return by_date_s if by_date_s >= 0.0 else None


class Recovered(NamedTuple):
    """What was decided: an event of the catalogue with its fields, and the cue to give, if any."""

    event: str
    fields: dict[str, object]
    cue: Cue | None


class Recovery:
    """Decides once about an interrupted firing."""

    def __init__(self, left: Interrupted, began_s: float) -> None:
        self._left = left
        self._began_s = began_s
        self.pending = left.was in OPEN and left.firing.state is State.HELD

    def look(self, firing: Firing, air_c: float | None, now_s: float, *, asked: bool) -> Recovered | None:
        """Return the decision when it can be made, once. `asked`: a person asks for something just now."""
        if not self.pending:
            return None
        if asked or firing.state is not State.HELD:
            self.pending = False
            return None
        if air_c is None and now_s - self._began_s < READING_WITHIN_S:
            return None
        self.pending = False
        decision = self._decide(air_c)
        stage = stage_of(firing)
        fields: dict[str, object] = {"stage": stage.name if stage else "", "why": decision.why}
        if decision.what == "resume":
            return Recovered("recovered", fields, Cue.RESTART)
        if decision.what == "stop":
            return Recovered("recovery_stopped", fields, Cue.STOP)
        return Recovered("recovery_waits", fields, None)

    def _decide(self, air_c: float | None) -> Decision:
        left = self._left
        schedule, stage = left.firing.schedule, stage_of(left.firing)
        assert schedule is not None  # `interrupted` has seen to both
        assert stage is not None
        if left.was in (State.HOLDING, State.HELD):
            return Decision("wait", "it was held before")
        fall_k = left.air_c - air_c if left.air_c is not None and air_c is not None else None
        decision = decide(schedule.recovery, stage, left.outage_s, fall_k)
        if decision.what != "resume":
            return decision
        if not left.same_kiln:
            return Decision("wait", "the kiln's file is another than when the firing began")
        return (
            decision if air_c is not None else Decision("wait", "the air thermocouple gives no good reading")
        )
