"""The judgement: a pure function from what is seen and remembered to what stands.

Every row is evaluated at every tick, and every one that stands is reported; the first of the trips that
came is marked (first-out), and that is a field, not an early return.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.guard.memory import Memory, remember
from controller.guard.rows import ROWS, Row
from controller.guard.sight import Given, Limits, Sight

_QUIET: tuple[float | None, ...] = (None,) * len(ROWS)
_TESTS = tuple(row.test for row in ROWS)
_NOTHING = [None] * len(ROWS)


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


def judge(memory: Memory, given: Given, sight: Sight, limits: Limits) -> tuple[Memory, Verdict]:
    """Judge one tick: every row against what is seen. Pure."""
    memory = remember(memory, given, sight, limits)
    found = [test(sight, given, memory, limits) for test in _TESTS]
    if found == _NOTHING:
        return (memory if memory.since_s is _QUIET else memory._replace(since_s=_QUIET)), ALL_WELL
    now_s = sight.now_s
    since_s = tuple(
        None if what is None else now_s if began_s is None else began_s
        for what, began_s in zip(found, memory.since_s, strict=True)
    )
    findings = tuple(
        Finding(row, what, began_s, now_s - began_s >= row.trips_after_s(limits))
        for row, what, began_s in zip(ROWS, found, since_s, strict=True)
        if what is not None and began_s is not None and now_s - began_s >= row.after_s(limits)
    )
    return memory._replace(since_s=since_s), add_up(findings)


def add_up(findings: tuple[Finding, ...]) -> Verdict:
    """Add findings up into a verdict; one that trips also cuts."""
    trip = any(finding.trips for finding in findings)
    cut = trip or any(finding.row.reaction == "cut" for finding in findings)
    hold = any(finding.row.reaction == "hold" for finding in findings)
    return Verdict(findings, hold, cut, trip)
