"""Sights for tests of the guard, healthy ones with changes, and a memory judged tick by tick."""

from __future__ import annotations

from typing import NamedTuple

from controller.guard import Given, Limits, Memory, Sight, Verdict, fresh_memory, judge
from controller.guard.look import Look

LIMITS = Limits(ceiling_c=900.0)


class Reading(NamedTuple):
    """A reading of the tests' own: the guard must not need the wire's."""

    value_c: float | None
    fault: str | None
    at_s: float


def sight(now_s: float, air_c: float | None = 500.0, **changes: object) -> Sight:
    """Return a healthy sight with changes; `load_c`, `limit_c` and ages shape the readings.

    `age_s`: of every reading; `ages_s`: of some, by role.
    """
    load_c = changes.pop("load_c", air_c)
    limit_c = changes.pop("limit_c", air_c)
    age_s, ages_s = changes.pop("age_s", 0.0), changes.pop("ages_s", {})
    readings = tuple(
        (role, Reading(c, None if c is not None else "open", now_s - ages_s.get(role, age_s)))  # type: ignore[arg-type]
        for role, c in (("air", air_c), ("load", load_c), ("limit", limit_c))
    )
    base = Sight(now_s, air_c, readings, heat_on=False, main_on=False, limit_c=limit_c)  # type: ignore[arg-type]
    return base._replace(**changes)  # type: ignore[arg-type]


def look(seen: Sight, given: Given, memory: Memory, limits: Limits = LIMITS) -> Look:
    """Return what is shown to a row that remembers just this."""
    shown = Look(seen, given, limits)
    shown.remembers(memory)
    return shown


class Judged:
    """A memory that is judged tick by tick, as the guard would."""

    def __init__(self, limits: Limits = LIMITS) -> None:
        self.limits = limits
        self.memory: Memory = fresh_memory()
        self.given = Given()
        self.verdict: Verdict | None = None

    def see(self, what: Sight) -> tuple[str, ...]:
        """Judge one sight; return the ids that stand."""
        self.memory, self.verdict = judge(self.memory, self.given, what, self.limits)
        return tuple(finding.row.id for finding in self.verdict.findings)

    def granted(self, now_s: float, lease_s: float = 3.0) -> None:
        """Tell the memory that heat was granted at this tick, one second of it."""
        self.given = self.given._replace(
            granted=True,
            lease_end_s=now_s + lease_s,
            heat_end_s=now_s + lease_s,
            heated_s=self.given.heated_s + 1.0,
            main_opened=False,
            armed_since_s=self.given.armed_since_s if self.given.armed_since_s is not None else now_s,
        )

    def refused(self) -> None:
        """Tell the memory that no heat was granted at this tick."""
        self.given = self.given._replace(granted=False)
