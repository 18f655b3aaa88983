"""Feedback: what it does to an error, at its limits, and against a solution by another hand (scipy)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from controller.control import Feedback, Tuning, feedback

TUNING = Tuning(gain_per_k=0.05, integral_s=600.0)


def test_a_constant_error_makes_the_duty_rise_by_the_gain_once_every_integral_time() -> None:
    state = Feedback()
    for _ in range(600):
        state, duty = feedback(state, TUNING, 104.0, 100.0, 0.0, 1.0)
    assert duty == pytest.approx(2 * 0.05 * 4.0)


def test_what_the_feed_forward_gives_the_feedback_need_not() -> None:
    _, duty = feedback(Feedback(), TUNING, 100.0, 100.0, 0.3, 1.0)
    assert duty == pytest.approx(0.3)


def test_the_derivative_brakes_a_rising_air() -> None:
    braked = Tuning(0.05, 600.0, 60.0, 10.0)
    with_brake, without = Feedback(0.3), Feedback(0.3)
    for t in range(120):
        with_brake, braked_duty = feedback(with_brake, braked, 110.0, 100.0 + 0.05 * t, 0.0, 1.0)
        without, free_duty = feedback(without, TUNING, 110.0, 100.0 + 0.05 * t, 0.0, 1.0)
    assert braked_duty == pytest.approx(free_duty - 0.05 * 60.0 * 0.05, abs=0.003)


def test_a_kiln_that_cannot_follow_does_not_wind_up() -> None:
    state = Feedback()
    for _ in range(4 * 3600):
        state, duty = feedback(state, TUNING, 800.0, 300.0, 0.0, 1.0)
        assert duty == 1.0
    state, duty = feedback(state, TUNING, 300.0, 310.0, 0.0, 1.0)
    assert duty < 0.6


def test_nor_does_one_that_is_too_hot() -> None:
    state = Feedback(0.4)
    for _ in range(4 * 3600):
        state, duty = feedback(state, TUNING, 100.0, 700.0, 0.0, 1.0)
        assert duty == 0.0
    _, duty = feedback(state, TUNING, 700.0, 690.0, 0.0, 1.0)
    assert duty > 0.3


@given(
    st.floats(-1.0, 2.0),
    st.floats(0.0, 1500.0),
    st.floats(-50.0, 1500.0),
    st.floats(-1.0, 2.0),
    st.floats(0.01, 60.0),
)
def test_the_duty_is_always_a_share(
    integral: float, setpoint_c: float, air_c: float, ahead: float, dt_s: float
) -> None:
    state, duty = feedback(Feedback(integral), TUNING, setpoint_c, air_c, ahead, dt_s)
    assert 0.0 <= duty <= 1.0
    assert np.isfinite(state.integral)


@pytest.mark.parametrize("gain", [0.01, 0.03])
def test_the_closed_loop_with_a_first_order_kiln_is_that_of_the_textbook(gain: float) -> None:
    # tau dT/dt = -T + k u, u = Kc (e + integral e / Ti), unlimited: solved by scipy.integrate.solve_ivp.
    k_k, tau_s, integral_s, setpoint_c = 40.0, 900.0, 600.0, 10.0
    tuning = Tuning(gain, integral_s)

    def right_side(_t: float, y: np.ndarray) -> list[float]:
        error = setpoint_c - y[0]
        return [(-y[0] + k_k * (gain * error + y[1])) / tau_s, gain * error / integral_s]

    exact = solve_ivp(right_side, (0.0, 3600.0), [0.0, 0.0], rtol=1e-9, atol=1e-9, t_eval=[600, 1800, 3600])
    state, air_c, dt_s, seen = Feedback(), 0.0, 0.25, {}
    for n in range(int(3600 / dt_s)):
        state, duty = feedback(state, tuning, setpoint_c, air_c, 0.0, dt_s)
        air_c += dt_s / tau_s * (-air_c + k_k * duty)
        seen[(n + 1) * dt_s] = air_c
    for t_s, expected_c in zip(exact.t, exact.y[0], strict=True):
        assert seen[t_s] == pytest.approx(expected_c, abs=0.02)
