"""Forecasts and estimates as plain JSON. Times are seconds from the forecast's beginning, or UTC seconds.

What is estimated is {"low", "typical", "high"}: the band is meant to hold the truth nine times in ten. A
number that is not finite (never) is null.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from math import isfinite
from typing import Any

from controller.forecast.ensemble import Curves, Floats
from controller.forecast.forecast import Forecast, StageAhead
from controller.forecast.observer import Estimate, Estimates
from controller.forecast.pour_time import lights_s
from controller.physics.finding import Finding
from controller.schedule.words import if_nobody_comes, needs_person

Json = dict[str, Any]

POINTS = 240
"""Points of a curve: one for every second pixel of a phone's width, and for 14 h one each 3.5 minutes."""


def number(value: float, digits: int = 1) -> float | None:
    """Return a number rounded; None where it is not finite."""
    return round(value, digits) if isfinite(value) else None


def seconds_utc(iso: str) -> float:
    """Return an ISO time as UTC seconds."""
    return datetime.fromisoformat(iso).timestamp()


def banded(estimate: Estimate, digits: int = 1) -> Json:
    """Return an estimate with its band."""
    low, typical, high = (number(value, digits) for value in estimate)
    return {"low": low, "typical": typical, "high": high}


def clocked(estimate: Estimate | None, begins_utc_s: float) -> Json | None:
    """Return a time as UTC seconds, with its band; None where there is none."""
    if estimate is None:
        return None
    return banded(Estimate(*(begins_utc_s + value for value in estimate)), 0)


def findings(found: Iterable[Finding]) -> list[Json]:
    """Return what stands against it, the gravest first. `severity`: stop, warn or note."""
    return [
        {
            "severity": finding.weight,
            "says": finding.says,
            "remedy": finding.remedy,
            "key": finding.key,
            "at_s": None if finding.at_s is None else number(finding.at_s, 0),
        }
        for finding in found
    ]


def rows(made: Forecast, begins_utc_s: float) -> list[Json]:
    """Return the stages to come: when, how hot, and what is wanted of a person."""
    return [_row(made, stage, begins_utc_s) for stage in made.stages]


def _row(made: Forecast, stage: StageAhead, begins_utc_s: float) -> Json:
    of, begins = made.schedule.stages[stage.index], stage.begins_s
    person = needs_person(of)
    place = max(0, int((made.t_s <= begins.typical).sum()) - 1)
    reached = isfinite(begins.typical)
    return {
        "index": stage.index,
        "name": stage.name,
        "kind": stage.kind,
        "begins_s": banded(begins, 0),
        "ends_s": banded(stage.ends_s, 0),
        "begins_utc_s": number(begins_utc_s + begins.typical, 0),
        "air_c": number(float(made.air_c.typical[place])) if reached else None,
        "core_c": number(float(made.core_c.typical[place])) if reached else None,
        "person": person,
        "says": (getattr(of, "says", "") or "Release this stage when the mould is poured.") if person else "",
        "if_nobody_comes": if_nobody_comes(of),
    }


def curves(made: Forecast) -> Json:
    """Return the lines: air and core as [t_s, C], their bands as [t_s, lowest C, highest C]."""
    stride = max(1, -(-len(made.t_s) // POINTS))
    places = sorted({*range(0, len(made.t_s), stride), len(made.t_s) - 1})
    t_s = made.t_s[places]
    return {
        "air": _points(t_s, made.air_c.typical[places]),
        "core": _points(t_s, made.core_c.typical[places]),
        "band": _band(t_s, made.air_c, places),
        "core_band": _band(t_s, made.core_c, places),
    }


def _points(*columns: Floats) -> list[list[float | None]]:
    return [[number(value) for value in row] for row in zip(*(c.tolist() for c in columns), strict=True)]


def _band(t_s: Floats, of: Curves, places: Sequence[int]) -> list[list[float | None]]:
    return _points(t_s, of.low[list(places)], of.high[list(places)])


def furnace(made: Forecast, pour_s: float | None, begins_utc_s: float) -> Json | None:
    """Return when to light the melting furnace for a pour at `pour_s`, and for what; None without a pour."""
    if pour_s is None or not isfinite(pour_s):
        return None
    job, kg = made.job, made.job.metal_kg
    return {
        "lights_utc_s": clocked(lights_s(made, pour_s), begins_utc_s),
        "metal": job.metal.name,
        "metal_kg": banded(Estimate(kg.low, kg.typical, kg.high), 2),
        "pour_c": number(job.pour_c.typical, 0),
    }


def estimates(now: Estimates) -> Json:
    """Return the live estimate: each with its band, in the units of `observer.Estimates`."""
    told = {
        name: banded(value, 3 if name.endswith(("_kg", "_part")) else 1)
        for name, value in now._asdict().items()
        if isinstance(value, Estimate)
    }
    return told | {"blind_s": number(now.blind_s)}
