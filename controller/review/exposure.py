"""What the shell went through, in numbers. Pure. By the load where it was measured, else by the air.

rise through   of a span of temperatures: the steepest rise over a quarter of an hour that ended between the
               first moment at its lower end and the first at its upper end, of means over five minutes; or
               the span over its time, if that is steeper. (A mean would only tell of a hold on the way.)
time above     for how long the shell was no colder than a temperature.
heat work      hours at 815 C that would have done the same (physics/sintering.py says how, and how weakly).
at the pour    the last temperature of the last hold that waited for its release.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from controller.physics.constants import GAS_CONSTANT_J_PER_MOL_K, ZERO_C_IN_K
from controller.physics.sintering import ENERGY_J_PER_MOL, REFERENCE_C, WORKS_FROM_C
from controller.record.curve import Curve, Floats
from controller.schedule.model import Checkpoint, Hold, Stage

# Shells crack near 93 C on the way up (common practice, no source): the span around that.
CRACKING_FROM_C, CRACKING_TO_C = 80.0, 100.0
# A rise is measured over a quarter of an hour, as slow as a wall follows; on a grid, of means, against noise.
RISE_S, MEAN_S, GRID_S = 900.0, 300.0, 15.0
# Char burns and the shell begins to sinter from about here (physics/sintering.py).
HOT_C = 500.0
# What happens between: drying; melting out; coming apart; burning char; firing. Common practice, no source.
EDGES_C = (100.0, 200.0, 350.0, 650.0)


@dataclass(frozen=True, slots=True)
class RangeSeen:
    """For how long the shell was between two temperatures (h). None: no end on that side."""

    from_c: float | None
    to_c: float | None
    h: float


def rise_through_c_per_h(curve: Curve, warmth_c: Floats) -> float | None:
    """Return the steepest rise through 80 to 100 C; None: it began hotter, or never came through."""
    known = ~np.isnan(warmth_c)
    t_s, c = curve.t_s[known], warmth_c[known]
    if not len(c) or c[0] >= CRACKING_FROM_C or c.max() < CRACKING_TO_C:
        return None
    from_s, to_s = (float(t_s[(c >= edge).argmax()]) for edge in (CRACKING_FROM_C, CRACKING_TO_C))
    if to_s <= from_s:
        return None
    passed = (CRACKING_TO_C - CRACKING_FROM_C) / (to_s - from_s)
    return 3600 * max(passed, _steepest_k_per_s(t_s, c, from_s, to_s))


def _steepest_k_per_s(t_s: Floats, c: Floats, from_s: float, to_s: float) -> float:
    """Return the steepest rise (K/s) over RISE_S that ended within a stretch of time; 0: there was none."""
    first_s = max(float(t_s[0]), from_s - RISE_S - MEAN_S)
    grid_s = np.arange(first_s, to_s + GRID_S / 2, GRID_S)
    each, window = round(MEAN_S / GRID_S), round(RISE_S / GRID_S)
    even = np.interp(grid_s, t_s, c)
    if len(even) < each + window:
        return 0.0
    means = np.convolve(even, np.full(each, 1 / each), mode="valid")
    return float((means[window:] - means[:-window]).max()) / RISE_S


def heat_work_h(curve: Curve, warmth_c: Floats) -> float:
    """Return the heat work (hours at 815 C), with the typical energy."""
    if len(curve) < 2:
        return 0.0
    c, lasts_s = warmth_c[:-1], np.diff(curve.t_s)
    works = c >= WORKS_FROM_C  # false where nothing was measured
    per_k = ENERGY_J_PER_MOL.typical / GAS_CONSTANT_J_PER_MOL_K
    speed = np.exp(-per_k * (1 / (c[works] + ZERO_C_IN_K) - 1 / (REFERENCE_C + ZERO_C_IN_K)))
    return float((speed * lasts_s[works]).sum()) / 3600


def ranges(curve: Curve, warmth_c: Floats) -> tuple[RangeSeen, ...]:
    """Return the time in each range, from the coldest on; all of them, also those that never were."""
    if len(curve) < 2:
        return ()
    lasts_s, c = np.diff(curve.t_s), warmth_c[:-1]
    edges = (-np.inf, *EDGES_C, np.inf)
    return tuple(
        RangeSeen(
            from_c=None if np.isinf(low) else low,
            to_c=None if np.isinf(high) else high,
            h=float(lasts_s[(c >= low) & (c < high)].sum()) / 3600,
        )
        for low, high in pairwise(edges)
    )


def wait_h(curve: Curve, stages: Sequence[Stage]) -> float | None:
    """Return for how long checkpoints waited for a person, together; None: it came to none."""
    stops = [index for index, stage in enumerate(stages) if isinstance(stage, Checkpoint)]
    waited = np.isin(curve.stage, stops)
    if not waited.any():
        return None
    return float(np.diff(curve.t_s)[waited[:-1]].sum()) / 3600


def pour_c(curve: Curve, warmth_c: Floats, stages: Sequence[Stage]) -> float | None:
    """Return the shell's temperature when it was released for the pour; None: it never came so far."""
    pours = [index for index, stage in enumerate(stages) if isinstance(stage, Hold) and stage.for_s is None]
    there = np.isin(curve.stage, pours) & ~np.isnan(warmth_c)
    return float(warmth_c[there][-1]) if there.any() else None
