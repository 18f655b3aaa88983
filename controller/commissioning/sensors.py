"""The steps that only read: thermocouples, the enclosure, agreement, contacts. Nothing is heated.

Each function carries out one step on a bench and returns what came of it.
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median

from controller.commissioning import judge, limits
from controller.commissioning.result import Done
from controller.commissioning.rig import Bench, Rig, Seen, not_yet
from controller.commissioning.table import IN_KILN, Step
from controller.schedule.units import UnitError, temperature_c

REST_POLLS = 8
"""Polls of a sensor at rest: enough for a median that one disturbed reading does not move."""
BY_HAND_S = 120.0
"""How long a person has for each thing that is done by hand: to the kiln and back (common practice)."""
AT_REST_C = 20.0

OPEN = {
    "door": "Open the door.",
    "emergency_stop": "Press the emergency stop.",
    "extraction": "Switch the extraction off.",
    "presence": "Turn the presence key away.",
    "key": "Take the key out.",
}
CLOSE = {
    "door": "Close the door.",
    "emergency_stop": "Release the emergency stop.",
    "extraction": "Switch the extraction on.",
    "presence": "Turn the presence key to where it says that you are here.",
    "key": "Put the key in.",
}


def value_of(role: str) -> Callable[[Seen], float | None]:
    """Return what takes one thermocouple's reading out of a poll."""

    def value(seen: Seen) -> float | None:
        reading = seen.polled.readings.get(role)
        return reading.value_c if reading is not None else None

    return value


def sensor(bench: Bench, step: Step) -> Done:
    """One thermocouple: at rest, then warmed by hand."""
    role = step.role
    value = value_of(role)
    with bench.rig() as rig:
        rest = _settled(rig, value)
        found = judge.found(role, [value(seen) for seen in rest], fault(rest[-1], role))
        if not found.passed:
            return Done((found,))
        before_c = {one: _middle_c(rest, one) for one in _roles(bench)}
        bench.person.tell(f"Warm the {role} thermocouple now, with your fingers, for up to 2 minutes.")
        mine_c = before_c[role] or 0.0
        seen = rig.watch(BY_HAND_S, lambda now: _moved(value(now), mine_c))
    rises_k = {one: _rise_k(seen, one, c) for one, c in before_c.items()}
    checks = (
        found,
        *judge.warmed(role, mine_c, [value(one) for one in seen]),
        judge.the_right_one(role, rises_k),
    )
    return Done(checks, {"before_c": mine_c, "rise_k": rises_k[role]})


def enclosure(bench: Bench, _step: Step) -> Done:
    """The electronics' own temperature."""
    with bench.rig() as rig:
        rest = _rest(bench, rig)
    values = [value_of("enclosure")(seen) for seen in rest]
    warm_c = bench.config.guard.enclosure_warm_c
    return Done((judge.enclosure(values, warm_c, fault(rest[-1], "enclosure")),))


def agreement(bench: Bench, _step: Step) -> Done:
    """The thermocouples against one another, and against a thermometer."""
    try:
        typed = bench.person.ask("What does a thermometer beside the kiln say (for example 20 C or 68 F)?")
        room_c: float | None = temperature_c(typed)
    except UnitError:
        room_c = None
    with bench.rig() as rig:
        rest = _rest(bench, rig)
    readings = {role: [value_of(role)(seen) for seen in rest] for role in _roles(bench)}
    figures = {f"{role}_c": c for role in readings if (c := _middle_c(rest, role)) is not None}
    checks = judge.agreement(readings, room_c, _allowed_k(bench))
    return Done(checks, figures if room_c is None else figures | {"room_c": room_c})


def contact(bench: Bench, step: Step) -> Done:
    """One contact: at rest, opened, closed again."""
    role = step.role
    with bench.rig() as rig:
        told: list[bool | None] = []
        for says, wanted in (("", True), (OPEN[role], False), (CLOSE[role], True)):
            if says:
                bench.person.tell(says)
            seen = rig.watch(BY_HAND_S if says else bench.config.tick_s, _reads(role, wanted))
            told.append(state(seen[-1], role))
            if told[-1] is not wanted:
                break
    well, opened, again = (*told, None, None)[:3]
    checks = judge.contact(role, well, opened, again)
    return Done(checks[: len(told)])


def state(seen: Seen, role: str) -> bool | None:
    """Return what a contact reads in one poll; None for unknown."""
    found = seen.polled.contacts.get(role)
    return found.on if found is not None else None


def fault(seen: Seen, role: str) -> str:
    """Return why a thermocouple gives no good reading in one poll; empty when it gives one."""
    reading = seen.polled.readings.get(role)
    return (reading.fault or "") if reading is not None else "it is not in the poll"


def _reads(role: str, wanted: bool) -> Callable[[Seen], bool]:
    return lambda seen: state(seen, role) is wanted


def _rest(bench: Bench, rig: Rig) -> list[Seen]:
    """Poll everything for a while, at rest."""
    return rig.watch((REST_POLLS - 1) * bench.config.tick_s, not_yet)


def _settled(rig: Rig, value: Callable[[Seen], float | None]) -> list[Seen]:
    """Poll until one sensor is at rest, or is seen not to come to rest; return the last polls.

    A tip that has just been warmed, or was touched on the way, takes minutes to come back.
    """
    latest: list[Seen] = []

    def at_rest(seen: Seen) -> bool:
        latest.append(seen)
        values = [value(one) for one in latest[-REST_POLLS:]]
        good = [c for c in values if c is not None]
        if len(values) < REST_POLLS:
            return False
        return len(good) < len(values) or max(good) - min(good) <= limits.STEADY_K

    rig.watch(BY_HAND_S, at_rest)
    return latest[-REST_POLLS:]


def _roles(bench: Bench) -> tuple[str, ...]:
    return tuple(role for role in bench.config.readers if role in IN_KILN)


def _allowed_k(bench: Bench) -> float:
    """How far thermocouples may be apart: the widest tolerance class among them, and ageing and place."""
    readers = bench.config.readers
    bands_k = [readers[role].band_k(AT_REST_C) or limits.CLASS_2_K for role in _roles(bench)]
    return max(bands_k) + limits.AGEING_K


def _middle_c(seen: list[Seen], role: str) -> float | None:
    good = [c for one in seen if (c := value_of(role)(one)) is not None]
    return median(good) if good else None


def _moved(now_c: float | None, before_c: float) -> bool:
    """Whether a reading has moved enough for a judgement: up, or down, or lost."""
    if now_c is None:
        return True
    return now_c - before_c >= limits.RISES_K or before_c - now_c > limits.RISES_K


def _rise_k(seen: list[Seen], role: str, before_c: float | None) -> float:
    good = [c for one in seen if (c := value_of(role)(one)) is not None]
    return max(good) - before_c if good and before_c is not None else 0.0
