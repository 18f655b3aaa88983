"""How the kiln worked: its relay, its duty, and the heat that a steady temperature needed. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from controller.record.curve import Bools, Curve
from controller.schedule.model import Hold, Stage

SETTLING_S = 900.0  # 15 min: the time a proportional-integral loop on a small kiln rings; our choice
AT_HOLD_K = 0.5  # a setpoint this near to a hold's temperature stands at it: half a unit of the screens
# A duty over less than this says little: the walls still fill. Common practice, no source.
SHORTEST_STEADY_S = 1200.0


@dataclass(frozen=True, slots=True)
class SteadyHold:
    """The steady part of a hold: its air on average (C), how long it was (h), the part with the heat on."""

    air_c: float
    h: float
    duty: float


def switchings(curve: Curve) -> int:
    """Return how often the heat was switched on: a relay's cycles."""
    return int((curve.heat_on[1:] & ~curve.heat_on[:-1]).sum()) + bool(len(curve) and curve.heat_on[0])


def duty(heat_h: float, duration_h: float) -> float | None:
    """Return the part of a firing's time with the heat on."""
    return min(1.0, heat_h / duration_h) if duration_h > 0 else None


def settled(curve: Curve, stage: Hold) -> Bools:
    """Return which rows of a hold's own curve are settled (measures.py says when)."""
    at_hold = np.abs(curve.setpoint_c - stage.at_c) <= AT_HOLD_K
    if not at_hold.any():
        return at_hold
    in_band = np.abs(curve.air_c - stage.at_c) <= stage.band_k
    from_s = float(curve.t_s[at_hold.argmax()])
    if in_band.any():
        from_s = max(from_s, float(curve.t_s[in_band.argmax()]))
    return np.asarray(at_hold & (curve.t_s >= from_s + SETTLING_S) & ~np.isnan(curve.air_c), dtype=np.bool_)


def steady_holds(curve: Curve, stages: Sequence[Stage]) -> tuple[SteadyHold, ...]:
    """Return the steady parts of all holds that were long enough, in their order."""
    found = (_steady(curve, stage, index) for index, stage in enumerate(stages) if isinstance(stage, Hold))
    return tuple(hold for hold in found if hold is not None)


def _steady(curve: Curve, stage: Hold, index: int) -> SteadyHold | None:
    during = curve.rows(curve.stage == index)
    steady = during.rows(settled(during, stage))
    if len(steady) < 2 or steady.t_s[-1] - steady.t_s[0] < SHORTEST_STEADY_S:
        return None
    lasts_s = np.diff(steady.t_s)
    on = float(lasts_s[steady.heat_on[:-1]].sum() / lasts_s.sum())
    return SteadyHold(float(steady.air_c.mean()), float(lasts_s.sum()) / 3600, on)
