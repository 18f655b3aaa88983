"""How well kilns are controlled: fifty kilns drawn by lot, through the PLA schedule, with three rivals.

Each kiln is fired three times with noise of its own: knowing nothing; then with the model fitted to that
firing; and by `simple-pid`, a general-purpose PID library of another hand, with the best settings that a
search finds for this very kiln. The fourth is what no control could beat (`tests.bench.limit`).

`BENCH_KILNS=5` takes only the first five. `DEVELOPMENT=1` takes the kilns that control was tried out on.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import contextmanager
from itertools import product
from multiprocessing import get_context
from typing import NamedTuple
from unittest import mock

import numpy as np
from simple_pid import PID

from controller.control import Control, Plan, Tuning, proportion
from controller.forecast.fit import fit
from controller.known_kiln import known_kiln, unknown_kiln
from tests.bench.firings import Quality, fire, quality
from tests.bench.kilns import BENCH, DEVELOPMENT, DrawnKiln, draw
from tests.bench.limit import Limit, limit

GAINS = (0.02, 0.06, 0.18)
INTEGRALS_S = (250.0, 800.0)
DERIVATIVES_S = (0.0, 30.0)
"""Settings for the search: duty for each kelvin, and times."""
FINER = 1.6
ROUNDS = 3
SEARCH_TICK_S = 2.0


class Result(NamedTuple):
    """One kiln: its firings, what the fit left, and the limit.

    `beyond`: the schedule asks for more than its power can do; no control could avoid most of the error.
    """

    seed: int
    contactor: bool
    beyond: bool
    first: Quality
    learned: Quality
    rival: Quality
    limit: Limit
    rms_k: float
    refused: str


def one(seed: int) -> Result:
    """Fire one kiln with everything."""
    drawn = draw(seed)
    power_w = drawn.parameters.rated_power_w
    unknown = Plan(Tuning(0.03, 900.0), drawn.switching, power_w, kiln=unknown_kiln(power_w), learns=True)
    first = fire(drawn, unknown, seed)
    fitted = fit(first.curve, power_w, 1)
    known = (
        unknown
        if fitted.refused
        else unknown_replaced(unknown, known_kiln(fitted.kiln, drawn.switching.cycle_s))
    )
    learned = fire(drawn, known, seed + 10_000)
    rival = best_pid(drawn, seed + 10_000)
    least = limit(drawn, learned)
    return Result(
        seed,
        drawn.contactor,
        least.least_k_s > 0.5 * least.own_k_s,
        quality(first),
        quality(learned),
        rival,
        least,
        fitted.rms_k,
        fitted.refused,
    )


def unknown_replaced(plan: Plan, kiln: object) -> Plan:
    """Return the plan with a kiln that is known."""
    return Plan(plan.tuning, plan.switching, plan.power_w, kiln=kiln)  # type: ignore[arg-type]


def best_pid(drawn: DrawnKiln, noise_seed: int) -> Quality:
    """Search the settings with the least integral of absolute error; measure it at ticks of a second.

    First a coarse grid of PI settings, then each setting in turn up and down by `FINER` while that helps.
    """
    tried: dict[tuple[float, float, float], float] = {}

    def iae_k_s(setting: tuple[float, float, float]) -> float:
        if setting not in tried:
            tried[setting] = with_pid(drawn, setting, noise_seed, SEARCH_TICK_S).iae_k_s
        return tried[setting]

    best = min(((gain, integral_s, 0.0) for gain, integral_s in product(GAINS, INTEGRALS_S)), key=iae_k_s)
    for _ in range(ROUNDS):
        gain, integral_s, derivative_s = best
        near = [(gain * FINER, integral_s, derivative_s), (gain / FINER, integral_s, derivative_s)]
        near += [(gain, integral_s * FINER, derivative_s), (gain, integral_s / FINER, derivative_s)]
        near += [(gain, integral_s, other) for other in DERIVATIVES_S]
        best = min([best, *near], key=iae_k_s)
        if best == (gain, integral_s, derivative_s):
            break
    return with_pid(drawn, best, noise_seed, 1.0)


def with_pid(
    drawn: DrawnKiln, setting: tuple[float, float, float], noise_seed: int, tick_s: float
) -> Quality:
    """Fire with simple-pid in the control's place; the relay, the guard and all else as they are."""
    plan = Plan(Tuning(0.03, 900.0), drawn.switching, drawn.parameters.rated_power_w)
    with pid_in_place(setting):
        return quality(fire(drawn, plan, noise_seed, tick_s))


@contextmanager
def pid_in_place(setting: tuple[float, float, float]) -> Iterable[None]:  # type: ignore[misc]
    """Put a PID where the tick calls the control."""
    gain, integral_s, derivative_s = setting
    pid = PID(gain, gain / integral_s, gain * derivative_s, sample_time=None, output_limits=(0.0, 1.0))

    def instead(
        state: Control,
        plan: Plan,
        setpoint_c: float | None,
        _slope: float,
        air_c: float | None,
        was_granted: bool,
        dt_s: float,
        *_coming: object,
    ) -> tuple[Control, bool]:
        duty = 0.0
        if setpoint_c is not None and air_c is not None:
            pid.setpoint = setpoint_c
            duty = float(pid(air_c, dt=dt_s))
        relay, wanted = proportion(state.relay, plan.switching, duty, was_granted, dt_s)
        return Control(state.feedback, relay, duty), wanted and setpoint_c is not None

    with mock.patch("controller.tick.control", instead):
        yield


def results(seeds: Iterable[int]) -> list[Result]:
    """Fire many kilns, two at a time."""
    found = []
    with get_context("spawn").Pool(min(2, os.cpu_count() or 1)) as pool:
        for result in pool.imap_unordered(one, seeds):
            print(_line(result), flush=True)
            found.append(result)
    return found


def _line(r: Result) -> str:
    first, learned, rival = r.first, r.learned, r.rival
    return (
        f"kiln {r.seed:4} {'contactor ' if r.contactor else 'solid-state'} {'beyond' if r.beyond else '':6} "
        f"fit {r.rms_k:4.2f} K {r.refused}| first {first.overshoot_k:4.2f} K iae "
        f"{first.iae_k_s:6.0f} | rms {learned.rms_k:5.2f} over {learned.overshoot_k:4.2f} hold "
        f"{learned.hold_error_k:4.2f} K {learned.cycles_per_h:3.0f}/h | iae "
        f"{learned.iae_k_s:6.0f} pid {rival.iae_k_s:6.0f} limit {r.limit.least_k_s:6.0f} K s"
    )


def measure() -> dict[str, float]:
    """Fire the kilns; return the figures by their keys in build/bench.json."""
    seeds = DEVELOPMENT if os.environ.get("DEVELOPMENT") else BENCH
    found = results(seeds[: int(os.environ.get("BENCH_KILNS", len(seeds)))])
    return figures(found)


def figures(found: list[Result]) -> dict[str, float]:
    """Boil the results down. Where there is no kiln with a relay of a kind, its figure is left out."""
    told = {
        "control.kilns": float(len(found)),
        "control.fits_refused": float(sum(bool(r.refused) for r in found)),
        "control.rms_k_median": float(np.median([r.learned.rms_k for r in found])),
        "control.iae_vs_best_pid": float(np.median([r.learned.iae_k_s / r.rival.iae_k_s for r in found])),
        "control.iae_vs_limit": float(np.nanmedian([r.limit.own_k_s / r.limit.least_k_s for r in found])),
        "control.kilns_beyond_power": float(sum(r.beyond for r in found)),
        "control.hold_error_k_p95": _p95([r.learned.hold_error_k for r in found]),
        "control.first_firing_overshoot_k_max": max(r.first.overshoot_k for r in found),
    }
    within = [r for r in found if not r.beyond]
    if within:
        ratios = [r.learned.iae_k_s / r.rival.iae_k_s for r in within]
        told["control.iae_vs_best_pid_within_power"] = float(np.median(ratios))
        firsts = [r.first.iae_k_s / r.rival.iae_k_s for r in within]
        told["control.first_firing_iae_vs_best_pid_within_power"] = float(np.median(firsts))
    for kind, contactor in (("ssr", False), ("contactor", True)):
        some = [r for r in found if r.contactor == contactor]
        if some:
            told[f"control.overshoot_k_p95_{kind}"] = _p95([r.learned.overshoot_k for r in some])
            told[f"control.cycles_per_h_{kind}"] = float(np.mean([r.learned.cycles_per_h for r in some]))
    return told


def _p95(values: list[float]) -> float:
    return float(np.percentile(values, 95.0))


if __name__ == "__main__":
    for key, value in measure().items():
        print(f"{key:<40} {value:8.3f}")
