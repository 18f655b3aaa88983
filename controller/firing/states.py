"""The states of a firing and the one table that says what every cue does in every state.

State and command names are those of batch control (IEC 61512-1, procedural states). A transitional
state (holding, restarting, stopping, aborting) ends by `done`; a resting state waits for a person.

The table has a row for every state and every cue; refusals are rows too, each with the words that the
person gets. Nothing about state changes lives anywhere else. A firing that has ended stays as it ended:
an abort or a trip after that finds the heat off already, and does not rewrite how the firing went.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """Where a firing stands."""

    IDLE = "idle"
    RUNNING = "running"
    HOLDING = "holding"
    HELD = "held"
    RESTARTING = "restarting"
    STOPPING = "stopping"
    STOPPED = "stopped"
    ABORTING = "aborting"
    ABORTED = "aborted"
    COMPLETE = "complete"


class Cue(StrEnum):
    """What can happen to a firing: a person's command, the guard's trip, or its own progress."""

    START = "start"
    HOLD = "hold"
    RESTART = "restart"
    RELEASE = "release"
    STOP = "stop"
    ABORT = "abort"
    RESET = "reset"
    TRIP = "trip"
    DONE = "done"
    FINISHED = "finished"


@dataclass(frozen=True, slots=True)
class Go:
    """The cue is taken; the firing goes to another state."""

    to: State


@dataclass(frozen=True, slots=True)
class Stay:
    """The cue is taken; the state stays as it is."""


@dataclass(frozen=True, slots=True)
class Refuse:
    """The cue is not taken; `why` is for the person who gave it."""

    why: str


Row = Go | Stay | Refuse

_NOTHING_RUNS = Refuse("nothing is running")
_ENDED = Refuse("this firing has ended; reset, then start a new one")
_RUNS_ALREADY = Refuse("a firing is running already; stop or abort it first")
_GOING_OUT = Refuse("the heat is being switched off; wait until it is proven off")
_NOT_HELD = Refuse("the firing is not held")
_HELD_NOW = Refuse("the firing is held; restart it first")
_NOT_ENDED = Refuse("the firing has not ended; stop or abort it first")
_NO_WORK = Refuse("no transition is under way")
_NOT_RUNNING = Refuse("the schedule is not running")

TABLE: dict[State, dict[Cue, Row]] = {
    State.IDLE: {
        Cue.START: Go(State.RUNNING),
        Cue.HOLD: _NOTHING_RUNS,
        Cue.RESTART: _NOTHING_RUNS,
        Cue.RELEASE: _NOTHING_RUNS,
        Cue.STOP: _NOTHING_RUNS,
        Cue.ABORT: Stay(),
        Cue.RESET: Stay(),
        Cue.TRIP: Stay(),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.RUNNING: {
        Cue.START: _RUNS_ALREADY,
        Cue.HOLD: Go(State.HOLDING),
        Cue.RESTART: _NOT_HELD,
        Cue.RELEASE: Stay(),
        Cue.STOP: Go(State.STOPPING),
        Cue.ABORT: Go(State.ABORTING),
        Cue.RESET: _NOT_ENDED,
        Cue.TRIP: Go(State.ABORTING),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: Go(State.COMPLETE),
    },
    State.HOLDING: {
        Cue.START: _RUNS_ALREADY,
        Cue.HOLD: Stay(),
        Cue.RESTART: _NOT_HELD,
        Cue.RELEASE: _HELD_NOW,
        Cue.STOP: Go(State.STOPPING),
        Cue.ABORT: Go(State.ABORTING),
        Cue.RESET: _NOT_ENDED,
        Cue.TRIP: Go(State.ABORTING),
        Cue.DONE: Go(State.HELD),
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.HELD: {
        Cue.START: _RUNS_ALREADY,
        Cue.HOLD: Stay(),
        Cue.RESTART: Go(State.RESTARTING),
        Cue.RELEASE: _HELD_NOW,
        Cue.STOP: Go(State.STOPPING),
        Cue.ABORT: Go(State.ABORTING),
        Cue.RESET: _NOT_ENDED,
        Cue.TRIP: Go(State.ABORTING),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.RESTARTING: {
        Cue.START: _RUNS_ALREADY,
        Cue.HOLD: Go(State.HOLDING),
        Cue.RESTART: Stay(),
        Cue.RELEASE: _HELD_NOW,
        Cue.STOP: Go(State.STOPPING),
        Cue.ABORT: Go(State.ABORTING),
        Cue.RESET: _NOT_ENDED,
        Cue.TRIP: Go(State.ABORTING),
        Cue.DONE: Go(State.RUNNING),
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.STOPPING: {
        Cue.START: _GOING_OUT,
        Cue.HOLD: _GOING_OUT,
        Cue.RESTART: _GOING_OUT,
        Cue.RELEASE: _GOING_OUT,
        Cue.STOP: Stay(),
        Cue.ABORT: Go(State.ABORTING),
        Cue.RESET: _GOING_OUT,
        Cue.TRIP: Go(State.ABORTING),
        Cue.DONE: Go(State.STOPPED),
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.STOPPED: {
        Cue.START: _ENDED,
        Cue.HOLD: _ENDED,
        Cue.RESTART: _ENDED,
        Cue.RELEASE: _ENDED,
        Cue.STOP: Stay(),
        Cue.ABORT: Stay(),
        Cue.RESET: Go(State.IDLE),
        Cue.TRIP: Stay(),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.ABORTING: {
        Cue.START: _GOING_OUT,
        Cue.HOLD: _GOING_OUT,
        Cue.RESTART: _GOING_OUT,
        Cue.RELEASE: _GOING_OUT,
        Cue.STOP: _GOING_OUT,
        Cue.ABORT: Stay(),
        Cue.RESET: _GOING_OUT,
        Cue.TRIP: Stay(),
        Cue.DONE: Go(State.ABORTED),
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.ABORTED: {
        Cue.START: _ENDED,
        Cue.HOLD: _ENDED,
        Cue.RESTART: _ENDED,
        Cue.RELEASE: _ENDED,
        Cue.STOP: _ENDED,
        Cue.ABORT: Stay(),
        Cue.RESET: Go(State.IDLE),
        Cue.TRIP: Stay(),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: _NOT_RUNNING,
    },
    State.COMPLETE: {
        Cue.START: _ENDED,
        Cue.HOLD: _ENDED,
        Cue.RESTART: _ENDED,
        Cue.RELEASE: _ENDED,
        Cue.STOP: _ENDED,
        Cue.ABORT: Stay(),
        Cue.RESET: Go(State.IDLE),
        Cue.TRIP: Stay(),
        Cue.DONE: _NO_WORK,
        Cue.FINISHED: _NOT_RUNNING,
    },
}

# The states in which heat may be asked for at all; in every other state the heat is off.
HEATING = frozenset({State.RUNNING, State.HOLDING, State.HELD, State.RESTARTING})
# The states of a firing that has begun and not ended.
OPEN = HEATING | {State.STOPPING, State.ABORTING}
# The states in which `done` means that the heat has been proven off.
GOING_OUT = frozenset({State.STOPPING, State.ABORTING})


def diagram() -> str:
    """Return the table as a Mermaid state diagram, for the documentation.

    Only changes of state are drawn; refusals and cues that change nothing are left out.
    """
    lines = ["stateDiagram-v2", "    [*] --> idle"]
    for state, row in TABLE.items():
        targets: dict[State, list[str]] = {}
        for cue, what in row.items():
            if isinstance(what, Go):
                targets.setdefault(what.to, []).append(cue.value)
        lines += [f"    {state} --> {to}: {', '.join(cues)}" for to, cues in targets.items()]
    return "\n".join(lines) + "\n"
