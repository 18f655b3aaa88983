"""From the hour of the pour back to the start, to the people, and to the lighting of the melting furnace."""

from __future__ import annotations

from typing import NamedTuple

from controller.errors import UsageError
from controller.forecast.forecast import Forecast
from controller.forecast.observer import Estimate
from controller.forecast.run import NEVER_S, pour_stage
from controller.schedule.model import Hold

WAITS_PART = 0.75
"""A shell is not planned to wait hot for more than this part of what its schedule allows; chosen."""


class PourPlan(NamedTuple):
    """Seconds before the pour. `sure`: the start is early enough for the late end of the band."""

    start_s: float
    waits_s: float
    """How long the shell then typically waits hot."""
    sure: bool


def work_back(forecast: Forecast) -> PourPlan:
    """Return when to start. Raises UsageError where the schedule has no pour, or never gets there.

    The start is so early that the shell is ready at the late end of its band: hot shells keep, cold ones
    do not pour. Where it would have to wait longer than its schedule lets it, the typical time counts.
    """
    ready = forecast.ready_s
    if ready is None or ready.typical == NEVER_S:
        raise UsageError("pour: found a schedule that never gets ready to pour, expected one with a pour")
    waits_s = ready.high - ready.typical
    if waits_s <= WAITS_PART * longest_wait_s(forecast):
        return PourPlan(ready.high, waits_s, True)
    return PourPlan(ready.typical, 0.0, False)


def longest_wait_s(forecast: Forecast) -> float:
    """Return how long the schedule keeps a shell hot for the pour."""
    pour = pour_stage(forecast.schedule)
    stage = None if pour is None else forecast.schedule.stages[pour]
    if not isinstance(stage, Hold):
        return 0.0
    return NEVER_S if stage.at_most_s is None else stage.at_most_s


def lights_s(forecast: Forecast, pour_s: float) -> Estimate:
    """Return when to light the melting furnace for a pour at `pour_s`, the earliest first."""
    melt = forecast.job.melt_s
    return Estimate(pour_s - melt.high, pour_s - melt.typical, pour_s - melt.low)
