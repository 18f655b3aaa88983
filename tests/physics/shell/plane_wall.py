"""The plane wall's exact series, by scipy: what our wall is checked against.

theta = sum C_n exp(-zeta_n^2 Fo) cos(zeta_n x/L), zeta tan zeta = Bi, C_n = 4 sin zeta / (2 zeta + sin 2
zeta): Incropera and others, Fundamentals of Heat and Mass Transfer, section 5.5.
"""

from __future__ import annotations

from itertools import pairwise
from math import cos, exp, pi, sin, tan
from typing import NamedTuple

from scipy.optimize import brentq

from controller.physics.curve import constant
from controller.physics.wall import Outside, Wall, even_wall, heat_wall, inner_face_c, outer_face_c

TERMS = 40


class Cooled(NamedTuple):
    """Of the first difference of temperature, what is left at each face; of the heat, what has gone."""

    inner: float
    outer: float
    gone: float


def roots(biot: float, terms: int = TERMS) -> list[float]:
    """Return the first roots of zeta tan zeta = Bi."""
    edges = [(n * pi, n * pi + pi / 2.0) for n in range(terms)]
    return [float(brentq(lambda z: z * tan(z) - biot, low + 1e-12, high - 1e-12)) for low, high in edges]


def series(biot: float, fourier: float) -> Cooled:
    """Return the exact solution."""
    inner = outer = kept = 0.0
    for zeta in roots(biot):
        term = 4.0 * sin(zeta) / (2.0 * zeta + sin(2.0 * zeta)) * exp(-(zeta**2) * fourier)
        inner += term
        outer += term * cos(zeta)
        kept += term * sin(zeta) / zeta
    return Cooled(inner, outer, 1.0 - kept)


def ours(
    biot: float, fourier: float, cells: int, steps: int, thickness_m: float = 0.009, first_k: float = 1.0
) -> Cooled:
    """Return what our wall makes of the same, told as parts of `first_k`."""
    k, heat = 0.85, 1.5e6
    wall = Wall(thickness_m, constant(k), constant(heat))
    outside = Outside(0.0, biot * k / thickness_m)
    total_s = fourier * thickness_m**2 * heat / k
    wall_c, gone = even_wall(first_k, cells), 0.0
    for _ in range(steps):
        after = heat_wall(wall_c, wall, outside, total_s / steps)
        wall_c = after.cells_c
        gone -= after.got_j_per_m2
    stored = heat * thickness_m * first_k
    return Cooled(
        inner_face_c(wall_c) / first_k, outer_face_c(wall_c, wall, outside) / first_k, gone / stored
    )


def steps_of_a_tick(fourier: float, tick_s: float = 1.0, thickness_m: float = 0.009) -> int:
    """Return how many ticks the live estimate takes for so much time."""
    return round(fourier * thickness_m**2 * 1.5e6 / 0.85 / tick_s)


def falls_by(errors: list[float]) -> list[float]:
    """Return how many times each error is smaller than the one before."""
    return [before / after for before, after in pairwise(errors)]
