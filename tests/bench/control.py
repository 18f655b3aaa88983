"""How well kilns are controlled: fifty kilns drawn by lot, through the PLA schedule, with three rivals.

Each kiln is fired three times with noise of its own: knowing nothing; then with the model fitted to that
firing; and by `simple-pid` with the best settings that a search finds for this kiln (`tests.bench.rival`).
The fourth is what no control could beat (`tests.bench.limit`), with the same relay; what that relay swings a
hold by, however it is switched, stands beside the hold errors (`tests.bench.ripple`). What overshoot and
hold error are, and what is told apart because nobody heated, is said in `tests.bench.firings`: all are of the
true air.

A firing that the guard ends (where plastic burns so hard that the kiln gets hotter with the heat off, it
takes the relay for welded) has no figures; such kilns are counted in `control.ended_by_guard`.

`make bench ARGS=control` can be broken off and goes on where it was. `BENCH_JOBS=2` computes on two cores.
`BENCH_KILNS=5` takes only the first five. `DEVELOPMENT=1` takes the kilns that control was tried out on.
"""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from controller.control import Plan, Tuning
from controller.forecast.fit import fit
from controller.known_kiln import known_kiln, unknown_kiln
from tests import compiled
from tests.bench import kept
from tests.bench.firings import CutShortError, Quality, fire, quality
from tests.bench.kilns import BENCH, DEVELOPMENT, draw
from tests.bench.limit import Limit, limit
from tests.bench.ripple import ripple_k
from tests.bench.rival import Rival, best_pid

UNHEATED_K = 0.5
"""So much more with than without what nobody heated, and a kiln counts as one that got hotter by itself."""


class Result(NamedTuple):
    """One kiln: its firings, what the fit left, the rival and the limit.

    `ended`: why the guard ended a firing; then there is nothing else. `beyond`: the schedule asks for more
    than its power can do; no control could avoid most of the error. `ripple_k`: the hold error that its relay
    makes by itself (`tests.bench.ripple`).
    """

    seed: int
    contactor: bool
    ended: str
    beyond: bool = False
    first: Quality | None = None
    learned: Quality | None = None
    rival: Rival | None = None
    limit: Limit | None = None
    rms_k: float = 0.0
    refused: str = ""
    ripple_k: float = 0.0


class Whole(NamedTuple):
    """A kiln whose firings all came to their end."""

    contactor: bool
    beyond: bool
    first: Quality
    learned: Quality
    rival: Quality
    limit: Limit
    ripple_k: float


def one(seed: int) -> Result:
    """Fire one kiln with everything."""
    drawn = draw(seed)
    power_w = drawn.parameters.rated_power_w
    unknown = Plan(Tuning(0.03, 900.0), drawn.switching, power_w, kiln=unknown_kiln(power_w), learns=True)
    try:
        first = fire(drawn, unknown, seed)
        fitted = fit(first.curve, power_w, 1)
        kiln = known_kiln(fitted.for_control)
        known = unknown if fitted.refused else Plan(unknown.tuning, unknown.switching, power_w, kiln=kiln)
        learned = fire(drawn, known, seed + 10_000)
    except CutShortError as ended:
        return Result(seed, drawn.contactor, str(ended))
    least = limit(drawn, learned)
    return Result(
        seed,
        drawn.contactor,
        "",
        not least.floor_k_s <= 0.5 * least.own_k_s,  # so with one of which there is no limit
        quality(first),
        quality(learned),
        best_pid(drawn, seed + 10_000),
        least,
        fitted.rms_k,
        fitted.refused,
        ripple_k(drawn, learned),
    )


def results(seeds: Sequence[int]) -> list[Result]:
    """Fire many kilns; print a line for each that was not fired before."""
    found = []
    began_s = time.monotonic()
    for result, before in kept.rows("control", Result, one, seeds):
        if not before:
            print(f"{_line(result)} ({time.monotonic() - began_s:.0f} s)", flush=True)
        found.append(result)
    return sorted(found)


def _line(r: Result) -> str:
    kiln = f"kiln {r.seed:4} {'contactor ' if r.contactor else 'solid-state'}"
    if r.ended or not (r.first and r.learned and r.rival and r.limit):
        return f"{kiln} ended by the guard: {r.ended}"
    first, learned, rival = r.first, r.learned, r.rival.quality
    unheated_k = learned.overshoot_all_told_k - learned.overshoot_k
    return (
        f"{kiln} {'beyond' if r.beyond else '':6} fit {r.rms_k:4.2f} K {r.refused}| first "
        f"{first.overshoot_k:4.2f} (+{first.overshoot_all_told_k - first.overshoot_k:.2f} unheated) K iae "
        f"{first.iae_k_s:6.0f} | rms {learned.rms_k:5.2f} over {learned.overshoot_k:4.2f} (+{unheated_k:.2f})"
        f" hold {learned.hold_error_k:4.2f} (ripple {r.ripple_k:.2f}) K {learned.cycles_per_h:3.0f}/h"
        f" | iae {learned.iae_k_s:6.0f} pid {rival.iae_k_s:6.0f}"
        f" limit {r.limit.relay_k_s:6.0f} floor {r.limit.floor_k_s:6.0f} K s"
    )


def measure() -> dict[str, float]:
    """Fire the kilns; return the figures by their keys in build/bench.json."""
    if not compiled.is_compiled() and (folder := compiled.tree()) is not None:
        compiled.run(folder, "tests.bench.control")  # the same rows, in half the time; here they are read
    return figures(results(asked()))


def asked() -> Sequence[int]:
    """Return the seeds that are to be measured."""
    seeds = DEVELOPMENT if os.environ.get("DEVELOPMENT") else BENCH
    return seeds[: int(os.environ.get("BENCH_KILNS", len(seeds)))]


def figures(found: list[Result]) -> dict[str, float]:
    """Boil the results down. Where there is no kiln with a relay of a kind, its figure is left out."""
    told = {
        "control.kilns": float(len(found)),
        "control.ended_by_guard": float(sum(bool(r.ended) for r in found)),
        "control.fits_refused": float(sum(bool(r.refused) for r in found)),
    }
    all_kilns = whole(found)
    if all_kilns:
        told |= _errors(all_kilns) | _ratios(all_kilns)
    for kind, contactor in (("ssr", False), ("contactor", True)):
        kilns = [r for r in all_kilns if r.contactor == contactor]
        some = [r.learned for r in kilns]
        if some:
            told[f"control.ripple_k_p95_{kind}"] = _p95([r.ripple_k for r in kilns])
            told[f"control.overshoot_k_p95_{kind}"] = _p95([q.overshoot_k for q in some])
            told[f"control.hold_error_k_p95_{kind}"] = _p95([q.hold_error_k for q in some])
            told[f"control.overshoot_all_told_k_p95_{kind}"] = _p95([q.overshoot_all_told_k for q in some])
            told[f"control.cycles_per_h_{kind}"] = float(np.mean([q.cycles_per_h for q in some]))
    return told


def whole(found: list[Result]) -> list[Whole]:
    """Return the kilns of which there are figures."""
    return [
        Whole(r.contactor, r.beyond, r.first, r.learned, r.rival.quality, r.limit, r.ripple_k)
        for r in found
        if r.first and r.learned and r.rival and r.limit
    ]


def _errors(found: list[Whole]) -> dict[str, float]:
    by_itself = [r.learned.overshoot_all_told_k > r.learned.overshoot_k + UNHEATED_K for r in found]
    return {
        "control.kilns_hotter_unheated": float(sum(by_itself)),
        "control.rms_k_median": float(np.median([r.learned.rms_k for r in found])),
        "control.hold_error_k_p95": _p95([r.learned.hold_error_k for r in found]),
        "control.ripple_k_p95": _p95([r.ripple_k for r in found]),
        "control.hold_error_all_told_k_p95": _p95([r.learned.hold_error_all_told_k for r in found]),
        "control.first_firing_overshoot_k_max": max(r.first.overshoot_k for r in found),
        "control.first_firing_overshoot_all_told_k_max": max(r.first.overshoot_all_told_k for r in found),
    }


def _ratios(found: list[Whole]) -> dict[str, float]:
    told = {
        "control.kilns_beyond_power": float(sum(r.beyond for r in found)),
        "control.iae_vs_best_pid": float(np.median([r.learned.iae_k_s / r.rival.iae_k_s for r in found])),
        "control.iae_vs_limit": float(np.nanmedian([r.limit.own_k_s / r.limit.relay_k_s for r in found])),
        "control.limit_vs_best_pid": float(
            np.nanmedian([r.limit.relay_k_s / r.rival.iae_k_s for r in found])
        ),
        "control.iae_vs_floor": float(np.nanmedian([r.limit.own_k_s / r.limit.floor_k_s for r in found])),
    }
    within = [r for r in found if not r.beyond]
    if within:
        ratios = [r.learned.iae_k_s / r.rival.iae_k_s for r in within]
        told["control.iae_vs_best_pid_within_power"] = float(np.median(ratios))
        firsts = [r.first.iae_k_s / r.rival.iae_k_s for r in within]
        told["control.first_firing_iae_vs_best_pid_within_power"] = float(np.median(firsts))
    for kind, contactor in (("ssr", False), ("contactor", True)):
        some = [r for r in within if r.contactor == contactor]
        if some:
            told[f"control.iae_vs_best_pid_within_power_{kind}"] = float(
                np.median([r.learned.iae_k_s / r.rival.iae_k_s for r in some])
            )
            told[f"control.iae_vs_limit_within_power_{kind}"] = float(
                np.nanmedian([r.limit.own_k_s / r.limit.relay_k_s for r in some])
            )
            told[f"control.limit_vs_best_pid_within_power_{kind}"] = float(
                np.nanmedian([r.limit.relay_k_s / r.rival.iae_k_s for r in some])
            )
    return told


def _p95(values: list[float]) -> float:
    return float(np.percentile(values, 95.0))


if __name__ == "__main__":
    results(asked())
