"""What the stages of a schedule owe to each other and to its ceiling. Complaints go to the stage's fields.

A schedule is walked with a `Place`: how hot the kiln is where the stage before ended. A place may be
exact (a ramp's end), only a bound (a kiln whose heat was off is at most as hot as it was), or have no
temperature at all (nothing has been heated yet).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from controller.schedule.fields import Fields
from controller.schedule.units import shown, temperature_text

CEILING_MARGIN_K = 10.0  # room for an overshoot, for class tolerance and for noise below a trip
GYPSUM_LIMIT_C = 730.0  # with carbon about, calcium sulphate breaks down from 700 to 760 C; from memory
SAME_K = 0.1  # "1500 F" and "815.6 C" are the same place
COOLEST_C = 40.0  # a kiln in a warm room takes for ever to fall below this; common practice, no source


class Place(NamedTuple):
    """How hot the kiln is between two stages. `c` None: not heated yet; `exact` False: at most `c`."""

    c: float | None
    exact: bool
    known: bool = True


COLD = Place(None, True)
UNKNOWN = Place(None, False, known=False)  # behind a mistake: nothing is held against it


def ramp_rules(fields: Fields, place: Place) -> Place:
    """A ramp goes up. Return where it ends."""
    to_c: float | None = fields.values.get("to")
    if to_c is None:
        return UNKNOWN
    if place.c is not None:
        down = to_c < place.c - SAME_K
        nowhere = place.exact and not down and to_c <= place.c + SAME_K
        if down or nowhere:
            limit = f"{_above(place)}; to go down, use a stage of kind cool"
            fields.complain("to", _found(fields, "to"), limit)
    return Place(to_c, True)


def hold_rules(fields: Fields, place: Place) -> Place:
    """A hold stays where the stage before ended; one that waits for a person has an end. Return its place."""
    at_c: float | None = fields.values.get("at")
    if "at" not in fields.table and place.known and (place.c is None or not place.exact):
        why = "nothing has been heated before it" if place.c is None else "the heat was off before it"
        fields.complain("at", "nothing", f'at = "815 C" or the like, because {why}')
    elif at_c is not None and place.c is not None and not _fits(at_c, place):
        exactly = "" if place.exact else "at most "
        limit = f"{exactly}{_c(place.c)}, where the stage before ended; use a ramp"
        fields.complain("at", _found(fields, "at"), limit)
    _pour_hold_rules(fields)
    if place.exact and place.c is not None:
        fields.values["at"] = place.c
        return place
    return UNKNOWN if at_c is None else Place(at_c, True)


def _fits(at_c: float, place: Place) -> bool:
    assert place.c is not None
    return at_c <= place.c + SAME_K and (not place.exact or at_c >= place.c - SAME_K)


def _pour_hold_rules(fields: Fields) -> None:
    if fields.values.get("for", 0.0) is None:
        if "at_most" not in fields.table:
            fields.complain("at_most", "nothing", 'at_most = "4 h" or the like: it waits until released')
        _no_longer(fields, "expect", "at_most")
    elif "for" in fields.values:
        for name in ("at_most", "expect"):
            if name in fields.table:
                expected = f'no {name} here: it goes with for = "until released"'
                fields.complain(name, _found(fields, name), expected)


def checkpoint_rules(fields: Fields, place: Place) -> Place:
    """A checkpoint that is forgotten never becomes hotter than where the person left it. Return its place."""
    if "after" in fields.table and "then" not in fields.table:
        fields.complain("then", "nothing", "what happens `after` that time: keep waiting, go on or stop")
    if "then" in fields.table and "after" not in fields.table:
        fields.complain("after", "nothing", 'after = "45 min" or the like, because there is a `then`')
    _no_longer(fields, "expect", "after")
    waits_c = fields.values["then"].at_c if "then" in fields.values else None
    if waits_c is not None and place.known and (place.c is None or waits_c > place.c + SAME_K):
        limit = "no temperature: nothing is hot yet" if place.c is None else f"at most {_c(place.c)}"
        fields.complain("then", _found(fields, "then"), f"{limit}; a forgotten checkpoint never gets hotter")
    kept = fields.values.get("heat") == "keep" and waits_c is None
    return place._replace(exact=place.exact and (kept or place.c is None))


def _no_longer(fields: Fields, name: str, limit: str) -> None:
    """A plan cannot reckon longer than the stage lasts."""
    values = fields.values
    if name in values and limit in values and values[name] > values[limit]:
        fields.complain(name, _found(fields, name), f"no longer than {limit}, {_found(fields, limit)}")


def cool_rules(fields: Fields, place: Place) -> Place:
    """A cooling goes down. Return where it ends."""
    to_c: float | None = fields.values.get("to")
    if place.known and place.c is None:
        fields.complain("kind", '"cool"', "a stage that heats first: nothing is hot yet")
    if to_c is None:
        return UNKNOWN
    if place.c is not None and to_c >= place.c - SAME_K:
        limit = f"less than {_c(place.c)}, where the stage before ended; to go up, use a stage of kind ramp"
        fields.complain("to", _found(fields, "to"), limit)
    if to_c < COOLEST_C:
        limit = f"at least {_c(COOLEST_C)}: in a warm room it would never end"
        fields.complain("to", _found(fields, "to"), limit)
    return Place(to_c, True)


RULES: dict[str, Callable[[Fields, Place], Place]] = {
    "ramp": ramp_rules,
    "hold": hold_rules,
    "checkpoint": checkpoint_rules,
    "cool": cool_rules,
}

_ASKS = {
    "ramp": "to",
    "hold": "at",
}  # the key by which a stage asks for a temperature; the others ask for none


def follow_rules(fields: Fields) -> None:
    """A stage that asks for the load says how far the air may be led above it, and no other stage does."""
    follows = fields.values.get("follow") == "load"
    if follows and "lead" not in fields.table:
        fields.complain("lead", "nothing", 'lead = "40 K" or the like: how far above the load the air may be')
    if not follows and "lead" in fields.values:
        fields.complain("lead", _found(fields, "lead"), 'no lead here: it goes with follow = "load"')


def ceiling_rules(kind: str, fields: Fields, before: Place, schedule_ceiling_c: float | None) -> None:
    """A stage stays clear of its own ceiling and of the schedule's, which its own may only lower."""
    own_c: float | None = fields.values.get("ceiling")
    asked_c: float | None = fields.values.get(_ASKS.get(kind, ""))
    key = _ASKS.get(kind, "ceiling")
    if own_c is not None and schedule_ceiling_c is not None and own_c > schedule_ceiling_c:
        limit = f"at most the schedule's ceiling, {_c(schedule_ceiling_c)}"
        fields.complain("ceiling", _found(fields, "ceiling"), limit)
    ceilings = [ceiling for ceiling in (own_c, schedule_ceiling_c) if ceiling is not None]
    if asked_c is not None and ceilings and asked_c > min(ceilings) - CEILING_MARGIN_K:
        limit = (
            f"at most {_c(min(ceilings) - CEILING_MARGIN_K)}, 10 K below the ceiling of {_c(min(ceilings))}"
        )
        fields.complain(key, _found(fields, key) if key in fields.table else _c(asked_c), limit)
    lead_k: float = fields.values.get("lead", 0.0)
    if (
        asked_c is not None
        and lead_k
        and ceilings
        and asked_c <= min(ceilings) - CEILING_MARGIN_K < asked_c + lead_k
    ):
        most = (
            f"at most {min(ceilings) - CEILING_MARGIN_K - asked_c:.0f} K: the air may be led that far above"
        )
        fields.complain("lead", _found(fields, "lead"), f"{most} {_c(asked_c)}, 10 K below the ceiling")
    if asked_c is None and own_c is not None and before.c is not None and before.c > own_c - CEILING_MARGIN_K:
        limit = f"at least {_c(before.c + CEILING_MARGIN_K)}, 10 K above where the stage before ended"
        fields.complain("ceiling", _found(fields, "ceiling"), limit)


def mould_rules(fields: Fields) -> None:
    """A gypsum-bonded mould has a ceiling, and it is not above the class's limit."""
    if fields.values.get("mould") != "gypsum-bonded":
        return
    limit = f"a ceiling of at most {_c(GYPSUM_LIMIT_C)}, because a gypsum-bonded mould breaks down above it"
    if "ceiling" not in fields.table:
        fields.complain("ceiling", "nothing", limit)
    elif fields.values.get("ceiling", 0.0) > GYPSUM_LIMIT_C:
        fields.complain("ceiling", _found(fields, "ceiling"), limit)


def _found(fields: Fields, name: str) -> str:
    return shown(fields.table[name])


def _above(place: Place) -> str:
    assert place.c is not None
    return f"{'more than' if place.exact else 'at least'} {_c(place.c)}, where the stage before ended"


def _c(celsius: float) -> str:
    """Return a temperature with a decimal only where it has one: `"200 C"`, `"815.6 C"`."""
    return temperature_text(celsius, digits=0 if abs(celsius - round(celsius)) < 0.05 else 1)
