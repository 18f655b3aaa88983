"""How good a forecast is, on kilns drawn by lot, after one firing with another load.

Each kiln is fired once and fitted; then another shell goes in, of another mass, with other water and
plastic, weighed by its owner on a kitchen scale. Forecast at the start, and again two hours before the pour
is ready, and held against what the simulated kiln then does. The plant's shell (`physics.matter`) is not the
forecast's (`physics.water`), but both come from one hand: this says how well the forecast knows a kiln,
not how well the equations know a real shell. The plant's shell dries as fast whatever its area, so the
area is varied by a quarter only, and the wall's thickness by more.

BENCH_KILNS limits how many kilns are drawn. The development set is for trying things out; the bench's own
kilns are only ever measured.
"""

from __future__ import annotations

import os
import random
import sys
from dataclasses import replace
from time import perf_counter
from typing import NamedTuple

import numpy as np

from controller.control import Plan, Tuning
from controller.errors import UsageError
from controller.forecast.fit import fit
from controller.forecast.forecast import Forecast, forecast
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import KilnKnown, fitted_kiln, unknown_kiln
from controller.forecast.known import known
from controller.forecast.load_fit import with_load
from controller.forecast.models import FREE
from controller.forecast.past import seen_of
from controller.forecast.renew import Now, renew
from controller.forecast.run import pour_stage
from controller.physics.grey import holding_power_w, typical
from controller.record.curve import Curve
from tests.bench.firings import SCHEDULE, fire
from tests.bench.kilns import BENCH, DEVELOPMENT, DrawnKiln, draw

FULL_RATE_C_PER_H = 300.0
TICK_S = 2.0
BEFORE_S = 2 * 3600.0
SCALE_PART, UNEVEN_PART = 0.01, 0.05
"""How far the owner's scale and calliper are off, at most."""

WALL_M = 0.008
"""The first shell's wall: what the simulated one stands for (`KilnParameters.load_w_per_k`)."""

ROUNDS = 5


class Result(NamedTuple):
    """One kiln: how far off the hour of the pour was, and whether the band held it."""

    seed: int
    lasts_s: float
    error_s: float
    held: bool
    width_s: float
    error_2h_s: float
    held_2h: bool
    fitted: bool
    unlearnt_error_s: float


def plan_for(drawn: DrawnKiln) -> Plan:
    """Return a plain control for a kiln of which only the power is known."""
    power_w = drawn.parameters.rated_power_w
    kiln = typical(power_w)
    loss = holding_power_w(kiln, 520.0) / 500.0
    return Plan(Tuning(0.03, 900.0), drawn.switching, power_w, kiln.chamber_j_per_k, 0.5 * loss, drawn.room_c)


def another_load(drawn: DrawnKiln) -> tuple[DrawnKiln, float]:
    """Return the kiln with another shell on the same shelf, and its wall's thickness over the first one's.

    The wall is 0.7 to 1.4 times as thick, its area 0.8 to 1.25 times as large: 0.56 to 1.75 times the mass.
    """
    lot = random.Random(f"load {drawn.seed}")
    thick, area = 0.7 * 2.0 ** lot.random(), 0.8 * 1.5625 ** lot.random()
    size = thick * area
    p = drawn.parameters
    parameters = replace(
        p,
        load_outer_j_per_k=p.load_outer_j_per_k + (size - 1.0) * p.load_core_j_per_k,
        load_core_j_per_k=p.load_core_j_per_k * size,
        load_air_w_per_k=p.load_air_w_per_k * area,
        lining_load_m2=p.lining_load_m2 * area,
        load_w_per_k=p.load_w_per_k * area / thick,
    )
    water = drawn.water_kg * size * lot.uniform(0.5, 1.5)
    plastic = drawn.plastic_kg * size * lot.uniform(0.5, 1.5)
    return replace(drawn, parameters=parameters, water_kg=water, plastic_kg=plastic), thick


def weighed(drawn: DrawnKiln, thick: float = 1.0) -> JobSheet:
    """Return the job sheet of a shell, weighed and measured. The simulated shell has 1000 J/(kg K)."""
    lot = random.Random(f"scale {drawn.seed} {drawn.water_kg}")
    scale = 1.0 + lot.uniform(-SCALE_PART, SCALE_PART)
    dry_kg = 2.0 * drawn.parameters.load_core_j_per_k / 1000.0 * scale
    wet_kg = dry_kg + drawn.water_kg * scale
    wall_m = WALL_M * thick * (1.0 + lot.uniform(-UNEVEN_PART, UNEVEN_PART))
    return JobSheet(
        dry_kg=dry_kg, wet_kg=wet_kg, thickness_m=wall_m, pattern_kg=drawn.plastic_kg, mould="silica shell"
    )


def ready_s(curve: Curve) -> float:
    """Return when the pour's hold was in its band at first, in the record."""
    pour = pour_stage(SCHEDULE)
    assert pour is not None
    stage = SCHEDULE.stages[pour]
    in_band = np.abs(curve.load_c - stage.at_c) <= stage.band_k  # type: ignore[union-attr]
    return float(curve.t_s[np.flatnonzero((curve.stage == pour) & in_band)[0]])


def learnt(drawn: DrawnKiln) -> tuple[KilnKnown, bool]:
    """Fire a kiln once and fit it; a fit that is refused leaves what was known before."""
    power_w = drawn.parameters.rated_power_w
    first = fire(drawn, plan_for(drawn), drawn.seed, TICK_S)[0]
    try:
        fitted = fit(first, power_w, 1)
    except UsageError:
        return unknown_kiln(power_w), False
    if fitted.refused:
        return unknown_kiln(power_w), False
    sheet = weighed(drawn)
    return with_load(fitted_kiln(fitted, FREE), known(sheet), seen_of(first)), True


def measured(seed: int) -> Result:
    """Measure one kiln."""
    drawn = draw(seed)
    kiln, was_fitted = learnt(drawn)
    second, thick = another_load(drawn)
    sheet = weighed(second, thick)
    before = forecast(SCHEDULE, sheet, kiln, FULL_RATE_C_PER_H, room_c=second.room_c)
    unknown = unknown_kiln(drawn.parameters.rated_power_w)
    unlearnt = forecast(SCHEDULE, sheet, unknown, FULL_RATE_C_PER_H, room_c=second.room_c)
    curve = fire(second, plan_for(second), seed + 1, TICK_S)[0]
    truth_s = ready_s(curve)
    late = renewed(curve, truth_s - BEFORE_S, sheet, kiln)
    assert before.ready_s is not None
    assert late.ready_s is not None
    assert unlearnt.ready_s is not None
    return Result(
        seed,
        truth_s,
        before.ready_s.typical - truth_s,
        before.ready_s.low <= truth_s <= before.ready_s.high,
        before.ready_s.high - before.ready_s.low,
        late.ready_s.typical - BEFORE_S,
        late.ready_s.low <= BEFORE_S <= late.ready_s.high,
        was_fitted,
        unlearnt.ready_s.typical - truth_s,
    )


def renewed(curve: Curve, at_s: float, sheet: JobSheet, kiln: KilnKnown) -> Forecast:
    """Return the forecast as it would have been made at a time of the record."""
    past = curve.rows(curve.t_s <= at_s)
    stage = int(past.stage[-1])
    return renew(SCHEDULE, sheet, kiln, FULL_RATE_C_PER_H, seen_of(past), now_at(past, stage))


def now_at(past: Curve, stage: int) -> Now:
    """Return where the firing was, with its stage's clock as the firing counts it."""
    of, here = SCHEDULE.stages[stage], past.stage == stage
    if of.kind == "hold":
        here &= np.abs(past.load_c - of.at_c) <= of.band_k  # type: ignore[union-attr]
    setpoint_c = float(past.setpoint_c[-1])
    return Now(stage, float(here.sum()) * TICK_S, None if np.isnan(setpoint_c) else setpoint_c)


def time_s() -> float:
    """Return what the forecast of the PLA schedule takes with its band: the median of rounds."""
    took = []
    for _ in range(ROUNDS):
        began_s = perf_counter()
        forecast(SCHEDULE, JobSheet(dry_kg=3.0, wet_kg=3.3, pattern_kg=0.4), unknown_kiln(6500.0), 300.0)
        took.append(perf_counter() - began_s)
    return sorted(took)[ROUNDS // 2]


def figures(results: list[Result]) -> dict[str, float]:
    """Return the figures by their keys in build/bench.json."""
    part = np.array([100.0 * abs(result.error_s) / result.lasts_s for result in results])
    late_min = np.array([abs(result.error_2h_s) / 60.0 for result in results])
    held = [result.held for result in results] + [result.held_2h for result in results]
    return {
        "forecast.pour_error_pct_p95": float(np.percentile(part, 95)),
        "forecast.pour_error_min_2h_before_p95": float(np.percentile(late_min, 95)),
        "forecast.band_coverage_pct": 100.0 * float(np.mean(held)),
        "forecast.band_coverage_start_pct": 100.0 * float(np.mean([result.held for result in results])),
        "forecast.fits_refused": float(sum(not result.fitted for result in results)),
        "forecast.kilns": float(len(results)),
    }


def measure(seeds: tuple[int, ...] = BENCH) -> dict[str, float]:
    """Measure the drawn kilns, as many as BENCH_KILNS says."""
    count = int(os.environ.get("BENCH_KILNS", len(seeds)))
    results = []
    for seed in seeds[:count]:
        results.append(measured(seed))
        print(tell(results[-1]), flush=True)
    return {**figures(results), "forecast.time_s": time_s()}


def tell(result: Result) -> str:
    """Return one kiln's line."""
    return (
        f"kiln {result.seed:5d}  {result.lasts_s / 3600:5.1f} h  off {result.error_s / 60:+6.1f} min"
        f" ({100 * result.error_s / result.lasts_s:+5.1f} %) {'in ' if result.held else 'OUT'} band of "
        f"{result.width_s / 60:4.0f} min   2 h before {result.error_2h_s / 60:+5.1f} min"
        f" {'in ' if result.held_2h else 'OUT'}   unlearnt {result.unlearnt_error_s / 60:+6.1f} min"
        f"{'' if result.fitted else '   FIT REFUSED'}"
    )


if __name__ == "__main__":
    for key, value in measure(DEVELOPMENT if "development" in sys.argv[1:] else BENCH).items():
        print(f"{key:42} {value:10.3f}")
