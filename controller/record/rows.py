"""What goes into the record and what comes out of it, as plain frozen data.

Times: `utc_s` is seconds since 1970-01-01 UTC; `mono_s` is the kiln's monotonic clock, which no clock
change moves; `t_s` is seconds since the firing's first tick. None means "no value", never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple


class TickRow(NamedTuple):
    """One tick, whole.

    `faults`: readers without a good value, e.g. "load=open". `contacts`: e.g. "door=1 emergency_stop=1".
    `reasons`: the ids of the guard's rows that stand, separated by spaces. `duty` is 0 to 1. `progress`:
    how far the stage has come, to take the firing up by; `seen`: whatever else the tick was told, to run it
    again by; both JSON, empty in a record from before there was either.
    """

    n: int
    mono_s: float
    utc_s: float
    state: str
    stage: int | None
    setpoint_c: float | None
    air_c: float | None
    load_c: float | None
    limit_c: float | None
    faults: str
    contacts: str
    duty: float
    heat_on: bool
    lease_s: float
    main_on: bool | None
    reasons: str
    late: bool
    progress: str = ""
    seen: str = ""


class FiringRow(NamedTuple):
    """What is known of a firing when it starts; all that is needed to read it without its files."""

    started_utc_s: float
    started_mono_s: float
    title: str
    schedule_text: str
    schedule_name: str
    kiln_name: str
    kiln_text: str
    software_version: str
    speed: float
    simulated: bool


@dataclass(frozen=True, slots=True)
class Firing:
    """A firing as the record has it. `end_state` None: it has not ended, or nobody could write that."""

    id: int
    start: FiringRow
    ended_utc_s: float | None
    ended_mono_s: float | None
    end_state: str | None


@dataclass(frozen=True, slots=True)
class FiringSummary:
    """One line of the list of firings. `duration_s` is from the first tick to the last (kiln's clock)."""

    id: int
    started_utc_s: float
    ended_utc_s: float | None
    title: str
    kiln_name: str
    end_state: str | None
    ticks: int
    peak_air_c: float | None
    duration_s: float


@dataclass(frozen=True, slots=True)
class EventSeen:
    """One event. The words for it come from the catalogue, out of `kind` and `fields`."""

    id: int
    t_s: float
    utc_s: float
    mono_s: float
    kind: str
    fields: dict[str, Any]
    severity: str


@dataclass(frozen=True, slots=True)
class RequestSeen:
    """One request of a person, whether it was accepted, what was answered, and the tick that took it."""

    id: int
    t_s: float
    utc_s: float
    mono_s: float
    by: str
    kind: str
    args: dict[str, Any]
    accepted: bool
    says: str
    n: int | None = None


@dataclass(frozen=True, slots=True)
class NoteSeen:
    """What a person wrote about a firing."""

    id: int
    utc_s: float
    by: str
    text: str


@dataclass(frozen=True, slots=True)
class ObservationSeen:
    """What a person saw or did. `stage`: the stage in hand, None: none, or afterwards."""

    id: int
    utc_s: float
    by: str
    stage: int | None
    kind: str
    fields: dict[str, Any]


class PhotoRow(NamedTuple):
    """A photograph as it is kept. `of`: crack, shell or casting."""

    utc_s: float
    by: str
    stage: int | None
    of: str
    caption: str
    media_type: str
    width_px: int
    height_px: int
    image: bytes


@dataclass(frozen=True, slots=True)
class PhotoSeen:
    """A photograph without its picture."""

    id: int
    utc_s: float
    by: str
    stage: int | None
    of: str
    caption: str
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch of a firing in one run of the controller, from tick `n` on.

    `boot`: which start of the computer that was; `carried`: what the controller carried into it, as JSON.
    """

    n: int
    boot: str
    speed: float
    carried: str


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A firing that the record has no end for, the last tick that was kept of it, and its last leg."""

    firing: Firing
    last: TickRow | None
    leg: Leg | None = None
