"""The judgement: a pure function from what is seen and remembered to what stands.

Every row is evaluated at every tick, and every one that stands is reported; the first of the trips that
came is marked (first-out), and that is a field, not an early return.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.guard.look import Look
from controller.guard.memory import Memory, remember
from controller.guard.rows import ROWS, Row
from controller.guard.sight import Given, Limits, Sight

_QUIET: tuple[float, ...] = (0.0,) * len(ROWS)
_TESTS = tuple(row.test for row in ROWS)
# A finding that comes and goes lasts on: what it gathered while it stood it loses this much more slowly
# while it does not. What stands every other tick trips in the end; what stands one tick in ten never does.
FORGETS = 0.25
# A pause in the ticks longer than this is not counted as if something had stood all the while.
LONGEST_STEP_S = 10.0
# Sums of tick lengths are exact to far better than this.
NOTHING_S = 1e-6


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
    look = Look(sight, given, limits)
    after = remember(memory, look)
    look.remembers(after)
    if memory.lasted_s is _QUIET:
        for test in _TESTS:
            if test(look) is not None:
                break
        else:
            return after, ALL_WELL
    return _add_time(memory, after, look, [test(look) for test in _TESTS])


def _add_time(memory: Memory, after: Memory, look: Look, found: list[str | None]) -> tuple[Memory, Verdict]:
    """Add this tick to what every finding has lasted, and give what stands for long enough."""
    now_s, limits = look.now_s, look.limits
    dt_s = 0.0 if memory.seen_s is None else min(now_s - memory.seen_s, LONGEST_STEP_S)
    lasted_s = tuple(
        had_s + dt_s if what is not None else max(0.0, had_s - FORGETS * dt_s)
        for what, had_s in zip(found, memory.lasted_s, strict=True)
    )
    findings = []
    for row, what, counted_s in zip(ROWS, found, lasted_s, strict=True):
        if what is not None:
            stood_s = max(0.0, counted_s - dt_s) + NOTHING_S  # since the tick at which it was first seen
            if stood_s >= row.after_s(limits):
                trips = stood_s >= row.trips_after_s(limits)
                findings.append(Finding(row, what, now_s - stood_s, trips))
    kept_s = lasted_s if any(lasted_s) else _QUIET
    return after._replace(lasted_s=kept_s), add_up(tuple(findings))


def add_up(findings: tuple[Finding, ...]) -> Verdict:
    """Add findings up into a verdict; one that trips also cuts."""
    trip = any(finding.trips for finding in findings)
    cut = trip or any(finding.row.reaction == "cut" for finding in findings)
    hold = any(finding.row.reaction == "hold" for finding in findings)
    return Verdict(findings, hold, cut, trip)
