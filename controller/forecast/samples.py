"""A firing's record at even times, as a kiln is fitted to it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from controller.record.curve import Curve

Floats = NDArray[np.float64]

EVERY_S = 15.0
"""The record is taken every so many seconds: shorter than the lags that matter, and quick enough."""


class Samples(NamedTuple):
    """A firing every `EVERY_S`. `heat_s`: seconds of heat given by then; NaN where nothing was measured."""

    t_s: Floats
    air_c: Floats
    load_c: Floats
    ticks_s: Floats
    heat_s: Floats


def samples(curve: Curve) -> Samples:
    """Take a record at even times; each value is the mean about its time."""
    ticks_s = curve.t_s
    lasts_s = np.diff(ticks_s, append=ticks_s[-1])
    usual_s = float(np.median(lasts_s[:-1])) if len(lasts_s) > 1 else 1.0
    on_s = np.where(curve.heat_on, np.minimum(lasts_s, 3.0 * usual_s), 0.0)
    heat_s = np.concatenate(([0.0], np.cumsum(on_s)[:-1]))
    t_s = np.arange(0.0, float(ticks_s[-1]), EVERY_S)
    place = np.rint(ticks_s / EVERY_S).astype(np.int64)
    return Samples(
        t_s, _mean(curve.air_c, place, len(t_s)), _mean(curve.load_c, place, len(t_s)), ticks_s, heat_s
    )


def _mean(values: Floats, place: NDArray[np.int64], count: int) -> Floats:
    good = ~np.isnan(values) & (place < count)
    total = np.bincount(place[good], values[good], count)
    number = np.bincount(place[good], minlength=count)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan)
