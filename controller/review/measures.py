"""What a firing comes to, in numbers. Pure: a curve and the schedule's stages in, numbers out.

The words mean, here and on the report:

(Where a stage asks for the load and not the air, overshoot and hold error are the load's.)

overshoot    of a hold: the most that the air stood above the hold's temperature, during the hold and the
             ramp that led to it, from the first moment at which the air was not above it.
hold error   of a hold: the most that the air differed from the hold's temperature, either way, once the
             hold had settled, while the setpoint stood at that temperature.
settled      15 minutes after both the setpoint stood at the hold's temperature and the air was first
             within the hold's band (if it never was: 15 minutes after the setpoint stood there).
lag          the most that the load was colder than the air, during ramps upwards.
soak         the time for which the load (the air, where no load was measured) was no colder than the
             lower edge of the hottest hold's band.

What the shell went through (rise through, time above, heat work, ranges, at the pour) is said in exposure.py,
and how the kiln worked (duty, switchings) in switching.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from controller.record.curve import Bools, Curve, Floats
from controller.review import exposure
from controller.review.exposure import HOT_C, RangeSeen
from controller.review.switching import duty, settled, switchings
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Stage
from controller.tariff import Tariff

GAP_TICKS = 5  # a pause of more than so many ticks is a gap in the record: no heat is reckoned for it


@dataclass(frozen=True, slots=True)
class StageSeen:
    """One stage as it went. `asked_c`: where it was to go or stay. None: it does not apply, or no value."""

    index: int
    name: str
    kind: str
    begins_s: float
    lasts_s: float
    asked_c: float | None
    end_air_c: float | None
    end_load_c: float | None
    peak_air_c: float | None
    overshoot_k: float | None
    hold_error_k: float | None


@dataclass(frozen=True, slots=True)
class Measures:
    """A whole firing. `overshoot_k` and `hold_error_k` are the worst of all holds; None: it had none.

    `wait_h`: at checkpoints, for a person. `cost` is in `currency`; None: the kiln's file has no tariff.
    """

    overshoot_k: float | None
    hold_error_k: float | None
    peak_air_c: float | None
    peak_load_c: float | None
    peak_limit_c: float | None
    duration_h: float
    lag_k: float | None
    heat_h: float
    energy_kwh: float | None
    soak_c: float | None
    soak_h: float | None
    hot_c: float
    hot_h: float
    heat_work_h: float
    rise_through_c_per_h: float | None
    wait_h: float | None
    pour_c: float | None
    duty: float | None
    switchings: int
    cost: float | None
    currency: str
    ranges: tuple[RangeSeen, ...]
    stages: tuple[StageSeen, ...]


def measure(
    curve: Curve,
    stages: Sequence[Stage] = (),
    power_w: float | None = None,
    tariff: Tariff | None = None,
) -> Measures:
    """Return a firing's measures. `stages` empty: only what needs no schedule. `power_w`: of the elements."""
    seen = tuple(_stage_seen(curve, stages, int(index)) for index in _in_order(curve))
    heat_h = time_s(curve, curve.heat_on, gaps=False) / 3600
    warm_c, duration_h = warmth(curve), float(curve.t_s[-1]) / 3600 if len(curve) else 0.0
    energy_kwh = None if power_w is None else heat_h * power_w / 1000
    soak_c = max((stage.at_c - stage.band_k for stage in stages if isinstance(stage, Hold)), default=None)
    return Measures(
        overshoot_k=_worst(stage.overshoot_k for stage in seen),
        hold_error_k=_worst(stage.hold_error_k for stage in seen),
        peak_air_c=_highest(curve.air_c),
        peak_load_c=_highest(curve.load_c),
        peak_limit_c=_highest(curve.limit_c),
        duration_h=duration_h,
        lag_k=_lag_k(curve, stages),
        heat_h=heat_h,
        energy_kwh=energy_kwh,
        soak_c=soak_c,
        soak_h=None if soak_c is None else time_s(curve, warm_c >= soak_c) / 3600,
        hot_c=HOT_C,
        hot_h=time_s(curve, warm_c >= HOT_C) / 3600,
        heat_work_h=exposure.heat_work_h(curve, warm_c),
        rise_through_c_per_h=exposure.rise_through_c_per_h(curve, warm_c),
        wait_h=exposure.wait_h(curve, stages),
        pour_c=exposure.pour_c(curve, warm_c, stages),
        duty=duty(heat_h, duration_h),
        switchings=switchings(curve),
        cost=None if tariff is None or energy_kwh is None else energy_kwh * tariff.per_kwh,
        currency=tariff.currency if tariff else "",
        ranges=exposure.ranges(curve, warm_c),
        stages=seen,
    )


def warmth(curve: Curve) -> Floats:
    """Return what the shell saw (C): the load, or the air where no load was measured."""
    return np.where(np.isnan(curve.load_c), curve.air_c, curve.load_c)


def time_s(curve: Curve, true: Bools, *, gaps: bool = True) -> float:
    """Return for how long something was true (s); a tick stands until the next one.

    `gaps` False: a pause in the record counts as one tick, because heat does not outlive its lease.
    """
    return lasting_s(curve.t_s, true, gaps=gaps)


def lasting_s(t_s: Floats, true: Bools, *, gaps: bool = True) -> float:
    """Return the same from the ticks' times (s) alone."""
    if len(t_s) < 2:
        return 0.0
    lasts_s = np.diff(t_s)
    if not gaps:
        usual_s = float(np.median(lasts_s))
        lasts_s = np.where(lasts_s > GAP_TICKS * usual_s, usual_s, lasts_s)
    return float(lasts_s[true[:-1]].sum())


def overshoot_k(curve: Curve, stages: Sequence[Stage], index: int) -> float | None:
    """Return a hold's overshoot (K, not below zero); None: the air was above it all along, or unknown."""
    stage = stages[index]
    assert isinstance(stage, Hold)
    window = curve.stage == index
    if index > 0 and isinstance(stages[index - 1], Ramp):
        window |= curve.stage == index - 1
    air_c = (curve.air_c if stage.lead_k is None else curve.load_c)[window]
    not_above = air_c <= stage.at_c
    if not not_above.any():
        return None
    return max(0.0, float(np.nanmax(air_c[not_above.argmax() :])) - stage.at_c)


def hold_error_k(curve: Curve, stage: Hold, index: int) -> float | None:
    """Return a hold's error (K) once settled; None: it was too short to settle."""
    during = curve.rows(curve.stage == index)
    if stage.lead_k is not None:  # the setpoint that was kept is the air's, and the load is what was asked
        asked_c = np.where(np.isnan(during.setpoint_c), np.nan, stage.at_c)
        during = replace(during, air_c=during.load_c, setpoint_c=asked_c)
    steady_c = during.air_c[settled(during, stage)]
    return float(np.abs(steady_c - stage.at_c).max()) if len(steady_c) else None


def _stage_seen(curve: Curve, stages: Sequence[Stage], index: int) -> StageSeen:
    during = curve.rows(curve.stage == index)
    stage = stages[index] if index < len(stages) else None
    hold = isinstance(stage, Hold)
    after = curve.t_s[curve.t_s > during.t_s[-1]]  # a stage lasts until the next tick
    return StageSeen(
        index=index,
        name=stage.name if stage else f"stage {index + 1}",
        kind=stage.kind if stage else "",
        begins_s=float(during.t_s[0]),
        lasts_s=float((after[0] if len(after) else during.t_s[-1]) - during.t_s[0]),
        asked_c=_asked_c(stage),
        end_air_c=_last(during.air_c),
        end_load_c=_last(during.load_c),
        peak_air_c=_highest(during.air_c),
        overshoot_k=overshoot_k(curve, stages, index) if hold else None,
        hold_error_k=hold_error_k(curve, stage, index) if isinstance(stage, Hold) else None,
    )


def _asked_c(stage: Stage | None) -> float | None:
    match stage:
        case Ramp() | Cool():
            return stage.to_c
        case Hold():
            return stage.at_c
        case Checkpoint() | None:
            return None


def _in_order(curve: Curve) -> list[int]:
    """The stages that were in hand, in the order in which they first were."""
    found, first = np.unique(curve.stage, return_index=True)
    return [int(found[place]) for place in np.argsort(first) if found[place] >= 0]


def _lag_k(curve: Curve, stages: Sequence[Stage]) -> float | None:
    ramps = [index for index, stage in enumerate(stages) if isinstance(stage, Ramp)]
    rising = np.isin(curve.stage, ramps)
    return _highest((curve.air_c - curve.load_c)[rising])


def _highest(values: Floats) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.max()) if len(known) else None


def _last(values: Floats) -> float | None:
    known = values[~np.isnan(values)]
    return float(known[-1]) if len(known) else None


def _worst(values: Iterable[float | None]) -> float | None:
    return max((value for value in values if value is not None), default=None)
