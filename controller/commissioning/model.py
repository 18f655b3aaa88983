"""A kiln's first model, a rough one: how fast it rises at full heat, and how long before it answers.

Worked out from one short low heat: a straight line through the later part of the rise (least squares); its
slope, divided by the share of the time that heat was granted, is the rise at full heat; where it meets the
first temperature, counted from the first heat, is the dead time. A kiln still gains speed at that point, so
take the rise as good to a factor of two. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

LATER_PART = 0.3
"""The line is drawn through what lies above this part of the rise: by then the elements are hot."""
LEAST_POINTS = 5
"""Fewer points make no line."""


class Point(NamedTuple):
    """One tick of the low heat: time (s), air (C), whether heat was granted."""

    t_s: float
    air_c: float
    heat: bool


class FirstModel(NamedTuple):
    """`rise_k_per_s`: at full heat. `dead_s`: before the air answers. `heat_share`: 0 to 1, in the test."""

    rise_k_per_s: float
    dead_s: float
    heat_share: float


class FirstTuning(NamedTuple):
    """What the model would have `[control]` and the start of a better model say."""

    gain_per_k: float
    integral_s: float
    heat_capacity_j_per_k: float


def fit(points: Sequence[Point]) -> FirstModel | None:
    """Return the model; None where there is no rise to draw a line through."""
    heated = [i for i, point in enumerate(points) if point.heat]
    if not heated:
        return None
    points = points[heated[0] : heated[-1] + 1]
    from_c, rise_k = points[0].air_c, points[-1].air_c - points[0].air_c
    above_c = from_c + LATER_PART * rise_k
    start = next((i for i, point in enumerate(points) if point.air_c >= above_c), len(points))
    later = points[start:]
    if rise_k <= 0.0 or len(later) < LEAST_POINTS:
        return None
    mean_s = sum(point.t_s for point in later) / len(later)
    mean_c = sum(point.air_c for point in later) / len(later)
    spread = sum((point.t_s - mean_s) ** 2 for point in later)
    slope = sum((point.t_s - mean_s) * (point.air_c - mean_c) for point in later) / spread
    if slope <= 0.0:
        return None
    share = len(heated) / len(points)
    dead_s = mean_s - (mean_c - from_c) / slope - points[0].t_s
    return FirstModel(slope / share, max(0.0, dead_s), share)


def tuning(rise_k_per_s: float, dead_s: float, power_w: float) -> FirstTuning:
    """Return a first tuning by SIMC for an integrating process, with the time wanted equal to the dead time.

    Kc = 1 / (k' (tauc + theta)), tauI = 4 (tauc + theta) (Skogestad, J Process Control 13 (2003) 291), with
    k' the rise at full heat. A dead time below 5 s is taken as 5 s, or the gain would be boundless.
    """
    both_s = 2.0 * max(dead_s, 5.0)
    return FirstTuning(1.0 / (rise_k_per_s * both_s), 4.0 * both_s, power_w / rise_k_per_s)
