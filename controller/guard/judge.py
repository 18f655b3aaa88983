"""The judgement: a pure function from what is seen and remembered to what stands.

Every row is evaluated at every tick, and every one that stands is reported; the first of the trips that
came is marked (first-out), and that is a field, not an early return.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.guard.rows import ROWS, Row
from controller.guard.sight import Limits, Memory, Sight

_QUIET: tuple[float | None, ...] = (None,) * len(ROWS)


class Finding(NamedTuple):
    """A row that stands: what was found, since when (s), and whether it is (or has become) a trip."""

    row: Row
    found: str
    since_s: float
    trips: bool


class Verdict(NamedTuple):
    """What stands at this tick. `hold`, `cut`, `trip`: whether any finding asks for that much."""

    findings: tuple[Finding, ...]
    hold: bool
    cut: bool
    trip: bool


ALL_WELL = Verdict((), False, False, False)


def fresh_memory() -> Memory:
    """Return what a guard remembers that has seen nothing yet."""
    return Memory(_QUIET)


def judge(memory: Memory, sight: Sight, limits: Limits) -> tuple[Memory, Verdict]:
    """Judge one tick: every row against what is seen. Pure."""
    memory = _remember(memory, sight, limits)
    found = [row.test(sight, memory, limits) for row in ROWS]
    if memory.since_s is _QUIET and not any(found):
        return memory, ALL_WELL
    now_s = sight.now_s
    since_s = tuple(
        None if what is None else now_s if began_s is None else began_s
        for what, began_s in zip(found, memory.since_s, strict=True)
    )
    findings = tuple(
        Finding(row, what, began_s, _trips(row, now_s - began_s, limits))
        for row, what, began_s in zip(ROWS, found, since_s, strict=True)
        if what is not None and began_s is not None and now_s - began_s >= row.after_s(limits)
    )
    if not any(found):
        since_s = _QUIET
    return memory._replace(since_s=since_s), add_up(findings)


def _trips(row: Row, lasted_s: float, limits: Limits) -> bool:
    """Whether a finding that has lasted so long is a trip."""
    if row.reaction == "trip":
        return True
    return row.trips_after_s is not None and lasted_s >= row.trips_after_s(limits)


def add_up(findings: tuple[Finding, ...]) -> Verdict:
    """Add findings up into a verdict; one that trips also cuts."""
    trip = any(finding.trips for finding in findings)
    cut = trip or any(finding.row.reaction == "cut" for finding in findings)
    hold = any(finding.row.reaction == "hold" for finding in findings)
    return Verdict(findings, hold, cut, trip)


def _remember(memory: Memory, sight: Sight, limits: Limits) -> Memory:
    """Bring the two temperature memories up to date with this tick's reading."""
    air_c = sight.air_c
    if air_c is None:
        return memory
    if memory.granted:
        if memory.full_heat_since_s is None or air_c >= memory.full_heat_from_c + limits.no_rise_k:
            return memory._replace(
                full_heat_since_s=sight.now_s, full_heat_from_c=air_c, coldest_unheated_c=None
            )
        return memory if memory.coldest_unheated_c is None else memory._replace(coldest_unheated_c=None)
    coldest_c = memory.coldest_unheated_c
    if sight.now_s - memory.heat_end_s < limits.unheated_settle_s:
        coldest_c = None
    elif coldest_c is None or air_c < coldest_c:
        coldest_c = air_c
    if coldest_c == memory.coldest_unheated_c and memory.full_heat_since_s is None:
        return memory
    return memory._replace(full_heat_since_s=None, coldest_unheated_c=coldest_c)
