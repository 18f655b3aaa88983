"""Where heat that is not the kiln's is let into a fit: wide while plastic may burn, next to none after it."""

from __future__ import annotations

import numpy as np

from controller.forecast.unknown_heat import AFTER_PART, FIRE_C, FIRE_PART, WET_PART, unknown_heat

T_S = np.arange(0.0, 10.0 * 3600.0, 15.0)
RISING_C = np.interp(T_S, [0.0, 6.0 * 3600.0, 8.0 * 3600.0], [20.0, 620.0, 620.0])


def test_much_is_believed_only_while_plastic_may_burn() -> None:
    heat = unknown_heat(T_S, RISING_C)
    air_c = np.interp(heat.at_s, T_S, RISING_C)
    assert set(heat.believed[air_c < FIRE_C[0]]) == {WET_PART}
    assert set(heat.believed[(air_c >= FIRE_C[0]) & (air_c < FIRE_C[1])]) == {FIRE_PART}
    assert set(heat.believed[air_c >= FIRE_C[1]]) == {AFTER_PART}


def test_what_burnt_once_does_not_burn_again_when_the_kiln_has_cooled() -> None:
    cooled_c = np.interp(T_S, [0.0, 4.0 * 3600.0, 8.0 * 3600.0], [20.0, 620.0, 300.0])
    heat = unknown_heat(T_S, cooled_c)
    assert not heat.fire[T_S > 4.0 * 3600.0].any()
    assert heat.believed[-1] == AFTER_PART


def test_a_fire_s_course_is_taken_finely_and_the_rest_coarsely() -> None:
    heat = unknown_heat(T_S, RISING_C)
    burning = np.interp(heat.at_s, T_S, heat.fire) == 1.0
    steps_s = np.diff(heat.at_s)
    assert set(steps_s[burning[1:] & burning[:-1]]) == {600.0}
    assert steps_s.max() == 2400.0


def test_the_line_between_the_points_is_straight_and_loses_nothing() -> None:
    heat = unknown_heat(T_S, RISING_C)
    assert np.allclose(heat.line @ np.ones(len(heat.at_s)), 1.0)
    assert np.allclose(heat.line @ heat.at_s, T_S)


def test_a_record_without_a_first_reading_has_a_course_all_the_same() -> None:
    gaps_c = np.where((T_S < 60.0) | (T_S % 900.0 < 300.0), np.nan, RISING_C)
    heat = unknown_heat(T_S, gaps_c)
    assert np.isfinite(heat.line).all()
    assert heat.fire.any()
