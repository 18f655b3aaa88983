"""Measures on curves short enough to work out by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from controller.record.curve import NO_STAGE, Curve
from controller.review.kiln_text import full_rate_c_per_h, heater_power_w
from controller.review.measures import measure, time_s, warmth
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Stage, Then

RAMP = Ramp("up", to_c=100.0, rate_c_per_h=600.0)
HOLD = Hold("stay", at_c=100.0, for_s=3600.0, band_k=5.0)
STOP = Checkpoint("look", "Look.", "off", None, None, Then("keep waiting"), expect_s=600.0)
DOWN = Cool("down", to_c=50.0, rate_c_per_h=None)


def a_curve(
    every_s: float,
    air_c: Sequence[float],
    *,
    stage: Sequence[int],
    setpoint_c: Sequence[float] | float = 100.0,
    load_c: Sequence[float] | float = np.nan,
    heat_on: Sequence[bool] | bool = False,
    t_s: Sequence[float] | None = None,
) -> Curve:
    count = len(air_c)

    def column(values: Sequence[float] | float) -> np.ndarray:
        return np.broadcast_to(np.asarray(values, dtype=float), count)

    times = np.arange(count) * every_s if t_s is None else np.asarray(t_s, dtype=float)
    return Curve(
        n=np.arange(count),
        t_s=times,
        utc_s=2e9 + times,
        setpoint_c=column(setpoint_c),
        air_c=column(air_c),
        load_c=column(load_c),
        limit_c=column(np.nan),
        duty=column(0.0),
        heat_on=column(np.asarray(heat_on, dtype=float)) > 0,
        stage=np.asarray(stage),
    )


def overshoot(curve: Curve, *stages: Stage) -> float | None:
    return measure(curve, stages).overshoot_k


def error(curve: Curve, *stages: Stage) -> float | None:
    return measure(curve, stages).hold_error_k


def test_overshoot_is_the_most_above_the_hold() -> None:
    assert overshoot(a_curve(60, [98, 103, 101], stage=[0, 0, 0]), HOLD) == 3.0


def test_overshoot_at_the_end_of_the_ramp_counts() -> None:
    curve = a_curve(60, [90, 104, 102, 100], stage=[0, 0, 1, 1])
    assert overshoot(curve, RAMP, HOLD) == 4.0


def test_overshoot_before_a_checkpoint_does_not_count() -> None:
    curve = a_curve(60, [90, 98, 104, 99, 101], stage=[0, 1, 1, 2, 2])
    assert overshoot(curve, RAMP, STOP, HOLD) == 1.0


def test_a_hold_reached_from_above_counts_from_when_the_air_has_come_down() -> None:
    curve = a_curve(60, [140, 120, 105, 99, 102, 100], stage=[0, 0, 1, 1, 1, 1])
    assert overshoot(curve, RAMP, HOLD) == 2.0


def test_air_that_was_above_all_along_is_no_overshoot() -> None:
    assert overshoot(a_curve(60, [140, 120, 105], stage=[0, 0, 0]), HOLD) is None


def test_air_that_never_arrives_overshoots_by_nothing() -> None:
    assert overshoot(a_curve(60, [20, 30, np.nan], stage=[0, 0, 0]), HOLD) == 0.0


def test_the_worst_hold_is_told() -> None:
    hot = Hold("hot", at_c=200.0, for_s=60.0, band_k=5.0)
    curve = a_curve(60, [99, 101, 199, 206], stage=[0, 0, 1, 1])
    assert overshoot(curve, HOLD, hot) == 6.0
    assert [stage.overshoot_k for stage in measure(curve, (HOLD, hot)).stages] == [1.0, 6.0]


def test_hold_error_counts_from_fifteen_minutes_after_the_setpoint_and_the_air_arrived() -> None:
    #        min: 0   5   10  15  20  25  30  35
    air = [80.0, 90, 97, 94, 93, 92, 98, 101.5]
    setpoint = [90.0, 100, 100, 100, 100, 100, 100, 100]
    # The setpoint stands from minute 5, the air is in the band from minute 10: settled from minute 25.
    assert error(a_curve(300, air, stage=[0] * 8, setpoint_c=setpoint), HOLD) == 8.0
    assert error(a_curve(300, air[:5], stage=[0] * 5, setpoint_c=setpoint[:5]), HOLD) is None


def test_hold_error_does_not_count_the_way_back_after_a_stop() -> None:
    #        min: 0   5   10  15  20  25   30
    air = [80.0, 96, 97, 98, 99, 100, 102]
    setpoint = [80.0, 96, 98, 100, 100, 100, 100]
    # The air is in the band from minute 5, the setpoint stands from minute 15: settled from minute 30.
    assert error(a_curve(300, air, stage=[0] * 7, setpoint_c=setpoint), HOLD) == 2.0
    assert error(a_curve(300, air[:6], stage=[0] * 6, setpoint_c=setpoint[:6]), HOLD) is None


def test_hold_error_of_air_that_never_comes_into_the_band_is_not_hidden() -> None:
    assert error(a_curve(300, [60.0] * 8, stage=[0] * 8), HOLD) == 40.0


def test_hold_error_counts_only_while_the_setpoint_stands_at_the_hold() -> None:
    air = [100.0, 100, 100, 100, 101, 70, 40]
    setpoint = [100.0, 100, 100, 100, 100, np.nan, np.nan]
    assert error(a_curve(300, air, stage=[0] * 7, setpoint_c=setpoint), HOLD) == 1.0


def test_a_hold_that_asks_for_the_load_is_measured_by_the_load() -> None:
    led = replace(HOLD, lead_k=40.0)
    load_c = [90, 101, *[100.5] * 20]
    curve = a_curve(60, [130.0] * 22, stage=[0] * 22, load_c=load_c, setpoint_c=131.0)
    assert (overshoot(curve, led), error(curve, led)) == (1.0, 0.5)
    assert overshoot(curve, HOLD) is None


def test_peaks_and_duration() -> None:
    m = measure(a_curve(1800, [20, np.nan, 250, 90], stage=[0] * 4, load_c=[20, 100, 200, 210]))
    assert (m.peak_air_c, m.peak_load_c, m.peak_limit_c) == (250.0, 210.0, None)
    assert m.duration_h == 1.5


def test_lag_is_the_most_that_the_load_is_behind_in_a_ramp() -> None:
    curve = a_curve(60, [50, 80, 100, 100], stage=[0, 0, 1, 1], load_c=[40, 65, 20, 95])
    assert measure(curve, (RAMP, HOLD)).lag_k == 15.0


def test_heat_and_energy() -> None:
    curve = a_curve(900, [20] * 5, stage=[0] * 5, heat_on=[True, False, True, True, True])
    m = measure(curve, power_w=6000.0)
    assert m.heat_h == 0.75  # the last tick has no duration
    assert m.energy_kwh == 4.5
    assert measure(curve).energy_kwh is None


def test_no_heat_is_reckoned_for_a_gap_in_the_record() -> None:
    curve = a_curve(1, [20] * 6, stage=[0] * 6, heat_on=True, t_s=[0, 1, 2, 3, 7203, 7204])
    assert measure(curve).heat_h == pytest.approx(5 / 3600)
    assert time_s(curve, curve.heat_on) == 7204.0


def test_soak_is_the_time_of_the_load_in_the_hottest_holds_band_or_above() -> None:
    curve = a_curve(600, [100, 100, 100, 100, 100], stage=[0] * 5, load_c=[90, 95, 96, 120, 94])
    m = measure(curve, (Hold("low", 50.0, 60.0, 5.0), HOLD))
    assert (m.soak_c, m.soak_h) == (95.0, 0.5)


def test_without_a_load_thermocouple_the_air_is_what_the_shell_saw() -> None:
    curve = a_curve(60, [1.0, 2.0], stage=[0, 0], load_c=[np.nan, 5.0])
    assert list(warmth(curve)) == [1.0, 5.0]


def test_the_table_of_stages() -> None:
    curve = a_curve(60, [20, 60, 101, 99, 97, 60], stage=[0, 0, 1, 1, 3, NO_STAGE], load_c=10.0)
    up, stay, down = measure(curve, (RAMP, HOLD, STOP, DOWN)).stages
    assert (up.name, up.kind, up.begins_s, up.lasts_s, up.asked_c) == ("up", "ramp", 0.0, 120.0, 100.0)
    assert (stay.begins_s, stay.lasts_s, stay.peak_air_c, stay.end_air_c) == (120.0, 120.0, 101.0, 99.0)
    assert (down.index, down.asked_c, down.lasts_s, down.end_load_c) == (3, 50.0, 60.0, 10.0)
    assert (up.overshoot_k, down.hold_error_k) == (None, None)


def test_a_curve_without_a_schedule_still_has_stages() -> None:
    (stage,) = measure(a_curve(60, [20, 21], stage=[4, 4])).stages
    assert (stage.name, stage.kind, stage.asked_c, stage.lasts_s) == ("stage 5", "", None, 60.0)


def test_an_empty_curve_has_no_measures() -> None:
    m = measure(a_curve(1, [], stage=[]), (HOLD,))
    assert (m.overshoot_k, m.hold_error_k, m.peak_air_c, m.duration_h, m.heat_h, m.stages) == (
        None,
        None,
        None,
        0.0,
        0.0,
        (),
    )


@pytest.mark.parametrize(
    ("text", "power_w"),
    [
        ('[heater]\npower = "6.5 kW"', 6500.0),
        ('[heater]\npower = "800 W"', 800.0),
        ('[heater]\npower = "much"', None),
        ("heater = 3", None),
        ("= what", None),
    ],
)
def test_the_power_is_read_from_the_kilns_own_text(text: str, power_w: float | None) -> None:
    assert heater_power_w(text) == power_w


@pytest.mark.parametrize(
    ("text", "rate"), [('full_rate = "400 C/h"', 400.0), ('full_rate = "quick"', None), ("", None)]
)
def test_the_full_rate_is_read_from_the_kilns_own_text(text: str, rate: float | None) -> None:
    assert full_rate_c_per_h(text) == rate
