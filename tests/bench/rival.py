"""The rival: `simple-pid`, a general PID library of another hand, with the best settings for one kiln.

The search fires the kiln twenty to forty times without guard and record (`tests.bench.light`) at ticks of two
seconds: a coarse grid of PI settings over a decade of gain, then each setting in turn up and down by `FINER`,
the derivative too, until no step helps or `ROUNDS` are over. What it found is fired once more at ticks of a
second, as ours is. Its best is sought on the very noise on which it is then measured; ours is not.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

from simple_pid import PID

from controller.control import Control, Plan, Tuning, proportion
from tests.bench.firings import Quality, quality
from tests.bench.kilns import DrawnKiln
from tests.bench.light import Act, fire_light

GAINS = (0.02, 0.06, 0.18)
INTEGRALS_S = (250.0, 800.0)
DERIVATIVES_S = (0.0, 30.0)
"""Settings for the search: duty for each kelvin, and times."""
FINER = 1.6
ROUNDS = 8
SEARCH_TICK_S = 2.0


class Setting(NamedTuple):
    """Duty for each kelvin, and the integral's and the derivative's time."""

    gain: float
    integral_s: float
    derivative_s: float


class Rival(NamedTuple):
    """The best setting, how many were tried, and how it did."""

    best: Setting
    tried: int
    quality: Quality


def best_pid(drawn: DrawnKiln, noise_seed: int) -> Rival:
    """Search the settings with the least integral of absolute error; measure it at ticks of a second."""
    tried: dict[Setting, float] = {}

    def iae_k_s(setting: Setting) -> float:
        if setting not in tried:
            tried[setting] = with_pid(drawn, setting, noise_seed, SEARCH_TICK_S).iae_k_s
        return tried[setting]

    best = min(
        (Setting(gain, integral_s, 0.0) for gain, integral_s in product(GAINS, INTEGRALS_S)), key=iae_k_s
    )
    for _ in range(ROUNDS):
        before = best
        best = min([best, *near(best)], key=iae_k_s)
        if best == before:
            break
    return Rival(best, len(tried), with_pid(drawn, best, noise_seed, 1.0))


def near(setting: Setting) -> list[Setting]:
    """Return the settings next to one."""
    gain, integral_s, derivative_s = setting
    return [
        Setting(gain * FINER, integral_s, derivative_s),
        Setting(gain / FINER, integral_s, derivative_s),
        Setting(gain, integral_s * FINER, derivative_s),
        Setting(gain, integral_s / FINER, derivative_s),
        *(Setting(gain, integral_s, other) for other in DERIVATIVES_S),
    ]


def with_pid(drawn: DrawnKiln, setting: Setting, noise_seed: int, tick_s: float) -> Quality:
    """Fire with simple-pid in the control's place; the relay and all else as they are."""
    plan = Plan(Tuning(0.03, 900.0), drawn.switching, drawn.parameters.rated_power_w)
    return quality(fire_light(drawn, plan, noise_seed, tick_s, pid(setting)))


def pid(setting: Setting) -> Act:
    """Return a PID that can be called as the control is."""
    gain, integral_s, derivative_s = setting
    rival = PID(gain, gain / integral_s, gain * derivative_s, sample_time=None, output_limits=(0.0, 1.0))

    def act(
        state: Control,
        plan: Plan,
        setpoint_c: float | None,
        _slope_c_per_h: float,
        air_c: float | None,
        was_granted: bool,
        dt_s: float,
        *_coming: object,
    ) -> tuple[Control, bool]:
        duty = 0.0
        if setpoint_c is not None and air_c is not None:
            rival.setpoint = setpoint_c
            duty = float(rival(air_c, dt=dt_s))
        relay, wanted = proportion(state.relay, plan.switching, duty, was_granted, dt_s)
        return Control(state.feedback, relay, duty), wanted and setpoint_c is not None

    return act
