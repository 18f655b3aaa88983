"""A schedule as frozen data: what the file says, in degrees Celsius, kelvin, hours and seconds.

A stage is one of four kinds. Each knows nothing of how it is carried out (that is `firing`), of how
long it takes (that is `plan`), or of how it is written in a file (that is `reader`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

Heat = Literal["off", "keep"]
Nobody = Literal["keep waiting", "go on", "stop"]
AfterOutage = Literal["resume", "wait", "stop"]


@dataclass(frozen=True, slots=True)
class Ramp:
    """The setpoint moves to `to_c`, in a straight line of time.

    `rate_c_per_h` None means "full": as fast as the kiln's configuration lets a setpoint move.
    `lead_k`: the setpoint is the load's, and the air is led above it no further than this; None: it is the
    air's. `wait_within_k`: the setpoint stands still while the load (the air, where there is no load
    thermocouple) is further than this below it. `ceiling_c`: measured temperatures at or above this
    trip the guard during this stage.
    """

    name: str
    to_c: float
    rate_c_per_h: float | None
    wait_within_k: float | None = None
    ceiling_c: float | None = None
    extraction: bool = False
    after_outage: AfterOutage | None = None
    lead_k: float | None = None

    kind = "ramp"


@dataclass(frozen=True, slots=True)
class Hold:
    """The setpoint stays at `at_c`; the hold clock counts only while the load is within `band_k` of it.

    `for_s` None means "until released": a pour hold, which ends when a person releases it or when the
    hold clock reaches `at_most_s`. `expect_s` is how long a plan reckons for such a hold. `lead_k`: as a
    ramp's.
    """

    name: str
    at_c: float
    for_s: float | None
    band_k: float
    at_most_s: float | None = None
    expect_s: float = 0.0
    says: str = ""
    ceiling_c: float | None = None
    extraction: bool = False
    after_outage: AfterOutage | None = None
    lead_k: float | None = None

    kind = "hold"


@dataclass(frozen=True, slots=True)
class Then:
    """What happens to a checkpoint when nobody has come after `after_s`.

    "keep waiting" with `at_c` None changes nothing; with a temperature the heat keeps the kiln there.
    """

    action: Nobody
    at_c: float | None = None


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """Waits for a person, with a message. `heat` says what the heat does meanwhile.

    A reminder is given every `remind_every_s`. `after_s` None: it waits for ever, unchanged.
    `expect_s` is how long a plan reckons for it. `tick`: what the person ticks off, one line each; None:
    the file does not say (`checklist.py` has a list for that).
    """

    name: str
    says: str
    heat: Heat
    remind_every_s: float | None
    after_s: float | None
    then: Then
    expect_s: float
    ceiling_c: float | None = None
    extraction: bool = False
    after_outage: AfterOutage | None = None
    tick: tuple[str, ...] | None = None

    kind = "checkpoint"
    lead_k = None


@dataclass(frozen=True, slots=True)
class Cool:
    """The kiln cools to `to_c`. `rate_c_per_h` None: heat off; else no faster than that rate.

    The stage ends when the air is at or below `to_c`.
    """

    name: str
    to_c: float
    rate_c_per_h: float | None
    ceiling_c: float | None = None
    extraction: bool = False
    after_outage: AfterOutage | None = None

    kind = "cool"
    lead_k = None


Stage = Ramp | Hold | Checkpoint | Cool


class Recovery(NamedTuple):
    """What happens to a firing that was cut short (power, computer, program) when the controller is back.

    It resumes by itself when the outage was no longer than `resume_within_s` and the air has fallen by no
    more than `resume_if_fallen_by_k`; a limit that is None is not asked, and with neither nothing resumes.
    Else `otherwise`. A stage's own `after_outage` goes before all of that. The default waits.
    """

    resume_within_s: float | None = None
    resume_if_fallen_by_k: float | None = None
    otherwise: Literal["wait", "stop"] = "wait"


WAIT_FOR_A_PERSON = Recovery()


@dataclass(frozen=True, slots=True)
class Schedule:
    """A staged burnout. `text` is the file's own text, kept with every firing.

    `ceiling_c`: no stage may ask for a temperature within 10 K of it (a gypsum-bonded mould's limit).
    `pour_at_c`: the temperature of the shell at the pour. `recovery`: what follows an outage.
    """

    title: str
    stages: tuple[Stage, ...]
    pour_at_c: float | None = None
    mould: str = ""
    ceiling_c: float | None = None
    text: str = ""
    file: str = ""
    recovery: Recovery = WAIT_FOR_A_PERSON
