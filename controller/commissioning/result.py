"""What came of a step: checks with what was expected and seen, figures, and on what the result rests.

Plain data that goes into a file and comes back the same; a file of another shape is refused in one line.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Any, NamedTuple


class Check(NamedTuple):
    """One judgement: what was looked at, what was expected, what was seen."""

    what: str
    expected: str
    saw: str
    passed: bool


class Done(NamedTuple):
    """What carrying out a step gave. `figures`: numbers with their unit in the name."""

    checks: tuple[Check, ...]
    figures: Mapping[str, float] = {}

    @property
    def passed(self) -> bool:
        """Whether every check passed; no check at all is no pass."""
        return bool(self.checks) and all(check.passed for check in self.checks)


@dataclass(frozen=True, slots=True)
class Result:
    """A step's result as it is kept. `parts`: fingerprints of the parts of the kiln's file it rests on."""

    step: str
    on: date
    by: str
    version: str
    done: Done
    parts: Mapping[str, str]


def to_data(result: Result) -> dict[str, Any]:
    """Return a result as plain data for JSON."""
    return {
        "step": result.step,
        "passed": result.done.passed,
        "on": result.on.isoformat(),
        "by": result.by,
        "version": result.version,
        "checks": [check._asdict() for check in result.done.checks],
        "figures": dict(result.done.figures),
        "parts": dict(result.parts),
    }


def from_data(data: Any) -> Result:
    """Return a result from plain data. Raises ValueError, KeyError or TypeError on any other shape.

    `passed` is worked out from the checks, whatever the file says beside them.
    """
    checks = tuple(
        Check(str(c["what"]), str(c["expected"]), str(c["saw"]), c["passed"] is True) for c in data["checks"]
    )
    figures = {str(name): float(value) for name, value in data["figures"].items()}
    if not all(isfinite(value) for value in figures.values()):
        raise ValueError("a figure that is not a number")
    return Result(
        str(data["step"]),
        date.fromisoformat(data["on"]),
        str(data["by"]),
        str(data["version"]),
        Done(checks, figures),
        {str(part): str(mark) for part, mark in data["parts"].items()},
    )
