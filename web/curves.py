"""The one place where the screens read the record: curves, thinned and made into plain JSON.

The record is opened read-only. One that is missing, locked or broken costs the page its curve so far
and nothing else: the curve then starts with what comes live.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from controller.errors import RecordError
from controller.live import Frame

if TYPE_CHECKING:
    from controller.record.curve import Curve

# About two points for each pixel of a phone's width: thinning keeps every peak that could be seen.
POINTS = 600


class CurveJson(TypedDict):
    """A firing's measured curve: seconds from its first tick, degrees Celsius; None where none was measured.

    `mono_0_s`: the controller's monotonic time at `t_s` 0, so that live frames can be joined on. The firing's
    `elapsed_s` cannot serve for that: it leaves out time that nobody watched.
    """

    firing: int | None
    mono_0_s: float | None
    t_s: list[float]
    setpoint_c: list[float | None]
    air_c: list[float | None]
    load_c: list[float | None]
    says: str


def so_far(record: Path, firing: int | None, frame: Frame | None) -> CurveJson:
    """Return the curve of `firing` as the record has it; an empty one, with the reason, when it has none.

    `frame` is the newest one from the controller, None while that is lost.
    """
    if firing is None:
        return _empty(None, "nothing is running")
    if not record.exists():
        return _empty(firing, "there is no record yet")
    try:
        return _measured(record, firing, frame)
    except RecordError as error:
        return _empty(firing, str(error))


def _measured(record: Path, firing: int, frame: Frame | None) -> CurveJson:
    from controller.record.queries import Record

    curve = Record(record).thinned(firing, points=POINTS)
    return {
        "firing": firing,
        "mono_0_s": _mono_0_s(curve, frame),
        "t_s": [round(float(t), 1) for t in curve.t_s],
        "setpoint_c": _plain(curve.setpoint_c),
        "air_c": _plain(curve.air_c),
        "load_c": _plain(curve.load_c),
        "says": "",
    }


def _mono_0_s(curve: Curve, frame: Frame | None) -> float | None:
    """Return the monotonic time of the curve's beginning: both clocks run alike since its last tick."""
    if frame is None or len(curve) == 0:
        return None
    since_last_s = datetime.fromisoformat(frame["utc"]).timestamp() - float(curve.utc_s[-1])
    return round(frame["mono_s"] - (float(curve.t_s[-1]) + since_last_s), 3)


def _plain(values: Iterable[float]) -> list[float | None]:
    """Return numbers with a tenth of a degree, None for what is not finite."""
    return [round(float(value), 1) if math.isfinite(value) else None for value in values]


def _empty(firing: int | None, says: str) -> CurveJson:
    empty: list[float | None] = []
    return {
        "firing": firing,
        "mono_0_s": None,
        "t_s": [],
        "setpoint_c": empty,
        "air_c": empty,
        "load_c": empty,
        "says": says,
    }
