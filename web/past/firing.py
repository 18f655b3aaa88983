"""One past firing as plain JSON: its head, measures, stages, plan, events in words, notes; and its curve.

Firings that have ended stay as they are, so what was read of the last few is kept in memory: looking closer
at a curve then costs no reading.
"""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from controller.catalogue import say
from controller.forecast.job_words import words_of
from controller.record.curve import Curve, Floats, thin
from controller.record.jobs import job_of
from controller.record.queries import Record
from controller.record.rows import EventSeen, Firing
from controller.record.schedules import schedule_of
from controller.review.compare import moments
from controller.review.measures import Measures
from controller.review.story import measures_of, planned
from controller.schedule.plan import Plan
from web.observations.told import everything
from web.past.ticks import between, read_curve

POINTS = 800  # about two for each pixel of a phone's width, one for each of a desk's curve
# A firing of twelve hours is 3.5 MB of columns.
IN_MEMORY = 6
# The stages' table says these already.
TOLD_OTHERWISE = frozenset({"stage_began", "stage_ended"})
# What comes more often than this about the same thing is told once, with how often.
AGAIN = 3
LINES = ("t_s", "setpoint_c", "air_c", "load_c", "limit_c")


@dataclass(frozen=True, slots=True)
class Seen:
    """What takes time to read and work out of a firing."""

    firing: Firing
    curve: Curve
    measures: Measures
    planned: Plan | None


class Past:
    """Reads past firings. Raises RecordError when there is no such firing, or no record that can be read."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._seen: OrderedDict[tuple[int, float], Seen] = OrderedDict()
        self._lock = threading.Lock()

    def seen(self, number: int) -> Seen:
        """Return a firing, from memory if it has ended and was just looked at."""
        firing = Record(self.path).firing(number)
        key = (number, firing.start.started_utc_s)
        with self._lock:
            if key in self._seen and firing.end_state is not None:
                self._seen.move_to_end(key)
                return self._seen[key]
        seen = _see(self.path, firing)
        if firing.end_state is not None:
            with self._lock:
                self._seen[key] = seen
                while len(self._seen) > IN_MEMORY:
                    self._seen.popitem(last=False)
        return seen

    def told(self, number: int) -> dict[str, Any]:
        """Return everything about a firing but its curve."""
        seen, record = self.seen(number), Record(self.path)
        events = record.events(number)
        return {
            **head(seen.firing, seen.curve),
            "measures": {k: v for k, v in asdict(seen.measures).items() if k != "stages"},
            "stages": [asdict(stage) for stage in seen.measures.stages],
            "plan": _plan(seen.planned),
            "events": _events([each for each in events if each.kind not in TOLD_OTHERWISE]),
            "notes": [{"utc_s": n.utc_s, "by": n.by, "text": n.text} for n in record.notes(number)],
            "job": _job(self.path, number),
            "pour_s": moments((), events).pour_s,
            "seen": everything(self.path, number, schedule_of(seen.firing)),
        }

    def curve(self, number: int, from_s: float | None, to_s: float | None, points: int) -> dict[str, Any]:
        """Return a firing's curve, or a stretch of it, in about `points` points with every peak."""
        curve = self.seen(number).curve
        if from_s is not None or to_s is not None:
            curve = between(curve, from_s or 0.0, math.inf if to_s is None else to_s)
        thinned = thin(curve, points)
        return {"firing": number, "whole": len(thinned) == len(curve), **columns(thinned)}


def _see(path: Path, firing: Firing) -> Seen:
    curve, schedule = read_curve(path, firing.id), schedule_of(firing)
    return Seen(firing, curve, measures_of(firing, schedule, curve), planned(firing, schedule, curve))


def head(firing: Firing, curve: Curve) -> dict[str, Any]:
    """Return what stands above a firing."""
    start = firing.start
    return {
        "firing": firing.id,
        "title": start.title,
        "kiln": start.kiln_name,
        "simulated": start.simulated,
        "speed": start.speed,
        "started_utc_s": start.started_utc_s,
        "ended_utc_s": firing.ended_utc_s,
        "result": firing.end_state,
        "schedule_name": Path(start.schedule_name).name,
        "schedule_text": start.schedule_text,
        "version": start.software_version,
        "ticks": len(curve),
        "duration_s": float(curve.t_s[-1]) if len(curve) else 0.0,
    }


def _job(path: Path, number: int) -> dict[str, Any] | None:
    """Return the job sheet that counts, and what it tells in words; None: the firing carries none."""
    sheet = job_of(path, number)
    if sheet is None:
        return None
    return {"utc_s": sheet.utc_s, "by": sheet.by, "text": sheet.text, "says": words_of(sheet.text)}


def _events(events: Sequence[EventSeen]) -> list[dict[str, Any]]:
    """Return what happened, in words and in order; what came again and again stands where it first came."""
    alike: dict[tuple[str, object], list[EventSeen]] = {}
    for event in events:
        subject = event.fields.get("row") or event.fields.get("stage") or say(event.kind, event.fields)
        alike.setdefault((event.kind, subject), []).append(event)
    told: list[dict[str, Any]] = []
    for group in alike.values():
        told += [_event(group)] if len(group) > AGAIN else [_event([each]) for each in group]
    return sorted(told, key=lambda each: float(each["t_s"]))


def _event(group: Sequence[EventSeen]) -> dict[str, Any]:
    first = group[0]
    return {
        "t_s": first.t_s,
        "utc_s": first.utc_s,
        "severity": first.severity,
        "says": say(first.kind, first.fields),
        "times": len(group),
        "last_s": group[-1].t_s,
    }


def _plan(planned: Plan | None) -> dict[str, list[float]]:
    points = planned.points if planned else ()
    return {"t_s": [round(p.t_s, 1) for p in points], "c": [round(p.c, 1) for p in points]}


def columns(curve: Curve, names: Sequence[str] = LINES) -> dict[str, list[float | None]]:
    """Return some of a curve's columns as plain JSON."""
    return {name: _plain(getattr(curve, name)) for name in names}


def _plain(values: Floats) -> list[float | None]:
    """Return numbers with a tenth of a degree or second, None for what is not finite."""
    return [value if math.isfinite(value) else None for value in values.round(1).tolist()]
