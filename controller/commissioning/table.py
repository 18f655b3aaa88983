"""The steps of bring-up as one table: what you do, what is expected, and why. The docs' page is made from it.

A row is a kind of step; a kiln has one step of it for each thermocouple, each contact, or once. `parts`
names the parts of the kiln's file on which a result rests: when one of them changes, the step is missing
again. "its" stands for the thermocouple or contact that the step is about.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from controller.commissioning.limits import (
    AGEING_K,
    AGREE_K,
    FASTEST_K_PER_MIN,
    LEASE_LATE_S,
    LONGEST_DEAD_S,
    LOW_HEAT_C,
    LOW_HEAT_K,
    LOW_HEAT_S,
    RISES_K,
    SLOWEST_K_PER_MIN,
    THERMOMETER_K,
)
from controller.config import KilnConfig
from controller.errors import UsageError

IN_KILN = ("air", "load", "limit")
LIMIT_SENTENCE = "the limit cut the heat with the computer switched off"

Of = Literal["thermocouple", "enclosure", "readers", "contact", "main_contactor", "kiln"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of step. `heats`: it closes the relay, so every step before it must stand."""

    id: str
    of: Of
    title: str
    do: str
    expect: str
    why: str
    parts: tuple[str, ...]
    heats: bool = False


class Step(NamedTuple):
    """One step for one kiln. `name` is what `--step` takes; `role` is empty for what a kiln has once."""

    name: str
    kind: Kind
    role: str


KINDS: tuple[Kind, ...] = (
    Kind(
        "sensor",
        "thermocouple",
        "a thermocouple found, warmed by hand, the right way round",
        "With the kiln cold, take the tip between two fingers (not in a kiln that is warm, and never near "
        "live elements: the supply of the elements is off).",
        f"it gives good, steady readings; it rises by at least {RISES_K:g} K, does not fall, and no other "
        "rises with it",
        "a warm hand is about 10 K above a room: 2 K is far beyond noise (common practice, no source); "
        "exchanged leads fall, exchanged channels show on another one",
        ("its reader",),
    ),
    Kind(
        "enclosure",
        "enclosure",
        "the electronics' own temperature",
        "Nothing: it is only read.",
        "good readings between -10 C and the temperature at which the guard warns",
        "it is the cold junction of every thermocouple: wrong here is wrong everywhere",
        ("its reader",),
    ),
    Kind(
        "agreement",
        "readers",
        "the thermocouples agree at room temperature",
        "With the kiln cold since yesterday, read a thermometer beside it and type what it says.",
        f"all within their tolerance class + {AGEING_K:g} K of one another ({AGREE_K:g} K where the file "
        f"names no class), and within {THERMOMETER_K:g} K of the thermometer",
        "2.5 K is class 2 of types K and N (IEC 60584-1), and 4 K for ageing and place; 10 K finds degrees "
        "Fahrenheit taken for Celsius and a wrong scale (common practice, no source)",
        ("all readers",),
    ),
    Kind(
        "contact",
        "contact",
        "a contact opens and closes",
        "Open it when you are told to (door, emergency stop, fan, key), then close it again.",
        "it reads well, then not well, then well, and never unknown",
        "a contact that never changes proves nothing (IEC 60730-1, annex H, thinks of stuck inputs)",
        ("its contact",),
    ),
    Kind(
        "relay",
        "kiln",
        "the relay moves, with the main contactor out",
        "Switch the elements' own breaker or isolator off; leave the relay's coil supplied. The program "
        "keeps the main contactor open.",
        "the relay reads back on when heat is granted and off when it is withdrawn; nothing gets warm",
        "the order of switching is proven before there is any power behind it",
        ("heater",),
        heats=True,
    ),
    Kind(
        "lease",
        "kiln",
        "heat ends by itself",
        "As before: elements' breaker off. The program gives one lease and then falls silent.",
        f"the relay drops by itself, at the end of the lease and at most {LEASE_LATE_S:g} s later",
        "this is what happens when the computer dies: heat is leased, never switched on",
        ("heater", "lease", "tick"),
        heats=True,
    ),
    Kind(
        "main_contactor",
        "main_contactor",
        "the main contactor drops on a trip",
        "Watch the contactor. The program closes it, asks for no heat, and lowers the ceiling below what "
        "the air thermocouple reads.",
        "it closes; the guard trips; it opens",
        "a relay that welds shut is stopped here: solid-state relays mostly fail shut (from memory)",
        ("main_contactor",),
        heats=True,
    ),
    Kind(
        "limit",
        "kiln",
        "the independent limit acts without the computer",
        "With the computer switched off, set the independent limit below the kiln's temperature, or warm "
        "its own sensor past it: its contactor must drop and stay out until it is reset by hand. Set it "
        "back. The program cannot see this: only your word can.",
        f"you type: {LIMIT_SENTENCE}",
        "the software is not the safety device; NFPA 86 thinks of an excess-temperature limit independent "
        "of control, with its own sensor, manual reset, proven yearly (no conformity is claimed)",
        ("ceiling",),
    ),
    Kind(
        "low_heat",
        "kiln",
        "a short low heat",
        "Kiln empty, door shut, breaker on, limit set. Stay at the kiln with a hand at the emergency stop.",
        f"the air gets to {LOW_HEAT_C:.0f} C (from a warmer kiln: up {LOW_HEAT_K:.0f} K) or is up at least "
        f"{LOW_HEAT_K:.0f} K after {LOW_HEAT_S / 60:.0f} min, without a trip; then heat and main contactor "
        "read off",
        "the whole chain at a temperature that hurts nobody; 15 min is longer than a kiln needs that can "
        "still finish a firing (common practice, no source)",
        ("heater", "main_contactor", "reader.air"),
        heats=True,
    ),
    Kind(
        "model",
        "kiln",
        "the kiln's first model",
        "Nothing: it is worked out from the short low heat.",
        f"a rise of {SLOWEST_K_PER_MIN:g} to {FASTEST_K_PER_MIN:g} K/min at full heat, a dead time of at "
        f"most {LONGEST_DEAD_S / 60:.0f} min",
        "beyond these a thermocouple is out of place or the power is wrong (common practice, no source)",
        ("heater", "reader.air"),
    ),
)
KIND = {kind.id: kind for kind in KINDS}


def steps(config: KilnConfig) -> tuple[Step, ...]:
    """Return the steps of a kiln, in the order in which they are done."""
    return tuple(
        Step(f"{kind.id}_{role}" if role else kind.id, kind, role)
        for kind in KINDS
        for role in _roles(config, kind.of)
    )


def step_named(config: KilnConfig, name: str) -> Step:
    """Return one step; raise UsageError where the kiln has none of that name."""
    for step in steps(config):
        if step.name == name:
            return step
    known = ", ".join(step.name for step in steps(config))
    raise UsageError(f"--step: found {name!r}, expected one of {known}")


def _roles(config: KilnConfig, of: Of) -> tuple[str, ...]:
    """Return for what a kind of step is done: roles, "" for once, nothing where the kiln has no such part."""
    if of == "thermocouple":
        return tuple(role for role in config.readers if role in IN_KILN)
    if of == "contact":
        return tuple(config.contacts)
    if of == "enclosure":
        return ("",) if "enclosure" in config.readers else ()
    if of == "main_contactor":
        return ("",) if config.main_contactor is not None else ()
    return ("",)
