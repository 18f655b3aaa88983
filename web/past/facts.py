"""What is worked out of a firing's ticks once and kept with its summary, for looking at many firings."""

from __future__ import annotations

from dataclasses import astuple
from typing import TypedDict

from controller.record.curve import Curve
from controller.record.rows import Firing
from controller.record.schedules import schedule_of
from controller.review import exposure
from controller.review.exposure import HOT_C
from controller.review.kiln_text import heater_power_w
from controller.review.measures import time_s, warmth
from controller.review.switching import SteadyHold, steady_holds, switchings

DIGITS = 4  # of the numbers kept: more than any of them is worth


class Facts(TypedDict):
    """Numbers with their units in their names; None: not known. `holds`: (C, h, duty) of each steady hold."""

    rise_c_per_h: float | None
    hot_h: float
    heat_work_h: float
    wait_h: float | None
    pour_c: float | None
    switchings: int
    power_w: float | None
    holds: list[tuple[float, float, float]]


NUMBERS = ("rise_c_per_h", "hot_h", "heat_work_h", "wait_h", "pour_c", "switchings", "power_w")


def facts(curve: Curve, firing: Firing) -> Facts:
    """Work a firing out."""
    schedule = schedule_of(firing)
    stages = schedule.stages if schedule else ()
    warm_c = warmth(curve)
    return {
        "rise_c_per_h": _short(exposure.rise_through_c_per_h(curve, warm_c)),
        "hot_h": round(time_s(curve, warm_c >= HOT_C) / 3600, DIGITS),
        "heat_work_h": round(exposure.heat_work_h(curve, warm_c), DIGITS),
        "wait_h": _short(exposure.wait_h(curve, stages)),
        "pour_c": _short(exposure.pour_c(curve, warm_c, stages)),
        "switchings": switchings(curve),
        "power_w": heater_power_w(firing.start.kiln_text),
        "holds": [
            (round(hold.air_c, 1), round(hold.h, DIGITS), round(hold.duty, DIGITS))
            for hold in steady_holds(curve, stages)
        ],
    }


def steady(kept: Facts) -> tuple[SteadyHold, ...]:
    """Return the steady holds again as they were worked out."""
    return tuple(SteadyHold(*hold) for hold in kept["holds"])


def checked(kept: object) -> None:
    """Raise KeyError or TypeError for what are no facts."""
    if not isinstance(kept, dict):
        raise TypeError
    holds = [SteadyHold(*hold) for hold in kept["holds"]]
    numbers = [kept[name] or 0.0 for name in NUMBERS] + [each for hold in holds for each in astuple(hold)]
    if not all(isinstance(each, int | float) for each in numbers):
        raise TypeError


def _short(value: float | None) -> float | None:
    return None if value is None else round(value, DIGITS)
