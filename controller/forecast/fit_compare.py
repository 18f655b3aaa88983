"""Whether a new fit may take the place of the model in use: both are held to the newest firing.

Each kiln is run through that firing as it is, with nothing fitted but the heat of unknown course (water,
plastic). On the stretches that a fit does not use, the air is held against what was measured, as in a fit:
its level, and its change within a minute, which is what feed-forward lives by. How much of that unknown heat
it takes counts as well, over what is believed of it: a fire that never burnt would excuse a false kiln.

The new model was fitted to this very firing and the old one was not, so a good fit wins. One that does not
has gone astray, and the old one stays.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from scipy.optimize import least_squares

from controller.forecast.fit import CHANGE_K, CHANGE_ROWS, LEVEL_K, Problem, simulate
from controller.forecast.models import FREE, FittedKiln
from controller.forecast.samples import Floats, samples
from controller.physics.grey import GreyKiln
from controller.record.curve import Curve

WORSE = 1.1
"""A new model may miss by so much more than the old one: noise tells two good ones no better apart."""


class Missed(NamedTuple):
    """What a kiln misses where it was not fitted (RMS): the air's level, and its change in a minute, K.

    `unknown_w`: the heat (RMS) that is not the kiln's; `unknown`: the same, over what is believed of it.
    """

    level_k: float
    change_k: float
    unknown_w: float
    unknown: float

    @property
    def score(self) -> float:
        """All of it, each over what is expected."""
        return math.hypot(self.level_k / LEVEL_K, self.change_k / CHANGE_K, self.unknown)


def missed(kiln: GreyKiln, curve: Curve) -> Missed:
    """Return what a kiln misses of a firing. The firing must be long enough to learn from."""
    problem = Problem(samples(curve), kiln.power_w, kiln.room_c)
    known = np.log([getattr(kiln, name) for name in FREE])

    def columns(hats: Floats) -> Floats:
        return np.vstack((np.repeat(known[:, None], hats.shape[1], axis=1), hats))

    def residuals(hats: Floats) -> Floats:
        return problem.residuals(columns(hats[:, None]))[:, 0]

    def derivatives(hats: Floats) -> Floats:
        step = 1e-4
        both = problem.residuals(columns(np.column_stack([hats, hats[:, None] + step * np.eye(len(hats))])))
        return np.asarray((both[:, 1:] - both[:, :1]) / step)

    solved = least_squares(
        residuals, np.zeros(problem.hats), derivatives, loss="soft_l1", f_scale=2.0, max_nfev=8, ftol=1e-3
    )
    heat = problem.unknown
    extra = heat.line @ solved.x
    air, _ = simulate(problem.kilns(columns(solved.x[:, None])), problem.seen, extra[:, None])
    off = air[:, 0] - problem.seen.air_c
    change = off[CHANGE_ROWS:] - off[:-CHANGE_ROWS]
    out = problem.held_out
    return Missed(
        _rms(off[out]),
        _rms(change[out[CHANGE_ROWS:] & out[:-CHANGE_ROWS]]),
        _rms(extra) * kiln.power_w,
        _rms(extra / (heat.line @ heat.believed)),
    )


def compared(new: FittedKiln, old: FittedKiln, curve: Curve) -> FittedKiln:
    """Return the new fit, refused where it misses the firing by more than the old model does."""
    if new.refused:
        return new
    by_new, by_old = missed(new.kiln, curve), missed(old.kiln, curve)
    if by_new.score <= WORSE * by_old.score:
        return new
    return new.judged(
        f"where it was not fitted it misses the air by {_words(by_new)}; "
        f"the model of firing {old.firing} only by {_words(by_old)}"
    )


def _words(by: Missed) -> str:
    missed_k = f"{by.level_k:.2f} K and its change in a minute by {by.change_k:.2f} K (RMS)"
    return f"{missed_k}, with {by.unknown_w:.0f} W that is not the kiln's"


def _rms(off: Floats) -> float:
    known = off[~np.isnan(off)]
    return float(np.sqrt(np.mean(known * known))) if len(known) else math.nan
