"""What a firing is, what a tick tells it, and what it answers: frozen data, no clock, no I/O."""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from controller.firing.states import Cue, State
from controller.schedule.leading import Led
from controller.schedule.model import Schedule


class Event(NamedTuple):
    """Something that happened, by its kind in the event catalogue, with that kind's fields."""

    kind: str
    fields: dict[str, object]


class Request(NamedTuple):
    """A person's command. `schedule` goes with a start. `key` tells answers apart."""

    cue: Cue
    key: int = 0
    schedule: Schedule | None = None


class Answer(NamedTuple):
    """What became of a request: taken, or refused with the reason in words."""

    key: int
    taken: bool
    says: str


class Inputs(NamedTuple):
    """What one tick tells the firing.

    `dt_s`: seconds since the tick before. `air_c` and `load_c`: measured, None without a good reading.
    `guard_holds`: an interlock asks the schedule's clock to stand. `guard_cuts`: heat is being refused.
    `tripped`: a latched trip stands. `heat_proven_off`: the heater reads back off, or is silent with the
    main contactor open.
    """

    dt_s: float
    air_c: float | None
    load_c: float | None = None
    guard_holds: bool = False
    guard_cuts: bool = False
    tripped: bool = False
    heat_proven_off: bool = False
    requests: tuple[Request, ...] = ()


class Progress(NamedTuple):
    """How far the stage in hand has come.

    `from_c`: the setpoint at which it began. `clock_s`: the seconds that its own clock has counted (a
    ramp's movement, a hold inside its band, a checkpoint's wait). `reminders`: given so far. `nobody`:
    nobody came in time, and the checkpoint's `then` is in force.
    """

    from_c: float
    clock_s: float = 0.0
    reminders: int = 0
    nobody: bool = False


class Firing(NamedTuple):
    """The state of a firing between two ticks.

    `setpoint_c` None: heat is off. `rejoin_c`: the setpoint is on its way back to this one, after a hold
    or a cut in which the kiln fell behind. `elapsed_s`: seconds since the start, whatever the clocks did.
    `cut_s`: for how long the guard has been refusing heat. `waiting`: why the schedule's clock stands:
    "load", "band", "person", "pour", "guard", "cooling", "rejoining", or empty when it runs. `led`: in a
    stage that asks for the load, how the air is led above it; `setpoint_c` is the load's then.
    """

    state: State = State.IDLE
    schedule: Schedule | None = None
    full_rate_c_per_h: float = 300.0
    stage: int = 0
    progress: Progress = Progress(0.0)
    setpoint_c: float | None = None
    slope_c_per_h: float = 0.0
    rejoin_c: float | None = None
    elapsed_s: float = 0.0
    cut_s: float = 0.0
    waiting: str = ""
    led: Led | None = None


class Outputs(NamedTuple):
    """What one tick of the firing asks for. `setpoint_c` None asks for no heat at all.

    They are the air's; `load_setpoint_c` is what a load is asked that the air is led above.
    In `corner_s` the slope will be `next_slope_c_per_h`; None where nobody can say.
    """

    setpoint_c: float | None
    slope_c_per_h: float
    ceiling_c: float | None
    extraction: bool
    events: tuple[Event, ...]
    answers: tuple[Answer, ...]
    next_slope_c_per_h: float | None = None
    corner_s: float = inf
    load_setpoint_c: float | None = None
