"""What is worked out of a firing's ticks once and kept with its summary, for looking at many firings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, astuple, fields
from typing import Any, TypedDict

from controller.record.curve import Curve
from controller.record.rows import EventSeen, Firing
from controller.record.schedules import schedule_of
from controller.review.compare import moments
from controller.review.kiln_text import heater_power_w
from controller.review.measures import Measures
from controller.review.story import measures_of
from controller.review.switching import SteadyHold, steady_holds

DIGITS = 4  # of the numbers kept: more than any of them is worth
# What a firing's measures hold beside single numbers and the currency's name.
NO_NUMBERS = frozenset({"stages", "ranges"})
NAMES = frozenset(each.name for each in fields(Measures)) - NO_NUMBERS


class Comparable(TypedDict):
    """`measures`: those of review/measures.py that are one number (None: not known), and `currency`.

    `begins_s`, `pour_s`: what a firing can be aligned on (review/compare.py).
    """

    measures: dict[str, float | str | None]
    begins_s: dict[str, float]
    pour_s: float | None


class Facts(Comparable):
    """`power_w`: of its kiln's elements. `holds`: (C, h, duty) of each steady hold."""

    power_w: float | None
    holds: list[tuple[float, float, float]]


def facts(curve: Curve, firing: Firing, events: Sequence[EventSeen]) -> Facts:
    """Work a firing out."""
    schedule = schedule_of(firing)
    holds = steady_holds(curve, schedule.stages if schedule else ())
    return {
        **comparable(measures_of(firing, schedule, curve), events),
        "power_w": heater_power_w(firing.start.kiln_text),
        "holds": [(round(each.air_c, 1), round(each.h, DIGITS), round(each.duty, DIGITS)) for each in holds],
    }


def comparable(measures: Measures, events: Sequence[EventSeen]) -> Comparable:
    """Return what stands beside other firings."""
    when = moments(measures.stages, events)
    numbers = {name: value for name, value in asdict(measures).items() if name not in NO_NUMBERS}
    return {
        "measures": {name: _short(value) for name, value in numbers.items()},
        "begins_s": {name: round(s, 1) for name, s in when.stages.items()},
        "pour_s": _short(when.pour_s),
    }


def steady(kept: Facts) -> tuple[SteadyHold, ...]:
    """Return the steady holds again as they were worked out."""
    return tuple(SteadyHold(*hold) for hold in kept["holds"])


def measure(kept: Facts, name: str) -> float | None:
    """Return one of the measures that are numbers."""
    value = kept["measures"][name]
    return value if isinstance(value, int | float) else None


def checked(kept: object) -> None:
    """Raise KeyError, TypeError or AttributeError for what are no facts."""
    if not isinstance(kept, dict) or not kept["measures"].keys() >= NAMES:
        raise TypeError
    holds = [each for hold in kept["holds"] for each in astuple(SteadyHold(*hold))]
    measures = [value or 0.0 for name, value in kept["measures"].items() if name != "currency"]
    numbers = [*holds, *measures, *kept["begins_s"].values(), kept["pour_s"] or 0.0, kept["power_w"] or 0.0]
    if not all(isinstance(each, int | float) for each in numbers):
        raise TypeError


def _short(value: Any) -> Any:
    return round(value, DIGITS) if isinstance(value, float) else value
