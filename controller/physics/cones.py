"""Pyrometric cones as a yardstick of heat work: their published end points, and the energy behind them.

Source of the end points: 'Temperature Equivalents (C), Cone Numbers 022-14', 2016, self-supporting
regular cones, heated at 15, 60 and 150 C per hour over the last 100 C.
"""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple

from controller.physics.constants import GAS_CONSTANT_J_PER_MOL_K, ZERO_C_IN_K


class Cone(NamedTuple):
    """A cone's end points at the three published rates."""

    name: str
    slow_c: float
    medium_c: float
    fast_c: float


SLOW_C_PER_H, MEDIUM_C_PER_H, FAST_C_PER_H = 15.0, 60.0, 150.0
LAST_K = 100.0
"""The published rates hold over the last 100 C; what went before counts for nothing."""

CONES = (
    Cone("019", 656.0, 678.0, 695.0),
    Cone("018", 686.0, 715.0, 734.0),
    Cone("017", 705.0, 738.0, 763.0),
    Cone("016", 742.0, 772.0, 796.0),
    Cone("015", 750.0, 791.0, 818.0),
    Cone("014", 757.0, 807.0, 838.0),
    Cone("010", 891.0, 903.0, 915.0),
    Cone("09", 907.0, 920.0, 930.0),
    Cone("08", 922.0, 942.0, 956.0),
)


def kissinger_j_per_mol(cone: Cone) -> float:
    """Return the energy from the slope of ln(rate / T^2) against 1/T through the three end points."""
    points = [
        (1.0 / (c + ZERO_C_IN_K), log(rate / (c + ZERO_C_IN_K) ** 2))
        for c, rate in zip(cone[1:], (SLOW_C_PER_H, MEDIUM_C_PER_H, FAST_C_PER_H), strict=True)
    ]
    mean_x = sum(x for x, _ in points) / 3.0
    mean_y = sum(y for _, y in points) / 3.0
    slope = sum((x - mean_x) * (y - mean_y) for x, y in points) / sum((x - mean_x) ** 2 for x, _ in points)
    return -slope * GAS_CONSTANT_J_PER_MOL_K


def ramp_work_h(end_c: float, rate_c_per_h: float, j_per_mol: float, reference_c: float) -> float:
    """Return the heat work of the last 100 C of a steady rise, in hours at `reference_c`.

    Integral of exp(-(E/R)(1/T - 1/Tref)) dt by Simpson's rule at 1 K.
    """
    count = int(LAST_K)
    weights = (1.0, *((4.0, 2.0) * (count // 2))[: count - 1], 1.0)
    start_c = end_c - LAST_K
    total = sum(
        weight * speed(start_c + index * LAST_K / count, j_per_mol, reference_c)
        for index, weight in enumerate(weights)
    )
    return total / 3.0 * LAST_K / count / rate_c_per_h


def speed(c: float, j_per_mol: float, reference_c: float) -> float:
    """Return how many times faster heat works at `c` than at `reference_c`."""
    return exp(
        -j_per_mol / GAS_CONSTANT_J_PER_MOL_K * (1.0 / (c + ZERO_C_IN_K) - 1.0 / (reference_c + ZERO_C_IN_K))
    )


def fitted_j_per_mol(one_c: float, one_c_per_h: float, other_c: float, other_c_per_h: float) -> float:
    """Return the energy with which two end points of one cone, the slower first, mean the same heat work."""
    low, high = 50.0e3, 3000.0e3
    for _ in range(60):
        middle = (low + high) / 2.0
        slower = ramp_work_h(one_c, one_c_per_h, middle, one_c)
        faster = ramp_work_h(other_c, other_c_per_h, middle, one_c)
        low, high = (middle, high) if faster < slower else (low, middle)
    return (low + high) / 2.0


def end_point_c(work_h: float, rate_c_per_h: float, j_per_mol: float, reference_c: float) -> float:
    """Return where a steady rise has done so much heat work: a cone's end point at another rate."""
    low, high = reference_c - 300.0, reference_c + 300.0
    for _ in range(50):
        middle = (low + high) / 2.0
        done = ramp_work_h(middle, rate_c_per_h, j_per_mol, reference_c)
        low, high = (middle, high) if done < work_h else (low, middle)
    return (low + high) / 2.0
