"""What the plant shows: to the wire, and to a person at the kiln."""

from __future__ import annotations

from typing import NamedTuple


class Readings(NamedTuple):
    """What the reader makes of the three thermocouples, C; None is its fault code."""

    air_c: float | None
    load_c: float | None
    limit_c: float | None


class Contacts(NamedTuple):
    """The digital inputs, each true when all is well."""

    door_closed: bool
    emergency_stop_released: bool
    extraction_running: bool
    person_present: bool
    key_in: bool


class Sight(NamedTuple):
    """All that a person at the kiln could see. `faults.Fault.changes` names fields of this.

    Temperatures in C, power and burning in W, air flow in kg/s, opening in m2.
    """

    air: float | None
    load: float | None
    limit: float | None
    enclosure: float
    power: float
    heat_aux: bool
    main_aux: bool
    door: bool
    emergency_stop: bool
    extraction: bool
    presence: bool
    key: bool
    air_flow: float
    opening: float
    burning: float
    reader: str
    heater: str
    contacts: str
