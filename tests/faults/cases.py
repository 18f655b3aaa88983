"""For every row of the guard, what sets it off: on the simulated kiln, or on the controller's computer.

One table, for the tests of faults, the campaign and the page that lists the tests.
"""

from __future__ import annotations

from typing import NamedTuple

RAMPING_S, HOLDING_S = 900.0, 5400.0


class Case(NamedTuple):
    """Faults, when they set in, the row that must find it within `within_s`, and how that must end."""

    row_id: str
    faults: str
    at_s: float
    within_s: float
    ends: str


CASES = (
    Case("ceiling", "plastic_burns", HOLDING_S, 600, "trip"),
    Case("sensor_bad", "air_open", RAMPING_S, 1, "trip"),
    Case("sensor_bad", "load_short", HOLDING_S, 1, "trip"),
    Case("sensor_bad", "limit_open", HOLDING_S, 1, "trip"),
    Case("reading_stale", "reader_silent", HOLDING_S, 12, "trip"),
    Case("reading_frozen", "limit_frozen", RAMPING_S, 1200, "trip"),
    Case("reading_frozen", "reader_frozen", RAMPING_S, 1200, "trip"),
    Case("readings_still", "reader_frozen", HOLDING_S, 400, "trip"),
    Case("reading_falls", "air_reversed", RAMPING_S, 300, "trip"),
    Case("sensors_differ", "limit_reads_low", HOLDING_S, 300, "hold"),
    Case("sensors_differ", "air_reads_low limit_reads_low", RAMPING_S, 3 * 3600, "hold"),
    # Heat off, and it still rises for minutes: a fire cannot be told from a welded relay, so it trips.
    Case("surge", "plastic_burns", HOLDING_S, 900, "trip"),
    Case("enclosure_warm", "hot_enclosure", RAMPING_S, 5, "trip"),
    Case("enclosure_hot", "hot_enclosure", RAMPING_S, 5, "trip"),
    Case("heat_without_lease", "relay_stuck", HOLDING_S, 60, "trip"),
    Case("rises_unheated", "relay_welded", HOLDING_S, 900, "trip"),
    Case("no_rise", "element_broken", RAMPING_S, 1800, "trip"),
    Case("no_rise", "breaker_tripped", RAMPING_S, 1800, "trip"),
    Case("heater_differs", "relay_dead", RAMPING_S, 60, "trip"),
    Case("heater_differs", "main_dead", RAMPING_S, 60, "trip"),
    Case("heater_silent", "heater_silent", HOLDING_S, 2, "trip"),
    Case("heater_refuses", "heater_refuses", HOLDING_S, 150, "trip"),
    Case("contact_unknown", "contacts_silent", HOLDING_S, 1, "trip"),
    Case("door_open", "door_opened", HOLDING_S, 1, "cut"),
    Case("emergency_stop", "emergency_stop_pressed", RAMPING_S, 1, "trip"),
    Case("emergency_stop", "key_removed", HOLDING_S, 1, "trip"),
    Case("no_extraction", "extraction_lost", RAMPING_S, 12, "cut"),
)

# Set off by what the computer does, and tested one by one: the row, and its trouble in tests/in_process.py.
# A firing that is forgotten is one whose limit comes.
COMPUTER = {
    "tick_late": "computer_slow",
    "clock_stepped": "clock_set",
    "record_trouble": "disk_full",
    "firing_too_long": "forgotten",
}


def faults_of(row_id: str) -> tuple[str, ...]:
    """Return what sets a row off: names of faults, those that must stand together with a space between."""
    found = [case.faults for case in CASES if case.row_id == row_id]
    if row_id in COMPUTER:
        found.append(COMPUTER[row_id])
    return tuple(dict.fromkeys(found))
