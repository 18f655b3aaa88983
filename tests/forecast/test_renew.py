"""A forecast is renewed from where the firing is, and knows by then what has become of the doubts."""

from __future__ import annotations

from dataclasses import replace
from math import nan
from typing import cast

import numpy as np
import pytest

from controller.forecast import observer
from controller.forecast.forecast import forecast, job_for
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import unknown_kiln
from controller.forecast.known import known
from controller.forecast.load import loaded
from controller.forecast.observer import Estimate
from controller.forecast.past import EVERY_S, Seen, cold_c, led_along, seen_of
from controller.forecast.renew import Now, now_of, observed, renew
from controller.live import Frame
from controller.record.curve import Curve
from controller.schedule.model import Checkpoint, Hold, Ramp, Schedule, Then

SHEET = JobSheet(dry_kg=6.0, wet_kg=6.5, pattern_kg=0.4, fill=0.3)
STOP = Checkpoint("look", "look", "off", None, None, Then("keep waiting"), 1200.0)
SCHEDULE = Schedule(
    "one",
    (
        Ramp("dry", 90.0, 60.0),
        Hold("dry through", 90.0, 2700.0, 15.0),
        Ramp("up", 400.0, 100.0, wait_within_k=40.0),
        STOP,
        Hold("even", 400.0, 1800.0, 15.0),
        Hold("pour", 400.0, None, 15.0, 7200.0, 600.0),
    ),
)
KILN = unknown_kiln(6500.0)


def cut(at_s: float) -> tuple[Seen, Now, float]:
    """What was seen by then of a firing that went as forecast, where it stood, and when it was ready."""
    whole = forecast(SCHEDULE, SHEET, KILN, 300.0)
    assert whole.ready_s is not None
    t_s = np.arange(0.0, at_s, EVERY_S)
    seen = Seen(
        np.interp(t_s, whole.t_s, whole.air_c.typical), np.interp(t_s, whole.t_s, whole.load_c.typical)
    )
    stage = max(of.index for of in whole.stages if of.begins_s.typical <= at_s)
    place = int(at_s / 30.0)
    of = SCHEDULE.stages[stage]
    setpoint_c = float(whole.setpoint_c[place])
    clock_s = at_s - whole.stages[stage].begins_s.typical
    if isinstance(of, Hold):
        first = int(whole.stages[stage].begins_s.typical / 30.0)
        clock_s = 30.0 * float((abs(whole.load_c.typical[first:place] - of.at_c) <= of.band_k).sum())
    return seen, Now(stage, clock_s, None if np.isnan(setpoint_c) else setpoint_c), whole.ready_s.typical


@pytest.mark.parametrize("at_h", [0.5, 2.0, 6.5, 8.5, 9.0])
def test_a_firing_that_goes_as_forecast_is_ready_when_it_was_forecast(at_h: float) -> None:
    seen, now, ready_s = cut(at_h * 3600.0)
    again = renew(SCHEDULE, SHEET, KILN, 300.0, seen, now)
    assert again.ready_s is not None
    left_s = ready_s - at_h * 3600.0
    assert left_s > 600.0
    assert again.ready_s.typical == pytest.approx(left_s, abs=240.0)
    assert again.stages[0].index == now.stage


def test_plastic_that_was_weighed_leaves_less_to_guess() -> None:
    seen, _, _ = cut(7.0 * 3600.0)
    sheet = replace(SHEET, drained_kg=0.35)
    setup = observer.set_up(job_for(SCHEDULE, sheet))

    def left(weighed_s: float | None) -> Estimate:
        return observer.estimates(observed(SCHEDULE, sheet, seen, weighed_s)[-1], setup).plastic_kg

    assert left(0.0).high - left(0.0).low < 0.5 * (left(None).high - left(None).low)
    assert left(0.0).typical < 0.06  # of 0.4 kg
    assert left(1e9) == left(None)  # weighed later than now


def test_the_band_narrows_once_the_water_is_gone() -> None:
    early = renew(SCHEDULE, SHEET, KILN, 300.0, *cut(1800.0)[:2]).ready_s
    late = renew(SCHEDULE, SHEET, KILN, 300.0, *cut(7.0 * 3600.0)[:2]).ready_s
    assert early is not None
    assert late is not None
    assert late.high - late.low < 0.5 * (early.high - early.low)


def test_a_pour_that_is_waiting_is_ready_now() -> None:
    _, _, ready_s = cut(600.0)
    seen, now, _ = cut(ready_s + 200.0)
    assert now.stage == 5
    again = renew(SCHEDULE, SHEET, KILN, 300.0, seen, now)
    assert again.ready_s is not None
    assert again.ready_s.typical == 0.0


def test_a_person_who_is_late_is_taken_to_come_at_once() -> None:
    seen, _, _ = cut(7.0 * 3600.0)
    waiting = renew(SCHEDULE, SHEET, KILN, 300.0, seen, Now(3, 5000.0, None))
    assert waiting.stages[1].begins_s.typical <= 60.0


def test_missing_readings_leave_the_last_ones_standing() -> None:
    seen, now, _ = cut(7.0 * 3600.0)
    holes = Seen(seen.air_c.copy(), np.full(len(seen.load_c), nan))
    holes.air_c[100:110] = nan
    again = renew(SCHEDULE, SHEET, KILN, 300.0, holes, now)
    whole = renew(SCHEDULE, SHEET, KILN, 300.0, seen, now)
    assert again.ready_s is not None
    assert whole.ready_s is not None
    assert again.ready_s.typical == pytest.approx(whole.ready_s.typical, abs=900.0)
    assert cold_c(Seen(np.array([nan, nan]), np.array([nan, nan]))) == 20.0


def test_a_kiln_led_along_has_the_air_that_was_measured_and_warm_walls() -> None:
    seen, _, _ = cut(7.0 * 3600.0)
    kiln, load, _ = loaded(known(SHEET), KILN)
    state = led_along(kiln, load, seen, pinned=True)[-1]
    assert state.load_c == pytest.approx(float(seen.load_c[-1]))
    assert state.chamber_c == pytest.approx(float(seen.air_c[-1]), abs=15.0)
    assert state.inner_c > 60.0


def test_the_record_is_taken_every_minute_and_ends_now() -> None:
    count = 100
    t_s = np.arange(count) * 10.0
    air_c = 20.0 + t_s / 60.0
    zeros = np.zeros(count)
    curve = Curve(
        n=np.arange(count),
        t_s=t_s,
        utc_s=t_s,
        setpoint_c=air_c,
        air_c=air_c,
        load_c=air_c - 1.0,
        limit_c=air_c,
        duty=zeros,
        heat_on=zeros > 1.0,
        stage=np.zeros(count, dtype=np.int64),
    )
    seen = seen_of(curve)
    assert seen.air_c.tolist() == pytest.approx([20.5 + n for n in range(17)])
    assert seen.load_c.tolist() == pytest.approx([19.5 + n for n in range(17)])
    assert len(seen_of(curve.rows(slice(0, 0))).air_c) == 0


def test_a_frame_tells_where_the_firing_is_and_an_idle_one_that_none_goes_on() -> None:
    frame = {"stage": {"index": 2, "elapsed_s": 40.0}, "setpoint_c": 120.0, "load_setpoint_c": None}
    assert now_of(cast(Frame, frame)) == Now(2, 40.0, 120.0)
    assert now_of(cast(Frame, frame | {"load_setpoint_c": 95.0})) == Now(2, 40.0, 95.0)
    assert now_of(cast(Frame, {"stage": None, "setpoint_c": None})) is None
