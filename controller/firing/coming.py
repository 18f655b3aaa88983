"""What comes next: when the setpoint's slope will change, and to what. For control, which looks ahead.

Only what the schedule itself says: what waits (for the load, its band, a person) has no time to tell.
"""

from __future__ import annotations

from math import inf

from controller.firing.model import Firing
from controller.schedule.model import Cool, Hold, Ramp, Stage

NOTHING = (None, inf)


def coming(firing: Firing) -> tuple[float | None, float]:
    """Return the slope to come (C/h) and the seconds until it begins; (None, inf) when nobody can say."""
    schedule = firing.schedule
    if schedule is None or firing.waiting or firing.rejoin_c is not None or firing.setpoint_c is None:
        return NOTHING
    stage = schedule.stages[firing.stage]
    if type(stage) is Ramp:
        if firing.slope_c_per_h == 0.0:
            return NOTHING
        corner_s = (stage.to_c - firing.setpoint_c) / firing.slope_c_per_h * 3600.0
    elif type(stage) is Hold and stage.for_s is not None:
        corner_s = stage.for_s - firing.progress.clock_s
    else:
        return NOTHING
    if corner_s > SOON_S:
        return NOTHING
    after = schedule.stages[firing.stage + 1] if firing.stage + 1 < len(schedule.stages) else None
    return _slope(after, stage, firing), corner_s


SOON_S = 600.0
"""Further ahead than this nobody looks: ten minutes, far more than a kiln's lags."""


def _slope(after: Stage | None, before: Ramp | Hold, firing: Firing) -> float:
    """The slope (C/h) with which a stage begins."""
    from_c = before.to_c if isinstance(before, Ramp) else before.at_c
    if isinstance(after, Ramp):
        rate = after.rate_c_per_h or firing.full_rate_c_per_h
        return rate if after.to_c > from_c else -rate if after.to_c < from_c else 0.0
    if isinstance(after, Cool) and after.rate_c_per_h is not None and after.to_c < from_c:
        return -after.rate_c_per_h
    return 0.0
