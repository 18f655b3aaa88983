"""One tick of a firing: `step(firing, inputs) -> (firing, outputs)`, and nothing else.

Theory of operation. A trip comes first, then a person's requests in the order in which they came, then
the passing of time. State changes are looked up in `states.TABLE`; how a stage moves is looked up in
`stages.MOVE`. After a hold or a cut in which the kiln fell behind, the setpoint goes back to where it
was at the stage's own rate, from what is measured ("rejoining"); the schedule's clock stands meanwhile.

Pure: the same firing and inputs give the same answer to the bit.
"""

from __future__ import annotations

from controller.firing.coming import NOTHING, coming
from controller.firing.model import Answer, Event, Firing, Inputs, Outputs, Progress, Request
from controller.firing.stages import MOVE, Measured
from controller.firing.states import GOING_OUT, HEATING, OPEN, TABLE, Cue, Go, Refuse, State
from controller.schedule.leading import Led, lead
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Stage

# A kiln less than this behind its setpoint goes straight on; further behind, it is led back at a rate.
REJOIN_WITHIN_K = 10.0
# A cut shorter than this (a missed reading, a glance through the door) does not lead the setpoint back.
REJOIN_AFTER_CUT_S = 120.0
# A checkpoint that was reached so shortly ago has been looked at by nobody: a release was meant for the stage
# before it (a button pressed twice, a second phone). Chosen: longer than that, shorter than any look.
LOOK_TAKES_S = 5.0


def step(firing: Firing, inputs: Inputs) -> tuple[Firing, Outputs]:
    """Carry a firing over one tick."""
    events: list[Event] = []
    answers: list[Answer] = []
    led = firing.led
    if inputs.tripped and firing.state in OPEN and firing.state is not State.ABORTING:
        firing = _cue(firing, Cue.TRIP, events)
    for request in inputs.requests:
        firing, answer = _request(firing, request, inputs, events)
        answers.append(answer)
    state = firing.state
    if state is State.RUNNING or state is State.RESTARTING:
        firing = _run(firing, inputs, events)
    elif state in OPEN:
        firing = firing._replace(elapsed_s=firing.elapsed_s + inputs.dt_s)
        if state is State.HOLDING or (state in GOING_OUT and inputs.heat_proven_off):
            firing = _cue(firing, Cue.DONE, events)
    if firing.state in OPEN:
        stage = stage_of(firing)
        if stage is not None and stage.lead_k is not None and firing.setpoint_c is not None:
            return _lead(firing, stage, stage.lead_k, led, inputs, tuple(events), tuple(answers))
        if firing.led is not None:
            firing = firing._replace(led=None)
        return firing, Outputs(
            firing.setpoint_c,
            firing.slope_c_per_h,
            stage.ceiling_c if stage is not None else None,
            stage.extraction if stage is not None else False,
            tuple(events),
            tuple(answers),
            *coming(firing),
        )
    return firing, Outputs(None, 0.0, None, False, tuple(events), tuple(answers))


def _lead(
    firing: Firing,
    stage: Stage,
    margin_k: float,
    led: Led | None,
    inputs: Inputs,
    events: tuple[Event, ...],
    answers: tuple[Answer, ...],
) -> tuple[Firing, Outputs]:
    """Lead the air above a load that the setpoint is for."""
    asked_c = firing.setpoint_c
    assert asked_c is not None
    led = lead(
        led,
        asked_c,
        firing.slope_c_per_h,
        margin_k,
        inputs.air_c,
        inputs.load_c,
        firing.full_rate_c_per_h,
        inputs.dt_s,
    )
    slope_c_per_h = 3600.0 * led.slope_k_per_s
    firing = firing._replace(led=led)
    return firing, Outputs(
        led.air_c, slope_c_per_h, stage.ceiling_c, stage.extraction, events, answers, *NOTHING, asked_c
    )


def stage_of(firing: Firing) -> Stage | None:
    """Return the stage in hand, or None when no schedule runs."""
    schedule = firing.schedule
    if schedule is None or firing.stage >= len(schedule.stages):
        return None
    return schedule.stages[firing.stage]


def person_needed(firing: Firing) -> str | None:
    """Return what a person is needed for at the kiln just now, in the schedule's words, or None."""
    if firing.state not in HEATING:
        return None
    stage = stage_of(firing)
    if isinstance(stage, Checkpoint):
        return stage.says
    if isinstance(stage, Hold) and stage.for_s is None and firing.progress.clock_s > 0.0:
        return stage.says or "The shell is ready for the pour. Release this stage when it is out of the kiln."
    return None


def accepts(firing: Firing) -> tuple[Cue, ...]:
    """Return the commands that a person may give now (those that the table takes and that do something)."""
    commands = (Cue.START, Cue.HOLD, Cue.RESTART, Cue.RELEASE, Cue.STOP, Cue.ABORT, Cue.RESET)
    row = TABLE[firing.state]
    return tuple(
        cue
        for cue in commands
        if isinstance(row[cue], Go) or (cue is Cue.RELEASE and not _why_no_release(firing))
    )


def _cue(firing: Firing, cue: Cue, events: list[Event]) -> Firing:
    """Look a cue up in the table and change the state by it; a refused cue changes nothing."""
    row = TABLE[firing.state][cue]
    if not isinstance(row, Go):
        return firing
    events.append(Event("state_changed", {"was": firing.state.value, "now": row.to.value, "cue": cue.value}))
    if row.to in HEATING:
        return firing._replace(state=row.to, slope_c_per_h=0.0)
    return firing._replace(state=row.to, setpoint_c=None, slope_c_per_h=0.0, rejoin_c=None, waiting="")


def _request(firing: Firing, request: Request, inputs: Inputs, events: list[Event]) -> tuple[Firing, Answer]:
    """Take a person's request, or refuse it with the reason."""
    cue = request.cue
    row = TABLE[firing.state][cue]
    why = row.why if isinstance(row, Refuse) else _why_not(firing, request, inputs)
    if why:
        return firing, Answer(request.key, False, why)
    if cue is Cue.START:
        return _start(firing, request, inputs, events), Answer(request.key, True, "started")
    if cue is Cue.RELEASE:
        stage = stage_of(firing)
        events.append(Event("released", {"stage": stage.name if stage else ""}))
        return _next_stage(firing, _seen(inputs), events), Answer(request.key, True, "released")
    if cue is Cue.RESET:
        firing = _cue(firing, cue, events)
        if firing.state is State.IDLE:
            firing = Firing(full_rate_c_per_h=firing.full_rate_c_per_h)
        return firing, Answer(request.key, True, "ready for a new firing")
    restarting = cue is Cue.RESTART and firing.state is State.HELD
    firing = _cue(firing, cue, events)
    if restarting:
        firing = _fall_back(firing, _seen(inputs))
    return firing, Answer(request.key, True, f"{firing.state.value}")


def _why_not(firing: Firing, request: Request, inputs: Inputs) -> str:
    """Say why a request that the table would take cannot be taken now; empty when it can."""
    cue = request.cue
    if cue in (Cue.START, Cue.RESTART) and inputs.tripped:
        return "a trip stands; clear it at the kiln first"
    if cue is Cue.START and (request.schedule is None or not request.schedule.stages):
        return "no schedule was given"
    if cue in (Cue.START, Cue.RESTART) and inputs.air_c is None:
        return "the air thermocouple gives no good reading"
    if cue is Cue.RELEASE:
        return _why_no_release(firing) or ("" if inputs.air_c is not None else "no good reading of the air")
    return ""


def _why_no_release(firing: Firing) -> str:
    """Say why the stage in hand cannot be released; empty when it can."""
    if firing.state is not State.RUNNING or firing.rejoin_c is not None:
        return "the schedule is not running"
    stage = stage_of(firing)
    if isinstance(stage, Checkpoint) and firing.progress.clock_s < LOOK_TAKES_S:
        return "this checkpoint has only just been reached: look first"
    if isinstance(stage, Checkpoint) or (isinstance(stage, Hold) and stage.for_s is None):
        return ""
    return "this stage does not wait for a person"


def _start(firing: Firing, request: Request, inputs: Inputs, events: list[Event]) -> Firing:
    """Begin a schedule at the temperature that is measured."""
    schedule, air_c = request.schedule, inputs.air_c
    assert schedule is not None  # _why_not has seen to both
    assert air_c is not None
    firing = _cue(firing, Cue.START, events)
    firing = firing._replace(
        schedule=schedule, stage=0, elapsed_s=0.0, cut_s=0.0, progress=Progress(air_c), waiting=""
    )
    return _begin(firing, _seen(inputs), events)


def _seen(inputs: Inputs) -> Measured:
    """Return the good readings, with the air in the load's place where there is no load reading."""
    air_c, load_c = inputs.air_c, inputs.load_c
    return Measured(air_c, air_c if load_c is None else load_c)


def _run(firing: Firing, inputs: Inputs, events: list[Event]) -> Firing:
    """Let time pass in a running or restarting firing."""
    elapsed_s = firing.elapsed_s + inputs.dt_s
    if inputs.guard_cuts:
        return firing._replace(
            elapsed_s=elapsed_s,
            cut_s=firing.cut_s + inputs.dt_s,
            slope_c_per_h=0.0,
            waiting="guard",
        )
    if inputs.guard_holds:
        return firing._replace(elapsed_s=elapsed_s, slope_c_per_h=0.0, waiting="guard")
    seen = _seen(inputs)
    if firing.cut_s > 0.0:
        behind = firing.cut_s >= REJOIN_AFTER_CUT_S
        firing = firing._replace(cut_s=0.0)
        if behind:
            firing = _fall_back(firing, seen)
    if firing.rejoin_c is not None:
        return _rejoin(firing, seen, inputs.dt_s)._replace(elapsed_s=elapsed_s)
    if firing.state is State.RESTARTING:
        firing = _cue(firing, Cue.DONE, events)
    return _advance(firing, seen, inputs.dt_s, elapsed_s, events)


def _advance(firing: Firing, seen: Measured, dt_s: float, elapsed_s: float, events: list[Event]) -> Firing:
    """Give the stage in hand its time, and what it leaves to the stages after it."""
    left_s: float | None = dt_s
    while left_s is not None and firing.state is State.RUNNING:
        stage = stage_of(firing)
        assert stage is not None  # a running firing has a stage in hand
        moved = MOVE[type(stage)](stage, firing.progress, seen, left_s, firing.full_rate_c_per_h)
        events.extend(moved.events)
        firing = Firing(
            firing.state,
            firing.schedule,
            firing.full_rate_c_per_h,
            firing.stage,
            moved.progress,
            moved.setpoint_c,
            moved.slope_c_per_h,
            None,
            elapsed_s,
            0.0,
            moved.waiting,
        )
        left_s = moved.left_s
        if moved.stop:
            return _cue(firing, Cue.STOP, events)
        if left_s is not None:
            if seen.air_c is None and firing.setpoint_c is None:
                return firing  # the next stage begins at what is measured: it waits for a reading
            firing = _next_stage(firing, seen, events)
            if firing.rejoin_c is not None:
                return firing
    return firing


def _next_stage(firing: Firing, seen: Measured, events: list[Event]) -> Firing:
    """End the stage in hand and begin the next, or finish the firing."""
    ended, schedule = stage_of(firing), firing.schedule
    assert ended is not None
    assert schedule is not None
    events.append(Event("stage_ended", {"stage": ended.name, "index": firing.stage}))
    firing = firing._replace(stage=firing.stage + 1, waiting="")
    if firing.stage >= len(schedule.stages):
        return _cue(firing, Cue.FINISHED, events)
    return _begin(firing, seen, events)


def _begin(firing: Firing, seen: Measured, events: list[Event]) -> Firing:
    """Begin the stage in hand: from the setpoint, or from the measured air where heat was off."""
    stage = stage_of(firing)
    assert stage is not None
    was_off = firing.setpoint_c is None
    measured_c = seen.air_c if stage.lead_k is None else seen.load_c
    from_c = firing.setpoint_c if firing.setpoint_c is not None else measured_c
    assert from_c is not None  # callers wait for a reading
    events.append(Event("stage_began", {"stage": stage.name, "kind": stage.kind, "index": firing.stage}))
    firing = firing._replace(progress=Progress(from_c), slope_c_per_h=0.0)
    if isinstance(stage, Checkpoint):
        events.append(Event("checkpoint_reached", {"stage": stage.name, "says": stage.says}))
        return firing._replace(setpoint_c=from_c if stage.heat == "keep" else None)
    if isinstance(stage, Hold):
        firing = firing._replace(setpoint_c=stage.at_c)
        return _fall_back(firing, seen) if was_off else firing
    return firing


def _fall_back(firing: Firing, seen: Measured) -> Firing:
    """Where the kiln is well behind its setpoint, lead the setpoint back from what is measured.

    After an outage there is no setpoint, only the one to go back to (`rejoin_c`). A cooling that got ahead
    is not heated up again: it goes on from where the kiln is.
    """
    setpoint_c = firing.setpoint_c
    goal_c = setpoint_c if firing.rejoin_c is None else firing.rejoin_c
    hottest_c = _hottest(firing, seen)
    if goal_c is None or hottest_c is None:
        return firing
    if hottest_c >= (goal_c if setpoint_c is None else setpoint_c) - REJOIN_WITHIN_K:
        return firing if setpoint_c is not None else firing._replace(setpoint_c=goal_c, rejoin_c=None)
    if isinstance(stage_of(firing), Cool):
        return firing._replace(setpoint_c=hottest_c, rejoin_c=None, progress=Progress(hottest_c))
    return firing._replace(setpoint_c=hottest_c, rejoin_c=goal_c, waiting="rejoining")


def _rejoin(firing: Firing, seen: Measured, dt_s: float) -> Firing:
    """Lead the setpoint back to `rejoin_c`; a kiln whose hot walls bring it back sooner is followed."""
    rejoin_c, setpoint_c = firing.rejoin_c, firing.setpoint_c
    assert rejoin_c is not None
    assert setpoint_c is not None
    rate = _rejoin_rate(firing)
    hottest_c = _hottest(firing, seen)
    next_c = setpoint_c + rate * dt_s / 3600.0
    if hottest_c is not None:
        next_c = max(next_c, hottest_c)
    if next_c >= rejoin_c:
        return firing._replace(setpoint_c=rejoin_c, slope_c_per_h=0.0, rejoin_c=None, waiting="")
    return firing._replace(setpoint_c=next_c, slope_c_per_h=rate, waiting="rejoining")


def _rejoin_rate(firing: Firing) -> float:
    """The rate (C/h) of the last ramp at or before the stage in hand; the full rate where there is none."""
    schedule = firing.schedule
    if schedule is not None:
        for stage in reversed(schedule.stages[: firing.stage + 1]):
            if isinstance(stage, Ramp):
                return stage.rate_c_per_h or firing.full_rate_c_per_h
    return firing.full_rate_c_per_h


def _hottest(firing: Firing, seen: Measured) -> float | None:
    """The hotter of air and load (C), or None without a reading; of what the setpoint is for, if the load."""
    stage = stage_of(firing)
    if stage is not None and stage.lead_k is not None:
        return seen.load_c
    if seen.air_c is None:
        return seen.load_c
    return seen.air_c if seen.load_c is None else max(seen.air_c, seen.load_c)
