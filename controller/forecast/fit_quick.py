"""The kiln's quick numbers, fitted tick by tick: what happens within a relay's own rounds.

`fit` looks at a firing every 15 s. What is quicker (the thermocouple's lag, the dead time, how soon the
elements' heat is in the chamber) it can only guess, and feedback lives by just that. Here windows of some
minutes, in which the relay switched, are run tick by tick. What is slow was found by `fit` and stays; what
it missed is no part of this: a cubic in time is taken out of each window's residual, water, fire and all.

Every other window is left out of the fit and only used to judge it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import least_squares

from controller.forecast.by_columns import ByColumns
from controller.forecast.samples import EVERY_S, Floats, Samples
from controller.physics.grey import GreyKiln, GreyState, at_rest, step, typical
from controller.record.curve import Curve

QUICK = ("elements_j_per_k", "elements_m2", "sees_elements", "probe_s", "dead_s", "chamber_j_per_k")
SPREAD = (0.6, 0.6, 0.7, 0.7, 0.7, 0.15)
"""How far each may be from the typical kiln's (the chamber's: from what `fit` found): one standard deviation
of its logarithm. Wider than `fit` believes, since here the record says more."""
WINDOW_S, LEAD_S, WINDOWS = 600.0, 180.0, 32
"""A window is long beside the elements' lag of one to three minutes, and short beside the lining's hours.
It is begun earlier, so that the elements are as hot as they were when it counts."""
LEAST_WINDOWS = 8
SLOWEST_TICK_S = 5.0
"""A record with longer ticks says nothing of what is quick."""
LEAST_SWITCHING = 0.02
"""Share of heat times share of none: where the relay hardly switched, nothing quick can be seen."""
LEFT_K = 0.75
"""What is expected to be left of the air (0.15 K of noise), times the root of the rows that hang together."""


class Windows(NamedTuple):
    """Stretches of a record, a column each. `t_s`: a row for each tick and one more; `air_c`: the rows
    that count, the last ones. `began`: the kiln at the first row."""

    dt_s: float
    t_s: Floats
    air_c: Floats
    began: GreyState


def quick_numbers(kiln: GreyKiln, curve: Curve, seen: Samples) -> GreyKiln | None:
    """Return the kiln with its quick numbers fitted anew; None, where the record says no better."""
    windows = _windows(kiln, curve, seen)
    if windows is None:
        return None
    places = np.arange(windows.t_s.shape[1])
    problem = Problem(kiln, _some(windows, places % 2 == 0), seen)
    solved = least_squares(
        problem.off,
        problem.centre,
        problem.derivatives,
        bounds=(problem.centre - 2.0, problem.centre + 2.0),
        loss="soft_l1",
        f_scale=2.0,
        max_nfev=15,
    )
    found = _with(kiln, np.exp(solved.x))
    judges = Problem(kiln, _some(windows, places % 2 == 1), seen)
    return found if judges.missed_k(found) < judges.missed_k(kiln) else None


class Problem(ByColumns):
    """The residuals and their derivatives, for scipy: the unknowns are logarithms."""

    def __init__(self, kiln: GreyKiln, windows: Windows, seen: Samples) -> None:
        super().__init__(np.full(len(QUICK), 1e-3))
        self.kiln, self.windows, self.seen = kiln, windows, seen
        typically = typical(kiln.power_w)._replace(chamber_j_per_k=kiln.chamber_j_per_k)
        self.centre = np.log([getattr(typically, name) for name in QUICK])
        rows = len(windows.air_c)
        self.slow, _ = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, rows), 4))

    def missed(self, kilns: GreyKiln, count: int) -> Floats:
        """Return what is left of the air (K), without what is slow: (rows, kilns, windows)."""
        off = _run(kilns, count, self.windows, self.seen) - self.windows.air_c[:, None, :]
        flat = off.reshape(len(off), -1)
        return np.asarray((flat - self.slow @ (self.slow.T @ flat)).reshape(off.shape))

    def missed_k(self, kiln: GreyKiln) -> float:
        """Return the same of one kiln, RMS."""
        own = np.array([getattr(kiln, name) for name in QUICK])[:, None, None]
        return float(np.sqrt(np.mean(self.missed(_with(kiln, own), 1) ** 2)))

    def residuals(self, columns: Floats) -> Floats:
        """Return a column of residuals for each column of unknowns, each over its standard deviation."""
        count = columns.shape[1]
        values = np.exp(columns)[:, :, None]
        left = self.missed(_with(self.kiln, values), count) / LEFT_K
        prior = (columns - self.centre[:, None]) / np.array(SPREAD)[:, None]
        return np.concatenate((left.transpose(0, 2, 1).reshape(-1, count), prior))


def _with(kiln: GreyKiln, values: Floats) -> GreyKiln:
    """Return a kiln, or many, with other quick numbers. More of the elements' surface convects more."""
    many = kiln._replace(**dict(zip(QUICK, values, strict=True)))
    return many._replace(elements_w_per_k=kiln.elements_w_per_k * many.elements_m2 / kiln.elements_m2)


def _windows(kiln: GreyKiln, curve: Curve, seen: Samples) -> Windows | None:
    """Choose windows evenly from those that say something; None: there are too few."""
    dt_s = float(np.median(np.diff(curve.t_s)))
    if not 0.0 < dt_s <= SLOWEST_TICK_S:
        return None
    rows, lead = int(WINDOW_S / dt_s), int(LEAD_S / dt_s)
    firsts = np.arange(0, len(curve) - rows - lead - 1, rows)
    told = np.array([_tells(curve, int(first), lead, rows, dt_s) for first in firsts], dtype=np.bool_)
    if told.sum() < LEAST_WINDOWS:
        return None
    firsts = firsts[told]
    firsts = firsts[np.unique(np.linspace(0, len(firsts) - 1, WINDOWS).astype(int))]
    place = firsts + np.arange(lead + rows + 1)[:, None]
    began = _states(kiln, seen)[(curve.t_s[firsts] / EVERY_S).astype(int)]
    return Windows(dt_s, curve.t_s[place], curve.air_c[place[lead + 1 :]], GreyState(*began.T))


def _tells(curve: Curve, first: int, lead: int, rows: int, dt_s: float) -> bool:
    """Whether a window is whole, and the relay switched in it."""
    whole = slice(first, first + lead + rows + 1)
    on = float(curve.heat_on[whole].mean())
    even = curve.t_s[whole.stop - 1] - curve.t_s[first] < 1.02 * dt_s * (lead + rows)
    return bool(even and on * (1.0 - on) > LEAST_SWITCHING and not np.isnan(curve.air_c[whole]).any())


def _some(windows: Windows, which: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Windows:
    began = GreyState(*(value[which] for value in windows.began))
    return Windows(windows.dt_s, windows.t_s[:, which], windows.air_c[:, which], began)


def _states(kiln: GreyKiln, seen: Samples) -> Floats:
    """Return the kiln's states through the firing, a row every `EVERY_S`."""
    given_s = np.interp(seen.t_s - kiln.dead_s, seen.ticks_s, seen.heat_s)
    state = at_rest(float(seen.air_c[~np.isnan(seen.air_c)][0]))
    states = [state]
    for power_w in (kiln.power_w * np.diff(given_s) / EVERY_S).tolist():
        state = step(state, kiln, power_w, EVERY_S)
        states.append(state)
    return np.array(states)


def _run(kilns: GreyKiln, count: int, windows: Windows, seen: Samples) -> Floats:
    """Run `count` kilns through every window; return the air (C) where it counts: (rows, kilns, windows)."""
    ticks, number = windows.t_s.shape
    ends_s = windows.t_s[:, None, :] - np.asarray(kilns.dead_s)
    given_s = np.interp(ends_s.ravel(), seen.ticks_s, seen.heat_s).reshape(ends_s.shape)
    power_w = kilns.power_w * np.diff(given_s, axis=0) / windows.dt_s
    state = GreyState(*(np.broadcast_to(value, (count, number)) for value in windows.began))
    air = np.empty((ticks - 1, count, number))
    for n in range(ticks - 1):
        state = step(state, kilns, power_w[n], windows.dt_s)
        air[n] = state.probe_c
    return air[-len(windows.air_c) :]
