"""What happened, as numbered marks: which events a page has room for, and the shape of each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from controller.catalogue import say
from controller.record.curve import Curve
from controller.record.rows import EventSeen, NoteSeen
from controller.record.times import hours_minutes, local
from controller.review.look import ALARM, INK, SOFT

# The bands of the plot and the table of stages say these already.
DRAWN_OTHERWISE = frozenset({"stage_began", "stage_ended"})

# What comes more often than this about the same thing is told once.
AGAIN = 3

# What makes room first when a page is full.
WEIGHT = {"info": 0, "person": 1, "note": 2, "warning": 3, "alarm": 4}


class Look(NamedTuple):
    """A mark's shape (matplotlib's letter for it), colour, and whether it is filled."""

    shape: str
    colour: str
    filled: bool


LOOKS = {
    "info": Look("o", SOFT, filled=False),
    "person": Look("s", INK, filled=False),
    "note": Look("p", SOFT, filled=False),
    "warning": Look("^", INK, filled=True),
    "alarm": Look("D", ALARM, filled=True),
}


class Mark(NamedTuple):
    """One event or note. `trip`: it ended the heat for good."""

    number: int
    t_s: float
    utc_s: float
    says: str
    severity: str
    trip: bool

    @property
    def look(self) -> Look:
        return LOOKS.get(self.severity, LOOKS["warning"])


class Marks(NamedTuple):
    """The marks of a page in order of time, and how many of lesser weight were left out."""

    shown: tuple[Mark, ...]
    left_out: int


def marks(events: Sequence[EventSeen], notes: Sequence[NoteSeen], curve: Curve, room: int) -> Marks:
    """Return at most `room` marks: the weightiest, and among equals the earliest."""
    found = [*_of_events(events), *_of_notes(notes, curve)]
    by_weight = sorted(found, key=lambda mark: (-WEIGHT.get(mark.severity, 3), mark.t_s))
    kept = sorted(by_weight[:room], key=lambda mark: mark.t_s)
    return Marks(
        tuple(mark._replace(number=number) for number, mark in enumerate(kept, start=1)),
        len(found) - len(kept),
    )


def _of_events(events: Iterable[EventSeen]) -> Iterable[Mark]:
    """One mark an event; what comes again and again is one mark, with how often and until when."""
    alike: dict[tuple[str, object], list[EventSeen]] = {}
    for event in events:
        if event.kind not in DRAWN_OTHERWISE:
            subject = event.fields.get("row") or event.fields.get("stage") or say(event.kind, event.fields)
            alike.setdefault((event.kind, subject), []).append(event)
    for group in alike.values():
        if len(group) <= AGAIN:
            yield from (_of_event(event) for event in group)
        else:
            again = f" – {len(group)} times, the last at {hours_minutes(group[-1].t_s)}"
            yield _of_event(group[0], again)


def _of_event(event: EventSeen, again: str = "") -> Mark:
    says = say(event.kind, event.fields) + again
    return Mark(0, event.t_s, event.utc_s, says, event.severity, event.kind == "trip")


def _of_notes(notes: Iterable[NoteSeen], curve: Curve) -> Iterable[Mark]:
    for note in notes:
        t_s = float(np.interp(note.utc_s, curve.utc_s, curve.t_s)) if len(curve) else 0.0
        during = len(curve) > 0 and curve.utc_s[0] <= note.utc_s <= curve.utc_s[-1]
        when = "" if during else f" on {local(note.utc_s)}"
        yield Mark(0, t_s, note.utc_s, f"Note by {note.by}{when}: {note.text}", "note", trip=False)
