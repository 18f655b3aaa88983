"""One look at the kiln: everything that the rows ask for, laid out once a tick.

Two dozen rows ask for some eighty values at every tick. A field of a named tuple takes ten times as long to
read as a slot; so what is seen, done and remembered is laid out here once, and what several rows ask of the
readings is worked out once. `judge` makes a look, shows it to every row and throws it away; nobody else
changes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from controller.guard.sight import Given, Limits, Reading, Sight

if TYPE_CHECKING:
    from controller.guard.memory import Memory, Sample

INFINITE = float("inf")


@dataclass(slots=True, init=False, eq=False)
class Look:
    """The limits, and fields of sight, deeds and memory under their own names (see there).

    And of the readings: `hottest_role`, `hottest_c`: the hottest one ("" and -inf where none is good);
    `oldest_role`, `oldest_s`: the one that was renewed longest ago, and when; `bad`: the first one that gives
    no temperature, None when all do.
    """

    limits: Limits
    now_s: float
    air_c: float | None
    readings: tuple[tuple[str, Reading], ...]
    heat_on: bool | None
    main_on: bool | None
    door_ok: bool | None
    emergency_stop_ok: bool | None
    key_ok: bool | None
    extraction_ok: bool | None
    stage_ceiling_c: float | None
    extraction_needed: bool
    late_s: float
    reads_back: bool
    limit_c: float | None
    enclosure_c: float | None
    clock_step_s: float
    record_trouble: str
    reads_main_back: bool
    firing_since_s: float | None
    granted: bool
    lease_end_s: float
    heat_end_s: float
    heated_s: float
    main_opened: bool
    armed_since_s: float | None
    write_failed: str
    refused_since_s: float | None
    refused_at_s: float
    hottest_role: str
    hottest_c: float
    oldest_role: str
    oldest_s: float
    bad: tuple[str, Reading] | None
    coldest_unheated_c: float | None
    coldest_limit_c: float | None
    full_heat_since_s: float | None
    full_heat_from_c: tuple[float, float | None] | None
    disturbed_s: float
    sample: Sample | None

    def __init__(self, sight: Sight, given: Given, limits: Limits) -> None:
        """Lay out what is seen and done, field by field in the order of the tuples."""
        self.limits = limits
        (
            self.now_s, self.air_c, readings, self.heat_on, self.main_on, self.door_ok,
            self.emergency_stop_ok, self.key_ok, self.extraction_ok, self.stage_ceiling_c,
            self.extraction_needed, self.late_s, self.reads_back, self.limit_c, self.enclosure_c,
            self.clock_step_s, self.record_trouble, self.reads_main_back, self.firing_since_s,
        ) = sight  # fmt: skip
        (
            self.granted, self.lease_end_s, self.heat_end_s, self.heated_s, self.main_opened,
            self.armed_since_s, self.write_failed, self.refused_since_s, self.refused_at_s, _,
        ) = given  # fmt: skip
        self.readings = readings
        bad, hottest_role, hottest_c, oldest_role, oldest_s = None, "", -INFINITE, "", INFINITE
        for role, reading in readings:
            value_c, at_s = reading.value_c, reading.at_s
            if value_c is not None and value_c > hottest_c:
                hottest_role, hottest_c = role, value_c
            if value_c is None or not -INFINITE < value_c < INFINITE:
                bad = bad or (role, reading)
            if at_s < oldest_s:
                oldest_role, oldest_s = role, at_s
        self.bad, self.hottest_role, self.hottest_c = bad, hottest_role, hottest_c
        self.oldest_role, self.oldest_s = oldest_role, oldest_s

    def remembers(self, memory: Memory) -> None:
        """Lay out beside it what is remembered."""
        (
            _, _, self.coldest_unheated_c, self.full_heat_since_s, self.full_heat_from_c, _, _,
            self.disturbed_s, self.sample, self.coldest_limit_c,
        ) = memory  # fmt: skip
