"""What people are told, in words: what, where, since when, what to do. Pure.

Written for someone who was asleep a moment ago: the title alone says what it is. A text never says that
anything is safe or that heat is off; it says what the controller grants, and what was measured.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.live import Frame
from controller.schedule.units import duration_text, temperature_text

DAY_S = 86400.0

REACTIONS = {
    "hold": "The schedule waits meanwhile.",
    "cut": "The controller grants no heat as long as this lasts.",
    "trip": "The controller grants no heat until a person clears this at the kiln. "
    "If the kiln gets hotter all the same, switch it off at its supply.",
}
SHORT = {"hold": "the schedule waits", "cut": "no heat is granted", "trip": "tripped"}


class Words(NamedTuple):
    """A title without the kiln's name, and what goes below it. `do` is what the person is to do."""

    title: str
    says: str
    do: str


def clock(utc_s: float, offset_s: float) -> str:
    """Return the time of day by the kiln's computer: `03:10`. `offset_s`: local time less UTC."""
    minutes = int((utc_s + offset_s) % DAY_S // 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def person(frame: Frame) -> Words:
    """A stage waits for a person."""
    stage, needed = frame["stage"], frame["person"]
    name = stage["name"] if stage else "the schedule waits"
    return Words(f"a person is needed: {name}", needed["says"] if needed else "", "Go to the kiln.")


def cut_short(frame: Frame) -> Words:
    """A firing was cut short and is held until a person decides."""
    return Words("a person is needed: the firing was cut short", frame["waiting"] or "", "Go to the kiln.")


def alarm(reaction: str, says: str, do: str) -> Words:
    """An interlock holds, cuts or has tripped."""
    title = f"TRIP: {says}" if reaction == "trip" else f"alarm, {SHORT[reaction]}: {says}"
    return Words(title, REACTIONS[reaction], do)


def lost(last: str) -> Words:
    """The controller does not answer. `last`: what was last seen."""
    says = f"The page’s server runs, but the controller does not answer it. {last}".strip()
    return Words(
        "no word from the controller", says, "Nobody can say from here what the kiln does: go and look."
    )


def by_plan(at: str) -> str:
    """When the shell is ready, by the schedule alone."""
    return f"By the schedule’s plan the shell is ready for the pour at {at}."


def by_forecast(at: str, earliest: str, latest: str) -> str:
    """When the shell is ready, as an estimate."""
    return f"The forecast’s estimate: ready for the pour at {at}, between {earliest} and {latest}."


def pour_soon(in_s: float, when: str, before: str) -> Words:
    """The pour comes near. `before`: a stop at which a person is needed first, or nothing."""
    unless = f" Not before somebody has released “{before}”." if before else ""
    return Words(f"pour in about {duration_text(in_s)}", f"{when}{unless}", "Get ready.")


def light_furnace(melting_s: float, in_s: float, when: str) -> Words:
    """The metal takes as long as is left."""
    says = f"{when} That is in {duration_text(in_s)}; melting takes {duration_text(melting_s)}."
    return Words("light the melting furnace", says, "Look at the kiln first.")


def finished(state: str, number: int, title: str) -> Words:
    """A firing has ended."""
    how = {"complete": "is complete", "aborted": "was aborted", "stopped": "was stopped"}.get(state)
    says = f"Firing {number}, {title}."
    if how is None:
        return Words(
            "the firing is over",
            f"{says} How it ended was not seen.",
            "Look at the kiln, then at the record.",
        )
    return Words(f"the firing {how}", says, "The kiln may still be hot.")


def over(title: str) -> Words:
    """What somebody was told of has gone by itself. `title`: what they were told."""
    return Words(
        f"over now: {title}", "It has gone without anybody’s acknowledgement.", "Look why when you can."
    )


def last_seen(frame: Frame) -> str:
    """What the kiln did when it was last heard of."""
    stage = frame["stage"]
    doing = f"{frame['state']}, stage “{stage['name']}”" if stage else frame["state"]
    return f"When last heard of: {doing}. {measured(frame)}".strip()


def measured(frame: Frame) -> str:
    """The measured temperatures: `Air 409 C, load 377 C.`"""
    parts = []
    for name in ("air", "load"):
        sensed = frame["air"] if name == "air" else frame["load"]
        if sensed is not None:
            value = temperature_text(sensed["c"]) if sensed["c"] is not None else "no reading"
            parts.append(f"{name} {value}")
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if text else ""
