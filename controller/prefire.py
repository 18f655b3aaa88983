"""The list before each start: what a person has looked at, from the schedule and the kiln. Pure.

Every item is ticked by its id, and whoever can be reached during the firing is named. The list is no proof;
it makes someone look, and the record keeps who looked at what. The items are common practice, no source,
where their reason names none.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple, Protocol

from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule
from controller.schedule.units import temperature_text

LINING = "kiln lining"
"""What a schedule calls its mould when there is none: the kiln's own lining is dried."""


class Kiln(Protocol):
    """What the list must know of a kiln: a part of `KilnConfig`."""

    @property
    def ceiling_c(self) -> float:
        """The kiln's ceiling, C."""

    @property
    def readers(self) -> Mapping[str, Any]:
        """The thermocouples, by role."""

    @property
    def contacts(self) -> Mapping[str, Any]:
        """The contacts, by role."""


class Item(NamedTuple):
    """One thing to look at. `says` is for the person at the kiln, `why` the reason."""

    id: str
    says: str
    why: str


def prefire_items(schedule: Schedule, kiln: Kiln) -> tuple[Item, ...]:
    """Return what must be looked at before this schedule starts on this kiln, in walking order."""
    return tuple(_items(schedule, kiln))


def unmet(items: Iterable[Item], ticked: Iterable[str]) -> tuple[Item, ...]:
    """Return the items that are not ticked, in their order. An unknown id ticks nothing."""
    done = set(ticked)
    return tuple(item for item in items if item.id not in done)


def start_refusal(items: Iterable[Item], ticked: Iterable[str], reachable: str) -> str:
    """Return in one line why a start is refused by the list; empty when it is not.

    `reachable`: who can be reached while the kiln is hot, and how.
    """
    left = unmet(items, ticked)
    if left:
        return f"before a start: {'; '.join(f'{item.says} ({item.id})' for item in left)}"
    if not any(letter.isalnum() for letter in reachable):
        return "before a start: name who can be reached during the firing, and how"
    return ""


def _items(schedule: Schedule, kiln: Kiln) -> Iterator[Item]:
    hottest_c = _hottest_c(schedule)
    burns = any(stage.extraction for stage in schedule.stages)
    yield Item(
        "vent",
        "The kiln's vent is open",
        "steam must get out, and what burns needs air: half a kilogram of PLA wants 2.4 m3 (Huggett, 1980)",
    )
    if burns:
        yield _extraction(kiln)
    yield Item(
        "surroundings",
        "Nothing that burns is near the kiln, and the way to its switch is clear",
        "its outside gets hot for hours, with nobody there",
    )
    if schedule.mould != LINING:
        yield from _shell(burns)
        if "load" in kiln.readers:
            yield Item(
                "load",
                "The load thermocouple touches the shell, and its wire is clear of the door and the elements",
                "holds and ramps wait for what it reads",
            )
    yield Item(
        "limit",
        f"The independent limit is on, and set above {temperature_text(hottest_c)} and at most at "
        f"{temperature_text(kiln.ceiling_c)}",
        "it acts when everything else here fails; NFPA 86 thinks of a limit independent of control",
    )
    yield Item(
        "reachable",
        "Somebody who knows this kiln can be reached until it is cold, and is named below",
        "an alarm that nobody hears helps nobody",
    )


def _extraction(kiln: Kiln) -> Item:
    proven = "extraction" in kiln.contacts
    seen = "" if proven else "; this kiln has no contact that proves it, so you are the only one who looks"
    return Item(
        "extraction",
        f"The extraction runs to the open air, and the carbon monoxide alarm is on{seen}",
        "burning plastic and wax give off carbon monoxide and worse",
    )


def _shell(burns: bool) -> Iterator[Item]:
    if burns:
        yield Item(
            "shell",
            "The shell stands upright and steady, its opening down, with room for the plastic to drain and a "
            "dry tray beneath",
            "what runs out on the elements burns at once; water in the tray boils it over",
        )
    else:
        yield Item(
            "shell",
            "The shell or mould stands upright, steady and clear of the elements",
            "nobody can set it right once it is hot",
        )


def _hottest_c(schedule: Schedule) -> float:
    """Return the highest temperature that a schedule asks for, C."""
    hottest_c = 0.0
    for stage in schedule.stages:
        if isinstance(stage, Ramp | Cool):
            hottest_c = max(hottest_c, stage.to_c)
        elif isinstance(stage, Hold):
            hottest_c = max(hottest_c, stage.at_c)
        elif isinstance(stage, Checkpoint) and stage.then.at_c is not None:
            hottest_c = max(hottest_c, stage.then.at_c)
    return hottest_c
