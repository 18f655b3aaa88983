"""Tuning by SIMC, against the paper's rule and example, python-control and scipy.signal.

S. Skogestad, 'Simple analytic rules for model reduction and PID controller tuning', Journal of Process
Control 13 (2003) 291-309: its example
(-0.3s + 1)(0.08s + 1) / [(2s + 1)(s + 1)(0.4s + 1)(0.2s + 1)(0.05s + 1)^3],
from memory, the half rule redone.
"""

from __future__ import annotations

import control as python_control
import numpy as np
import pytest
from scipy import signal

from controller.control import Feedback, Lags, Tuning, feedback, half_rule, parallel, simc

# By the paper's rule for a numerator's lag, (0.08s + 1) / (0.2s + 1) counts as 1 / (0.12s + 1).
EXAMPLE_S = (2.0, 1.0, 0.4, 0.12, 0.05, 0.05, 0.05)
INVERSE_S = (0.3,)


def test_the_half_rule_reduces_the_paper_s_example_to_one_lag() -> None:
    (tau_s,), dead_s = half_rule(EXAMPLE_S, 0.0, INVERSE_S, order=1)
    assert (tau_s, dead_s) == pytest.approx((2.5, 1.47))


def test_and_to_two() -> None:
    lags_s, dead_s = half_rule(EXAMPLE_S, 0.0, INVERSE_S, order=2)
    assert (*lags_s, dead_s) == pytest.approx((2.0, 1.2, 0.77))


def test_the_paper_s_tight_settings_follow() -> None:
    assert simc(Lags(1.0, 2.5, 0.0, 1.47), 1.47) == pytest.approx((0.85, 2.5, 0.0), abs=0.005)
    assert simc(Lags(1.0, 2.0, 1.2, 0.77), 0.77) == pytest.approx((1.30, 2.0, 1.2), abs=0.005)


def test_a_slow_lag_gets_the_integral_time_of_the_closed_loop() -> None:
    _, integral_s, _ = simc(Lags(40.0, 5000.0, 0.0, 30.0), 30.0)
    assert integral_s == pytest.approx(4.0 * 60.0)


@pytest.mark.parametrize(
    "lags", [Lags(0.0, 1.0, 0.0, 1.0), Lags(1.0, 0.0, 0.0, 1.0), Lags(-2.0, 1.0, 0.0, 1.0)]
)
def test_a_kiln_that_makes_no_sense_is_refused(lags: Lags) -> None:
    with pytest.raises(ValueError, match="cannot be tuned"):
        simc(lags, 1.0)


@pytest.mark.parametrize(("gain_k", "tau_s", "dead_s"), [(812.0, 1900.0, 300.0), (40.0, 200.0, 30.0)])
def test_tight_tuning_has_the_margins_that_python_control_finds(
    gain_k: float, tau_s: float, dead_s: float
) -> None:
    # Gain margin pi, phase margin 61.35 degrees, Ms 1.59 for tauI = tau1 and tauc = theta (python-control).
    gain, integral_s, _ = simc(Lags(gain_k, tau_s, 0.0, dead_s), dead_s)
    assert integral_s == tau_s
    s = python_control.tf("s")
    delay = python_control.tf(*python_control.pade(dead_s, 10))
    loop = gain * (1.0 + 1.0 / (integral_s * s)) * gain_k / (tau_s * s + 1.0) * delay
    gain_margin, phase_margin, _, _ = python_control.margin(loop)
    assert gain_margin == pytest.approx(3.1416, rel=1e-3)
    assert phase_margin == pytest.approx(61.35, abs=0.05)
    at = 1j * np.geomspace(0.01 / dead_s, 10.0 / dead_s, 4000)
    assert np.abs(1.0 / (1.0 + loop(at))).max() == pytest.approx(1.5905, rel=2e-3)


def test_the_parallel_form_is_the_same_controller() -> None:
    gain, integral_s, derivative_s = 1.3, 200.0, 45.0
    s = 1j * np.geomspace(1e-4, 1.0, 50)
    series = gain * (1.0 + 1.0 / (integral_s * s)) * (1.0 + derivative_s * s)
    gain, integral_s, derivative_s = parallel(gain, integral_s, derivative_s)
    assert gain * (1.0 + 1.0 / (integral_s * s) + derivative_s * s) == pytest.approx(series)


@pytest.mark.parametrize(
    ("gain_k", "tau_s", "dead_s", "closed_s"), [(50.0, 300.0, 20.0, 20.0), (400.0, 2000.0, 30.0, 60.0)]
)
def test_our_loop_answers_as_scipy_says_that_it_must(
    gain_k: float, tau_s: float, dead_s: float, closed_s: float
) -> None:
    gain, integral_s, _ = simc(Lags(gain_k, tau_s, 0.0, dead_s), closed_s)
    step_k, rest, dt_s, until_s = 1.0, 0.5, 0.25, 8.0 * (closed_s + dead_s)
    ours = _ours(Tuning(gain, integral_s), gain_k, tau_s, dead_s, step_k, rest, dt_s, until_s)
    up, down = _pade(dead_s)
    forward = np.polymul([gain * integral_s * gain_k, gain * gain_k], up)
    open_loop = np.polymul(np.polymul([integral_s, 0.0], [tau_s, 1.0]), down)
    at_s = np.arange(1, len(ours) + 1) * dt_s
    _, exact = signal.step(
        (step_k * forward, np.polyadd(open_loop, forward)), T=np.concatenate(([0.0], at_s))
    )
    after = at_s > 2.0 * dead_s  # an approximated delay rings at first
    assert ours[after] == pytest.approx(exact[1:][after], abs=0.015 * step_k)


def _ours(
    tuning: Tuning,
    gain_k: float,
    tau_s: float,
    dead_s: float,
    step_k: float,
    rest: float,
    dt_s: float,
    until_s: float,
) -> np.ndarray:
    """The plant about a resting duty, solved exactly between ticks, under our feedback."""
    state, air_c, seen = Feedback(), 0.0, []
    waiting = [rest] * round(dead_s / dt_s)
    left = float(np.exp(-dt_s / tau_s))
    for _ in range(int(until_s / dt_s)):
        state, duty = feedback(state, tuning, step_k, air_c, rest, dt_s)
        assert 0.0 < duty < 1.0  # else the loop is not linear, and this compares nothing
        waiting.append(duty)
        ends_c = gain_k * (waiting.pop(0) - rest)
        air_c = ends_c + (air_c - ends_c) * left
        seen.append(air_c)
    return np.array(seen)


def _pade(dead_s: float, order: int = 6) -> tuple[np.ndarray, np.ndarray]:
    up, down = python_control.pade(dead_s, order)
    return np.array(up), np.array(down)
