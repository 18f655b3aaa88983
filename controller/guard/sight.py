"""What the guard sees, what it remembers and the numbers it judges by. Nothing of ours is imported."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol


class Reading(Protocol):
    """A measured temperature: `value_c` or a `fault`, never both; `at_s` is when the wire gave it."""

    @property
    def value_c(self) -> float | None:
        """Degrees Celsius, or None when there is no good reading."""

    @property
    def fault(self) -> str | None:
        """Why there is no good reading, or None."""

    @property
    def at_s(self) -> float:
        """The controller's monotonic time (s) of the value."""


class Sight(NamedTuple):
    """What is measured at one tick. None means unknown, and unknown is never safe.

    `readings`: every thermocouple in the kiln by role, the air's among them. `limit_c`, `enclosure_c`:
    the limit thermocouple and the electronics' enclosure, None also where there is none. A contact that
    the kiln does not have is given as True by the caller, who knows the configuration; `reads_back`
    False: the heater cannot be read back; `reads_main_back` True: the main contactor can. `late_s`: by
    how much this tick was late, 0.0 when it was in time. `clock_step_s`: by how much the date and time
    jumped against the monotonic clock. `record_trouble`: why the record cannot be written, empty when it
    can. `stage_ceiling_c`, `extraction_needed`: limits that the stage adds; a stage can only lower the
    ceiling. `firing_since_s`: since when the firing in hand goes on (s of the same clock, before the present
    run of the program where that took it up), None when there is none.
    """

    now_s: float
    air_c: float | None
    readings: tuple[tuple[str, Reading], ...]
    heat_on: bool | None
    main_on: bool | None
    door_ok: bool | None = True
    emergency_stop_ok: bool | None = True
    key_ok: bool | None = True
    extraction_ok: bool | None = True
    stage_ceiling_c: float | None = None
    extraction_needed: bool = False
    late_s: float = 0.0
    reads_back: bool = True
    limit_c: float | None = None
    enclosure_c: float | None = None
    clock_step_s: float = 0.0
    record_trouble: str = ""
    reads_main_back: bool = False
    firing_since_s: float | None = None


class Given(NamedTuple):
    """What the guard itself has done: the other half of every judgement about the heater.

    `granted`: whether the last tick granted heat. `lease_end_s`: when the last lease ends. `heat_end_s`:
    when heat was last granted. `heated_s`: seconds of heat granted so far. `main_opened`: the main
    contactor was told to open. `armed_since_s`: since when a firing has had it closed. `write_failed`:
    what the wire said when a command did not get through.
    """

    granted: bool = False
    lease_end_s: float = float("-inf")
    heat_end_s: float = float("-inf")
    heated_s: float = 0.0
    main_opened: bool = True
    armed_since_s: float | None = None
    write_failed: str = ""
    refused_since_s: float | None = None
    refused_at_s: float = float("-inf")
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Limits:
    """The guard's numbers for one kiln. The reasons stand beside the rows that use them.

    `lease_s`: how long one grant lasts. All `_s` in seconds of the kiln's clock, `_k` in kelvin.
    """

    ceiling_c: float
    lease_s: float = 3.0
    longest_firing_s: float = 172_800.0
    ceiling_after_s: float = 2.0
    stale_s: float = 10.0
    sensor_trip_s: float = 120.0
    frozen_s: float = 300.0
    frozen_other_k: float = 15.0
    still_trip_s: float = 600.0
    falls_k: float = 10.0
    differ_k: float = 40.0
    differ_after_s: float = 60.0
    read_back_s: float = 5.0
    unheated_settle_s: float = 180.0
    unheated_rise_k: float = 12.0
    no_rise_after_s: float = 600.0
    no_rise_k: float = 3.0
    no_rise_trip_s: float = 1800.0
    fastest_rise_k_per_min: float = 30.0
    surge_k_per_min: float = 5.0
    surge_after_s: float = 20.0
    surge_settle_s: float = 600.0
    extraction_after_s: float = 10.0
    enclosure_warm_c: float = 55.0
    enclosure_hot_c: float = 70.0
    clock_step_s: float = 5.0
