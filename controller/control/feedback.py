"""Feedback: a PI(D) controller as a pure function, with back-calculated anti-windup.

    duty = gain (e + integral - derivative of the air) + feed-forward,   0 <= duty <= 1

The integral is kept as a duty, so a change of gain does not bump the output. Where the output is
limited (full heat, no heat, or heat refused by the guard), the integral is led to the value that gives
just the limited output (back-calculation; Astrom and Hagglund, 'PID Controllers', 1995, chapter 3, from
memory), so that nothing winds up while the kiln cannot follow.
"""

from __future__ import annotations

from typing import NamedTuple


class Tuning(NamedTuple):
    """`gain_per_k`: duty per kelvin. `integral_s`, `derivative_s`: times; derivative 0 is off.

    `filter_s`: time constant of the filter on the derivative's air.
    """

    gain_per_k: float
    integral_s: float
    derivative_s: float = 0.0
    filter_s: float = 30.0


class Feedback(NamedTuple):
    """What the controller carries: the integral (duty) and the filtered air (C) with its slope (K/s)."""

    integral: float = 0.0
    smooth_c: float | None = None
    slope_k_per_s: float = 0.0


def feedback(
    state: Feedback, tuning: Tuning, setpoint_c: float, air_c: float, feed_forward: float, dt_s: float
) -> tuple[Feedback, float]:
    """Return the next state and the duty (0..1) for one tick. All arguments must be finite.

    `feed_forward`: the duty that the kiln is expected to need; feedback adds the rest.
    """
    smooth_c = state.smooth_c
    if smooth_c is None:
        smooth_c, slope = air_c, 0.0
    else:
        share = dt_s / (tuning.filter_s + dt_s)
        slope = state.slope_k_per_s + share * (
            (air_c - smooth_c) / (tuning.filter_s + dt_s) - state.slope_k_per_s
        )
        smooth_c += share * (air_c - smooth_c)
    gain, error_k = tuning.gain_per_k, setpoint_c - air_c
    integral = state.integral + gain * error_k * dt_s / tuning.integral_s
    wanted = gain * (error_k - tuning.derivative_s * slope) + integral + feed_forward
    duty = 0.0 if wanted < 0.0 else 1.0 if wanted > 1.0 else wanted
    if duty != wanted:
        # Lead the integral back by as much as the output is over, but never past where it stood.
        back = duty - wanted
        integral = (
            max(integral + back, min(state.integral, integral))
            if back < 0.0
            else min(integral + back, max(state.integral, integral))
        )
    return Feedback(integral, smooth_c, slope), duty


def without_integral(tuning: Tuning, off_k: float, rise_k_per_s: float, feed_forward: float) -> float:
    """Return the duty (0..1) where an observer does what the integral would (`observer`).

    `off_k`: by how much the air is too hot; `rise_k_per_s`: how fast that grows. Both free of noise, so
    neither is filtered.
    """
    duty = feed_forward - tuning.gain_per_k * (off_k + tuning.derivative_s * rise_k_per_s)
    return 0.0 if duty < 0.0 else 1.0 if duty > 1.0 else duty
