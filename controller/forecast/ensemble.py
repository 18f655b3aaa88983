"""A forecast with its band: the typical run, and for each doubt a run at its 5 % and its 95 %.

Each doubt is independent of the others, so what the runs differ from the typical one is put together as
the root of the sum of the squares, what is later apart from what is earlier. That is exact where the answer
follows a doubt in a straight line, and keeps what is lopsided. The band is meant to hold the truth in 90 %
of cases. Pure, and the same each time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from controller.forecast.kiln_ahead import calm
from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import Known
from controller.forecast.load import Load, loaded
from controller.forecast.observer import Estimate
from controller.forecast.run import LATE_S, Run, Start, cold_start, run_ahead, step_for
from controller.physics.grey import GreyKiln
from controller.schedule.model import Schedule
from controller.schedule.plan import plan

Floats = NDArray[np.float64]
Pair = tuple[Run, Run]
Starter = Callable[[GreyKiln, Load], tuple[GreyKiln, Start]]
"""Gives a kiln's start, and the kiln as it is known by then."""


LEFT_OUT_PART, LEFT_OUT_S = 0.006, 30.0
"""What no run knows: the control's own lag, thermocouples that differ, a person at the relay. Of any time to
come, so much of it, and so much at least, either way. Chosen on drawn kilns, so that the band holds nine of
ten two hours before the pour.
"""


class Curves(NamedTuple):
    """A temperature against time, with its band, C."""

    low: Floats
    typical: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Runs:
    """The typical run and its pairs, one pair a doubt. `kiln`, `load`: of the typical run."""

    typical: Run
    pairs: tuple[Pair, ...]
    kiln: GreyKiln
    load: Load

    def of(self, number: Callable[[Run], float]) -> Estimate:
        """Return any number of a run with its band; infinite where a run never gets there."""
        middle = number(self.typical)
        return banded(middle, [(number(low), number(high)) for low, high in self.pairs])

    def at_s(self, time_s: Callable[[Run], float]) -> Estimate:
        """Return a time with its band, what no run knows included; never before the forecast's beginning."""
        low, middle, high = self.of(time_s)
        if middle <= 0.0:
            return Estimate(0.0, middle, high)
        if not isfinite(middle):
            return Estimate(low, middle, high)
        more_s = max(LEFT_OUT_S, LEFT_OUT_PART * middle)
        return Estimate(
            max(0.0, middle - hypot(middle - low, more_s)), middle, middle + hypot(high - middle, more_s)
        )

    def curves(self, values: Callable[[Run], Sequence[float]]) -> Curves:
        """Return a curve with its band. A run that has ended keeps its last value."""
        count = len(self.typical.air_c)
        middle = np.asarray(values(self.typical))
        up, down = np.zeros(count), np.zeros(count)
        for pair in self.pairs:
            offs = [_fitted_to(values(run), count) - middle for run in pair]
            up += np.square(np.maximum(0.0, np.maximum(*offs)))
            down += np.square(np.minimum(0.0, np.minimum(*offs)))
        return Curves(middle - np.sqrt(down), middle, middle + np.sqrt(up))


def ensemble(
    schedule: Schedule,
    job: Known,
    known: KilnKnown,
    room_c: float,
    full_rate_c_per_h: float,
    starter: Starter | None = None,
    left_s: float | None = None,
) -> Runs:
    """Run a schedule ahead on a kiln with a job.

    `starter` gives each kiln's start, from cold where it is None. `left_s`: how long it is planned to
    take from there, for the step's size.
    """
    planned_s = plan(schedule, room_c, full_rate_c_per_h).total_s if left_s is None else left_s
    step_s = step_for(planned_s)
    kiln, load, ways = loaded(job, known)

    def ahead(of: GreyKiln, with_load: Load) -> Run:
        of = calm(of, with_load, step_s)
        if starter is None:
            start = cold_start(schedule, with_load, room_c, full_rate_c_per_h)
        else:
            of, start = starter(of, with_load)
            of = calm(of, with_load, step_s)
        return run_ahead(schedule, of, with_load, start, full_rate_c_per_h, step_s, planned_s + LATE_S)

    return Runs(ahead(kiln, load), tuple((ahead(*one), ahead(*other)) for one, other in ways), kiln, load)


def banded(middle: float, pairs: Sequence[tuple[float, float]]) -> Estimate:
    """Return a number with the band that its pairs give it."""
    if not isfinite(middle):
        return Estimate(min([middle, *(value for pair in pairs for value in pair)]), middle, inf)
    up = down = 0.0
    for pair in pairs:
        up += max(0.0, max(pair) - middle) ** 2
        down += max(0.0, middle - min(pair)) ** 2
    return Estimate(middle - sqrt(down), middle, middle + sqrt(up))


def _fitted_to(values: Sequence[float], count: int) -> Floats:
    """Return as many values as asked: cut off, or with the last one kept."""
    if len(values) >= count:
        return np.asarray(values[:count])
    return np.concatenate((values, np.full(count - len(values), values[-1])))
