"""The interlocks: one table, the only source of what the guard watches.

A row's `test` looks at what is measured and at what the guard remembers, and returns what it found in a
few words, or None when all is well. It never sees an estimate and is never told why heat is wanted.

Reactions, from mild to hard: `warn` tells; `hold` makes the schedule's clock stand; `cut` grants no lease
while it lasts; `trip` latches: no lease, main contactor opened, until a person clears it at the kiln. A
row may become a trip when it lasts (`trips_after_s`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from controller.guard.sight import Limits, Memory, Sight

Reaction = Literal["warn", "hold", "cut", "trip"]
Number = Callable[[Limits], float]


@dataclass(frozen=True, slots=True)
class Row:
    """One interlock.

    `after_s`: how long the finding must last before the reaction. `trips_after_s`: how long a milder
    reaction may last before it becomes a trip (None: never). `says` and `do` are for the person. `why`
    gives the reason for the numbers.
    """

    id: str
    watches: str
    test: Callable[[Sight, Memory, Limits], str | None]
    reaction: Reaction
    says: str
    do: str
    why: str
    after_s: Number = lambda _: 0.0
    trips_after_s: Number | None = None


def _no_thermocouple(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    for role, reading in sight.readings:
        if reading.value_c is None:
            return f"{role}: {reading.fault}"
    return None


def _stale(sight: Sight, _memory: Memory, limits: Limits) -> str | None:
    oldest_s = sight.now_s - limits.stale_s
    for role, reading in sight.readings:
        if reading.at_s < oldest_s:
            return f"{role}: {sight.now_s - reading.at_s:.0f} s old"
    return None


def _too_hot(sight: Sight, _memory: Memory, limits: Limits) -> str | None:
    ceiling_c = limits.ceiling_c
    if sight.stage_ceiling_c is not None and sight.stage_ceiling_c < ceiling_c:
        ceiling_c = sight.stage_ceiling_c
    for role, reading in sight.readings:
        if reading.value_c is not None and reading.value_c >= ceiling_c:
            return f"{role}: {reading.value_c:.1f} C, ceiling {ceiling_c:.0f} C"
    return None


def _heat_unasked(sight: Sight, memory: Memory, _limits: Limits) -> str | None:
    if sight.heat_on and sight.now_s > memory.lease_end_s:
        return "the heater reads back on without a lease"
    return None


def _rises_unheated(sight: Sight, memory: Memory, limits: Limits) -> str | None:
    air_c = sight.air_c
    if memory.coldest_unheated_c is None or air_c is None:
        return None
    rise_k = air_c - memory.coldest_unheated_c
    return f"air up {rise_k:.1f} K with the heat off" if rise_k >= limits.unheated_rise_k else None


def _no_rise(sight: Sight, memory: Memory, limits: Limits) -> str | None:
    if memory.full_heat_since_s is None:
        return None
    lasted_s = sight.now_s - memory.full_heat_since_s
    if lasted_s < limits.no_rise_after_s:
        return None
    return f"{lasted_s / 60:.0f} min of full heat, air up less than {limits.no_rise_k:.0f} K"


def _not_followed(sight: Sight, memory: Memory, _limits: Limits) -> str | None:
    if memory.granted and sight.now_s <= memory.lease_end_s:
        if sight.heat_on is False:
            return "heat was granted, the heater reads back off"
        if sight.main_on is False:
            return "heat was granted, the main contactor reads back open"
    if memory.main_opened and sight.main_on:
        return "the main contactor was opened, it reads back closed"
    return None


def _not_answering(sight: Sight, memory: Memory, _limits: Limits) -> str | None:
    if memory.write_failed:
        return f"the heater does not take a command: {memory.write_failed}"
    return "the heater gives no read-back" if sight.reads_back and sight.heat_on is None else None


def _contact_unknown(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    named = (
        ("door", sight.door_ok),
        ("emergency stop", sight.emergency_stop_ok),
        ("key", sight.key_ok),
        ("extraction", sight.extraction_ok),
    )
    unknown = [name for name, ok in named if ok is None]
    return ", ".join(unknown) if unknown else None


def _door_open(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    return "open" if sight.door_ok is False else None


def _emergency_stop(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    if sight.emergency_stop_ok is False:
        return "pressed"
    return "key removed" if sight.key_ok is False else None


def _no_extraction(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    return "not running" if sight.extraction_needed and sight.extraction_ok is False else None


def _late(sight: Sight, _memory: Memory, _limits: Limits) -> str | None:
    return f"the tick came {sight.late_s:.1f} s late" if sight.late_s > 0.0 else None


ROWS: tuple[Row, ...] = (
    Row(
        "ceiling",
        "any sensor at or above the kiln's ceiling, or the stage's",
        _too_hot,
        "trip",
        "Too hot",
        "Keep away from the door. Let the kiln cool. Find out why before anything is heated again.",
        "the configuration states the ceiling; 2 s so that one disturbed reading does not end a firing",
        after_s=lambda limits: limits.ceiling_after_s,
    ),
    Row(
        "sensor_bad",
        "a thermocouple open, shorted, silent or out of its type's range",
        _no_thermocouple,
        "cut",
        "A thermocouple gives no good reading",
        "Look at its connection. Heat returns by itself with the reading; if not, this becomes a trip.",
        "no heat without a measurement (IEC 60730-1 annex H thinks so too); 120 s to push a plug back in",
        trips_after_s=lambda limits: limits.sensor_trip_s,
    ),
    Row(
        "reading_stale",
        "a reading that is not renewed",
        _stale,
        "cut",
        "A reading is too old to trust",
        "Look at the reader and its wire.",
        "10 s: an electric kiln at full heat moves 1 to 2 K in that time (common practice, no source)",
        trips_after_s=lambda limits: limits.sensor_trip_s,
    ),
    Row(
        "heat_without_lease",
        "the heater reads back on and holds no lease (relay welded)",
        _heat_unasked,
        "trip",
        "The heater is on without permission",
        "Switch the kiln off at the wall. The relay has probably welded shut: have it replaced.",
        "5 s: longer than a relay takes to drop and its contact to be read",
        after_s=lambda limits: limits.read_back_s,
    ),
    Row(
        "rises_unheated",
        "the temperature rises with no heat granted (relay welded, read-back blind)",
        _rises_unheated,
        "trip",
        "The kiln gets hotter with the heat off",
        "Switch the kiln off at the wall. The relay has probably welded shut: have it replaced.",
        "after 3 min off the elements no longer glow; 12 K is beyond noise and settling (common practice)",
    ),
    Row(
        "no_rise",
        "full heat and no rise (element, breaker, door, thermocouple out of the kiln)",
        _no_rise,
        "hold",
        "Full heat, and the kiln does not get hotter",
        "Look at the breaker, the door, the elements, and whether the thermocouple is in the kiln.",
        "10 min and 3 K: slower than any kiln that can still finish a firing (common practice, no source)",
        trips_after_s=lambda limits: limits.no_rise_trip_s,
    ),
    Row(
        "heater_differs",
        "the heater or main contactor does not read back what it was told",
        _not_followed,
        "trip",
        "The heater does not do what it is told",
        "Look at the relay, the main contactor and their wiring.",
        "5 s: longer than a contactor takes to move and its contact to be read",
        after_s=lambda limits: limits.read_back_s,
    ),
    Row(
        "heater_silent",
        "the heater takes no command or gives no read-back",
        _not_answering,
        "cut",
        "The heater does not answer",
        "Look at the relay board's supply and wire. Its own time-out has dropped the heat.",
        "120 s as for a thermocouple: time to put a plug back in",
        trips_after_s=lambda limits: limits.sensor_trip_s,
    ),
    Row(
        "contact_unknown",
        "a contact (door, emergency stop, key, extraction) that cannot be read",
        _contact_unknown,
        "cut",
        "A contact cannot be read",
        "Look at the contacts' board, its supply and its wire.",
        "unknown is not safe, yet one missed answer must not end a night's firing: 120 s as for a sensor",
        trips_after_s=lambda limits: limits.sensor_trip_s,
    ),
    Row(
        "door_open",
        "the door is open",
        _door_open,
        "cut",
        "The door is open",
        "Close it. Heat returns by itself.",
        "live elements behind an open door can kill: no delay",
    ),
    Row(
        "emergency_stop",
        "the emergency stop is pressed, or the key removed",
        _emergency_stop,
        "trip",
        "Emergency stop, or key removed",
        "Make the place safe, unlatch the button, then clear the trip at the kiln.",
        "no delay; a restart is a deliberate act (IEC 60519-1)",
    ),
    Row(
        "no_extraction",
        "extraction is not proven in a stage that needs it",
        _no_extraction,
        "cut",
        "The extraction is not proven",
        "Start the fan, or free its flow switch. Do not breathe the fumes. Heat returns by itself.",
        "10 s for a flow switch to settle; fumes of burning plastic and wax contain carbon monoxide",
        after_s=lambda limits: limits.extraction_after_s,
    ),
    Row(
        "tick_late",
        "a tick that comes late",
        _late,
        "warn",
        "The controller was late",
        "Nothing, if it is rare. If it comes often, the computer is overloaded or failing.",
        "a late tick grants nothing; the lease runs out by itself",
    ),
)
