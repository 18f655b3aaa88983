"""Tuning by SIMC: from a kiln's gain, lags and dead time to a controller's gain and times.

S. Skogestad, 'Simple analytic rules for model reduction and PID controller tuning', Journal of Process
Control 13 (2003) 291-309. For gain k, lag tau1 and dead time theta:

    Kc = tau1 / (k (tauc + theta)),   tauI = min(tau1, 4 (tauc + theta)),   tauD = tau2 (series form)

`tauc` is the wanted closed-loop lag; tauc = theta is tight.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from controller.control.feedback import Tuning


class Lags(NamedTuple):
    """What feedback has to reckon with: `gain_k` (K at full duty), two lags and the dead time (s)."""

    gain_k: float
    tau_s: float
    second_s: float
    dead_s: float


def half_rule(
    lags_s: Sequence[float], dead_s: float, inverse_s: Sequence[float] = (), *, order: int
) -> tuple[tuple[float, ...], float]:
    """Reduce many lags (s) to `order` (1 or 2) and a dead time: Skogestad's half rule.

    The greatest lag that is left out goes half to the last one kept and half to the dead time; all
    smaller ones, and inverse responses, to the dead time.
    """
    falling = sorted(lags_s, reverse=True) + [0.0] * (order + 1)
    kept, half, small = falling[:order], falling[order] / 2.0, falling[order + 1 :]
    kept[-1] += half
    return tuple(kept), dead_s + half + sum(small) + sum(inverse_s)


def simc(lags: Lags, closed_s: float) -> tuple[float, float, float]:
    """Return gain (duty per kelvin), integral and derivative time (s) in the series form.

    `closed_s`: the wanted closed-loop lag. Raises ValueError where gain or times make no sense.
    """
    sum_s = closed_s + lags.dead_s
    if not (lags.gain_k > 0.0 and lags.tau_s > 0.0 and sum_s > 0.0):
        raise ValueError(f"a kiln without gain, lag or delay cannot be tuned for: {lags}")
    return lags.tau_s / (lags.gain_k * sum_s), min(lags.tau_s, 4.0 * sum_s), lags.second_s


def parallel(gain_per_k: float, integral_s: float, derivative_s: float) -> tuple[float, float, float]:
    """Turn a series controller into the parallel form that `feedback` has; the same transfer function."""
    share = 1.0 + derivative_s / integral_s
    return gain_per_k * share, integral_s * share, derivative_s / share


def tuning(lags: Lags, closed_s: float, filter_s: float) -> Tuning:
    """Return the tuning for a kiln by SIMC. `filter_s`: of the derivative."""
    return Tuning(*parallel(*simc(lags, closed_s)), filter_s)
