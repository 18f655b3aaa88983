"""Fits the grey-box kiln to a firing's record, by least squares, and tells how well it fits.

The kiln is run through the whole firing with the heat that was given, and its air and load are held
against what was measured. What counts is the level (it fixes what is lost) and the change within a
minute (it fixes what is quick). Water that boils off and plastic that burns are no part of the kiln:
they are let into the fit as a heat of unknown course (`unknown_heat`), held small, and thrown away after it.

Some stretches are left out of the fit and only used to judge it. Runs beside the controller, never in it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import least_squares

from controller.errors import UsageError
from controller.forecast.by_columns import ByColumns
from controller.forecast.fit_limits import too_little, why_refused
from controller.forecast.fit_quick import quick_numbers
from controller.forecast.models import FREE, FittedKiln
from controller.forecast.samples import EVERY_S, Floats, Samples, samples
from controller.forecast.unknown_heat import MOST_PART, unknown_heat
from controller.physics.grey import GreyKiln, GreyState, at_rest, step, typical
from controller.record.curve import Curve

LEVEL_K, LOAD_K, CHANGE_K = 5.0, 30.0, 0.3
"""What is expected to be left of air, of load, and of a minute's change in the air, one standard deviation
each, times the root of the rows that hang together (20, 20 and 4): neighbours tell no more than one. The load
is mostly a thermocouple somewhere near a shell: it is believed less."""
CHANGE_ROWS = 4
"""A minute."""
HELD_OUT_EVERY_S, HELD_OUT_S = 7800.0, 1200.0
"""So often, for so long, the record is only used to judge the fit."""
PRIOR = dict.fromkeys(FREE, 0.6) | {
    "elements_j_per_k": 0.3,
    "elements_w_per_k": 0.3,
    "elements_m2": 0.3,
    "sees_elements": 0.5,
    "probe_s": 0.5,
    "dead_s": 0.5,
}
"""How far a kiln's numbers may be from the typical kiln's of that power: one standard deviation of their
logarithm. They hold what the record says little of. The elements are held more: wire is loaded much alike
everywhere, W for each m2 of its surface (common practice, no source)."""


def simulate(kilns: GreyKiln, seen: Samples, unknown: Floats) -> tuple[Floats, Floats]:
    """Run kilns through a firing; return air and load (C), a row a time. Every field is an array.

    `unknown`: the heat of unknown course, as a part of full power, a row a time.
    """
    dead_s = np.asarray(kilns.dead_s)
    ends_s = seen.t_s[:, None] - dead_s
    given_s = np.interp(ends_s.ravel(), seen.ticks_s, seen.heat_s).reshape(ends_s.shape)
    power_w = kilns.power_w * np.diff(given_s, axis=0) / EVERY_S
    extra_w = kilns.power_w * unknown
    start_c = float(seen.air_c[~np.isnan(seen.air_c)][0]) + 0.0 * dead_s
    state: GreyState = at_rest(start_c)  # type: ignore[arg-type]
    air = np.empty((len(seen.t_s), len(dead_s)))
    load = np.empty_like(air)
    air[0] = load[0] = start_c
    for n in range(len(power_w)):
        state = step(state, kilns, power_w[n], EVERY_S, extra_w[n])
        air[n + 1], load[n + 1] = state.probe_c, state.load_c
    return air, load


class Problem(ByColumns):
    """The residuals and their derivatives, for scipy: the unknowns are logarithms, then the hats."""

    def __init__(self, seen: Samples, power_w: float, room_c: float) -> None:
        self.seen = seen
        self.start = typical(power_w)._replace(room_c=room_c)
        self.held_out = (seen.t_s % HELD_OUT_EVERY_S) > HELD_OUT_EVERY_S - HELD_OUT_S
        self.unknown = unknown_heat(seen.t_s, seen.air_c)
        self.hats = len(self.unknown.at_s)
        self.centre = np.log([getattr(self.start, name) for name in FREE])
        self.spread = np.array([PRIOR[name] for name in FREE])
        has_load = bool((~np.isnan(seen.load_c)).mean() > 0.5)
        use = ~self.held_out
        self.air_rows = np.flatnonzero(~np.isnan(seen.air_c) & use)
        self.load_rows = np.flatnonzero(~np.isnan(seen.load_c) & use)[::4] if has_load else np.array([], int)
        after = self.air_rows + CHANGE_ROWS
        known = set(self.air_rows.tolist())
        self.change_rows = np.array([n for n, m in zip(self.air_rows, after, strict=True) if m in known])
        count = len(FREE) + self.hats
        super().__init__(np.where(np.arange(count) < len(FREE), 1e-3, 1e-4))

    def kilns(self, columns: Floats) -> GreyKiln:
        """Return the kilns of many columns of unknowns."""
        values = np.exp(columns[: len(FREE)])
        return self.start._replace(**dict(zip(FREE, values, strict=True)))

    def residuals(self, columns: Floats) -> Floats:
        """Return a column of residuals for each column of unknowns, each over its standard deviation."""
        hats = columns[len(FREE) :]
        air, load = simulate(self.kilns(columns), self.seen, self.unknown.line @ hats)
        off = air - self.seen.air_c[:, None]
        off_load = load - self.seen.load_c[:, None]
        rows = self.change_rows
        return np.concatenate(
            (
                off[self.air_rows] / LEVEL_K,
                off_load[self.load_rows] / LOAD_K,
                (off[rows + CHANGE_ROWS] - off[rows]) / CHANGE_K,
                (columns[: len(FREE)] - self.centre[:, None]) / self.spread[:, None],
                hats / self.unknown.believed[:, None],
            )
        )


def fit(curve: Curve, power_w: float, firing: int) -> FittedKiln:
    """Fit a kiln of `power_w` to one firing. Raises UsageError where the record is too little to go by.

    A fit that is bad is returned with the reason in `refused`.
    """
    why = too_little(curve)
    if why:
        raise UsageError(f"firing {firing}: {why}")
    seen = samples(curve)
    room_c = float(np.nanmin(seen.air_c[: max(1, int(600 / EVERY_S))]))
    problem = Problem(seen, power_w, min(room_c, 40.0))
    unknowns = np.concatenate((problem.centre, np.zeros(problem.hats)))
    low = np.concatenate((problem.centre - 2.5, -problem.unknown.most_taken))
    high = np.concatenate((problem.centre + 2.5, np.full(problem.hats, MOST_PART)))
    solved = least_squares(
        problem.off,
        unknowns,
        problem.derivatives,
        bounds=(low, high),
        loss="soft_l1",
        f_scale=2.0,
        max_nfev=30,
        ftol=3e-4,
        xtol=1e-4,
    )
    fitted = _fitted(problem, solved.x, firing)
    return replace(fitted, quick=quick_numbers(fitted.kiln, curve, seen))


def _fitted(problem: Problem, unknowns: Floats, firing: int) -> FittedKiln:
    """Judge what was found."""
    column = unknowns[:, None]
    kiln = problem.kilns(unknowns)
    extra, fire = problem.unknown.line @ column[len(FREE) :], problem.unknown.fire
    air, _ = simulate(problem.kilns(column), problem.seen, extra)
    off = air[:, 0] - problem.seen.air_c
    known = ~np.isnan(off)
    out = problem.held_out & known
    jac = problem.derivatives(unknowns)
    covariance = np.linalg.pinv(jac.T @ jac)
    fitted = FittedKiln(
        kiln=GreyKiln(*(float(value) for value in kiln)),
        covariance=tuple(tuple(float(v) for v in row[: len(FREE)]) for row in covariance[: len(FREE)]),
        firing=firing,
        span_h=float(problem.seen.t_s[-1]) / 3600.0,
        lowest_c=float(np.nanmin(problem.seen.air_c)),
        highest_c=float(np.nanmax(problem.seen.air_c)),
        rms_k=_rms(off[known & ~problem.held_out]),
        held_out_rms_k=_rms(off[out]) if out.any() else math.nan,
        unknown_w=_rms(extra[~fire]) * problem.start.power_w if not fire.all() else 0.0,
        fire_part=float(np.abs(extra[fire]).sum()) * EVERY_S / float(problem.seen.heat_s[-1]),
        refused="",
    )
    return fitted.judged(why_refused(fitted))


def _rms(off: Floats) -> float:
    return float(np.sqrt(np.mean(off * off)))
