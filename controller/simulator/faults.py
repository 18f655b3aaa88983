"""The faults that can be switched on in the simulated kiln: one table, one row each.

A row's place is its coil on the fault panel: rows are added at the end and never moved. `changes` names
what a person at the kiln could see differ (the fields of `plant.Sight`); a test switches on each row
and holds the plant to it. Any faults may stand together.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.errors import UsageError


class Fault(NamedTuple):
    """One thing that can break."""

    name: str
    part: str
    words: str
    changes: tuple[str, ...]


ROLES = ("air", "load", "limit")

SENSOR_WORDS = {
    "open": "the thermocouple is broken; the reader sends its code for it",
    "short": "the leads touch; the reader notices and sends its code for it",
    "short_unseen": "the leads touch at the reader, which gives its own temperature instead",
    "frozen": "the reading stands still at its last value",
    "reversed": "the leads are exchanged: it falls as the kiln heats",
    "reads_low": "it reads 15 % low: the wrong kind of thermocouple, or one not pushed in",
}

FAULTS: tuple[Fault, ...] = (
    *(
        Fault(f"{role}_{way}", f"{role} thermocouple", words, (role,))
        for role in ROLES
        for way, words in SENSOR_WORDS.items()
    ),
    Fault("hot_enclosure", "reader", "the enclosure is 45 K hotter than it should be", ("enclosure",)),
    Fault("reader_frozen", "reader", "it answers, always the same", ("air", "load", "limit", "enclosure")),
    Fault("reader_silent", "reader", "it does not answer", ("reader",)),
    Fault("reader_slow", "reader", "it takes a quarter of a second to answer", ("reader",)),
    Fault("reader_misnamed", "reader", "its answers come in another unit's name", ("reader",)),
    Fault("heater_silent", "heater", "it does not answer; its lease still runs", ("heater",)),
    Fault("contacts_silent", "contacts", "they do not answer", ("contacts",)),
    Fault("relay_welded", "heater", "current flows with the coil off, unseen by the read-back", ("power",)),
    Fault("relay_stuck", "heater", "current flows with the coil off, and reads back", ("power", "heat_aux")),
    Fault("relay_dead", "heater", "the relay does not take; the read-back says so", ("power", "heat_aux")),
    Fault("element_broken", "elements", "heat is on and no current flows", ("power",)),
    Fault("element_half", "elements", "one of two windings is broken: half the power", ("power",)),
    Fault("breaker_tripped", "supply", "the elements' breaker is off: no current flows", ("power",)),
    Fault("main_stuck_closed", "main contactor", "it does not open", ("power", "main_aux")),
    Fault("main_dead", "main contactor", "it does not close", ("power", "main_aux")),
    Fault("door_opened", "door", "it stands open", ("door", "air_flow", "opening")),
    Fault(
        "emergency_stop_pressed",
        "emergency stop",
        "its contact is open, and so is the main contactor, by wire",
        ("emergency_stop", "power", "main_aux"),
    ),
    Fault("extraction_lost", "extraction", "it does not run", ("extraction", "air_flow")),
    Fault("nobody_present", "presence contact", "nobody stands at the kiln", ("presence",)),
    Fault("key_removed", "key switch", "the key is out", ("key",)),
    Fault("plastic_burns", "load", "burning plastic sets free 4 kW in the chamber", ("burning",)),
    Fault("heater_refuses", "heater", "it takes every order but the one to heat", ("heater",)),
)

NAMES = tuple(fault.name for fault in FAULTS)


class Due(NamedTuple):
    """A fault that sets in at a kiln time, counted in s from the start."""

    at_s: float
    name: str


def number(name: str) -> int:
    """Return a fault's coil on the fault panel; raise UsageError where there is none of that name."""
    if name not in NAMES:
        raise UsageError(f"fault: found {name!r}, expected one that `stokehold fault list` shows")
    return NAMES.index(name)


def due(text: str) -> Due:
    """Read "NAME@SECONDS"; raise UsageError where it is not that."""
    name, _, seconds = text.partition("@")
    number(name)
    try:
        at_s = float(seconds)
    except ValueError:
        at_s = -1.0
    if not 0.0 <= at_s < float("inf"):
        raise UsageError(f"fault {name}: found {text!r}, expected NAME@SECONDS, the seconds not negative")
    return Due(at_s, name)
