"""What goes over the local channel: live frames out, requests in. Plain JSON, one object a line.

The channel is a Unix socket that only the user who runs the controller can open. A client that sends
{"subscribe": true} gets a `Frame` now and at most five each second of the wall clock after that.
A client that sends a `Request` gets one `Reply`. Times named `_s` are seconds of the kiln's clock.
"""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

RequestKind = Literal[
    "prefire",
    "start",
    "hold",
    "restart",
    "release",
    "stop",
    "abort",
    "reset",
    "clear",
    "acknowledge",
    "shelve",
    "note",
]

# What `waiting` says of a firing that was taken up after an outage and is held until a person decides.
CUT_SHORT = "The firing was cut short. Look at the shell, then restart it at the kiln, or stop it."


class Request(TypedDict):
    """What a person asks for. `presence` proves that someone stands at the kiln.

    start, restart, release and clear lead to more heat and need it; the others do not. `prefire` only asks
    what must be looked at before a schedule is started here.
    """

    request: RequestKind
    by: str  # "page", "console", ...: where it came from; kept in the record
    presence: NotRequired[str]
    schedule: NotRequired[str]  # start: the name of a profile, or a file's whole text
    name: NotRequired[str]  # start: the file name that goes with a text
    ticked: NotRequired[list[str]]  # start: the ids of what was looked at before it
    reachable: NotRequired[str]  # start: who can be reached while the kiln is hot, and how
    job: NotRequired[str]  # start: the job sheet's text, kept with the firing
    attended: NotRequired[bool]  # start: a person stays, so an incomplete commissioning is only told
    alarm: NotRequired[str]  # acknowledge: an alarm's id, or "all"; shelve: an alarm's id
    minutes: NotRequired[int]  # shelve: for how long, 1 to 60; 0 ends it
    text: NotRequired[str]  # note


class Look(TypedDict):
    """One thing to look at before a start."""

    id: str
    says: str
    why: str


class Reply(TypedDict):
    """`says` is one line for a person: what was done, or why it was refused.

    To `prefire`: `items` to look at, and `says` what of the kiln's commissioning is missing, if anything.
    """

    ok: bool
    says: str
    items: NotRequired[list[Look]]


class Sensed(TypedDict):
    """A thermocouple's reading: `c` None means no good reading, with the reason in `fault`."""

    c: float | None
    fault: str | None
    age_s: float


class StageNow(TypedDict):
    """The stage in hand. `left_s` None: it waits for a person, or for the kiln."""

    index: int
    count: int
    name: str
    kind: str
    elapsed_s: float
    left_s: float | None
    target_c: float | None


class Ahead(TypedDict):
    """Something that is to come: `in_s` None means that nobody can say when."""

    name: str
    kind: str
    in_s: float | None


class Person(TypedDict):
    """A person is needed at the kiln: what for, and for how long it has waited."""

    says: str
    waited_s: float


class Alarm(TypedDict):
    """One alarm, in words. `state`: unacknowledged, acknowledged, returned to normal, shelved."""

    id: str
    says: str
    do: str
    reaction: Literal["warn", "hold", "cut", "trip"]
    state: str
    since_utc: str
    first_out: bool
    can_shelve: NotRequired[bool]
    acknowledged_by: NotRequired[str]
    acknowledged_utc: NotRequired[str]
    shelved_for_s: NotRequired[float]  # how much longer, to the minute above, s of the kiln's clock


class Frame(TypedDict):
    """Everything that a screen needs to say what the kiln is doing at this moment."""

    n: int
    mono_s: float
    utc: str
    speed: float
    kiln: str
    simulated: bool
    ceiling_c: float
    firing: int | None
    state: str
    title: str
    started_utc: str | None
    elapsed_s: float
    stage: StageNow | None
    next: Ahead | None
    stop: Ahead | None  # the next stop that needs a person
    pour: Ahead | None  # the pour hold
    end: Ahead | None
    setpoint_c: float | None
    load_setpoint_c: float | None  # what the load is asked, where the air is led above it
    air: Sensed
    load: Sensed | None
    limit: Sensed | None
    duty: float
    heat_on: bool
    lease_s: float
    person: Person | None
    waiting: str | None  # why the schedule's clock stands, or that the kiln falls behind, in words
    alarms: list[Alarm]
    plan: list[tuple[float, float]]  # what is to come: (seconds from now, degrees C)
    can: list[str]  # the requests that the state accepts now
    late_ticks: int
    tick_s: float
