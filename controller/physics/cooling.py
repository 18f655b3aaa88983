"""Out of the kiln: how fast the shell cools in the hand, in air and bedded in sand; the pour window.

The shell is taken as one temperature (its thickness evens out in some 20 s), its outer face radiates and
convects, its cavity sees only itself. The cavity's face lags behind: every time here is good to +-40 %,
and `pour_window_s` says so by its band. Measure it once on your own shell.
"""

from __future__ import annotations

from math import erfc, exp, pi, sqrt
from typing import Literal, NamedTuple

from controller.physics.band import Band
from controller.physics.constants import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_C_IN_K
from controller.physics.curve import constant
from controller.physics.silica import EMISSIVITY
from controller.physics.wall import PINNED_W_PER_M2_K, Body, Outside, Wall, even_wall, heat_wall

Place = Literal["in the hand", "in air", "bedded in sand"]
PLACES: tuple[Place, ...] = ("in the hand", "in air", "bedded in sand")

CONVECTION_W_PER_M2_K: dict[Place, tuple[float, float, float]] = {
    "in the hand": (20.0, 15.0, 10.0),
    "in air": (15.0, 10.0, 6.0),
    "bedded in sand": (15.0, 10.0, 6.0),
}
"""Convection, for a cooling that is quick, typical, slow: carried through air it is stronger; from memory."""

BEDDED_PART = (0.4, 0.6, 0.8)
"""Part of the outer face that lies in sand, low, typical, high; the rest is in air. Chosen."""

SAND_EFFUSIVITY = (750.0, 550.0, 400.0)
"""sqrt(k rho c) of dry sand, W s^0.5/(m2 K), quick, typical, slow; 600 is 0.3 W/(m K), 1500 kg/m3 and 800
J/(kg K). From memory, weak.
"""

SHELL_J_PER_KG_K = 1000.0
"""Between 500 and 815 C; the handbook's brick has 930 to 965 (VDI Heat Atlas), a slurry's alumina more."""

LUMP_PART = 0.4
"""The cavity's face lags behind the lump: times are good to 40 % either way; worked out, rough."""

SAND_J_PER_M3_K = 1.2e6
"""Dry sand, 1500 kg/m3 and 800 J/(kg K); from memory. Only the effusivity counts while the sand is deep."""

SAND_M = 0.12
SAND_CELLS = 120
"""So deep heat does not come in three hours: sqrt(alpha t) = 50 mm. Cells of 1 mm: 0.5 K of the exact."""

SHORTEST_STEP_S = 0.5
LONGEST_S = 12 * 3600.0
"""Who waits longer than this is told that it never gets there."""

SHUT = Outside(0.0, 0.0)


class Hot(NamedTuple):
    """A hot shell for each m2 of its outer face, in one place."""

    j_per_m2_k: float
    emissivity: float
    w_per_m2_k: float
    room_c: float = 20.0
    bedded_part: float = 0.0
    sand_effusivity: float = 0.0
    sand_c: float = 20.0


def hot_shell(
    thickness_m: float,
    kg_per_m3: float,
    place: Place,
    level: int = 1,
    room_c: float = 20.0,
    sand_c: float = 20.0,
) -> Hot:
    """Return a shell out of the kiln that cools quickly (0), typically (1) or slowly (2)."""
    bedded = place == "bedded in sand"
    return Hot(
        thickness_m * kg_per_m3 * SHELL_J_PER_KG_K,
        (EMISSIVITY.high, EMISSIVITY.typical, EMISSIVITY.low)[level],
        CONVECTION_W_PER_M2_K[place][level],
        room_c,
        BEDDED_PART[level] if bedded else 0.0,
        SAND_EFFUSIVITY[level],
        sand_c,
    )


def air_w_per_m2(hot: Hot, c: float) -> float:
    """Return what a face in air loses."""
    strength = STEFAN_BOLTZMANN_W_PER_M2_K4 * hot.emissivity
    radiated = strength * ((c + ZERO_C_IN_K) ** 4 - (hot.room_c + ZERO_C_IN_K) ** 4)
    return radiated + hot.w_per_m2_k * (c - hot.room_c)


def cools_s(hot: Hot, from_c: float, to_c: float) -> float:
    """Return how long a shell takes from one temperature down to another; infinite if it never gets there.

    In air time is an integral over temperature (Simpson, 100 parts); with sand, whose flow depends on how
    long they have touched, it is stepped (`cooled_c`).
    """
    if to_c >= from_c:
        return 0.0
    if to_c <= hot.room_c or (hot.bedded_part > 0.0 and to_c <= hot.sand_c):
        return float("inf")
    return _in_sand_s(hot, from_c, to_c) if hot.bedded_part > 0.0 else _in_air_s(hot, from_c, to_c)


def _in_air_s(hot: Hot, from_c: float, to_c: float) -> float:
    size_k = (from_c - to_c) / 100
    inverse = [hot.j_per_m2_k / air_w_per_m2(hot, to_c + index * size_k) for index in range(101)]
    even, odd = sum(inverse[2:-1:2]), sum(inverse[1::2])
    return size_k / 3.0 * (inverse[0] + 4.0 * odd + 2.0 * even + inverse[-1])


def _in_sand_s(hot: Hot, from_c: float, to_c: float) -> float:
    c, t_s = from_c, 0.0
    sand = even_wall(hot.sand_c, SAND_CELLS)
    while t_s < LONGEST_S:
        dt_s = max(SHORTEST_STEP_S, t_s / 100.0)
        before_c = c
        c, sand = sand_step(hot, c, sand, dt_s)
        if c <= to_c:
            return t_s + dt_s * (before_c - to_c) / (before_c - c)
        t_s += dt_s
    return float("inf")


def sand_step(hot: Hot, c: float, sand_c: tuple[float, ...], dt_s: float) -> tuple[float, tuple[float, ...]]:
    """Return the shell and the sand under it (far side first) `dt_s` later."""
    conductivity = hot.sand_effusivity**2 / SAND_J_PER_M3_K
    wall = Wall(SAND_M, constant(conductivity), constant(SAND_J_PER_M3_K))
    in_air_part = 1.0 - hot.bedded_part
    c -= dt_s * in_air_part * air_w_per_m2(hot, c) / hot.j_per_m2_k
    body = Body(c, hot.j_per_m2_k / hot.bedded_part, PINNED_W_PER_M2_K)
    after = heat_wall(sand_c, wall, SHUT, dt_s, body)
    return after.body_c, after.cells_c


def sand_only_c(hot: Hot, from_c: float, t_s: float) -> float:
    """Return a shell's temperature when all of it lies in cold sand and nothing else takes heat.

    A body of one temperature in perfect contact with a half-space: theta = exp(b^2 t) erfc(b sqrt(t)), b =
    effusivity / heat capacity (Carslaw and Jaeger, Conduction of Heat in Solids, section 12.4, from memory).
    """
    root = hot.sand_effusivity * hot.bedded_part / hot.j_per_m2_k * sqrt(t_s)
    part = exp(root * root) * erfc(root) if root < 5.0 else 1.0 / (root * sqrt(pi))
    return hot.sand_c + (from_c - hot.sand_c) * part


def pour_window_s(
    thickness_m: float,
    kg_per_m3: float,
    place: Place,
    from_c: float,
    to_c: float,
    room_c: float = 20.0,
    sand_c: float = 20.0,
) -> Band:
    """Return how long a shell out of the kiln stays above `to_c`, the coldest at which it may be poured."""
    quick_s, typical_s, slow_s = (
        cools_s(hot_shell(thickness_m, kg_per_m3, place, level, room_c, sand_c), from_c, to_c)
        for level in range(3)
    )
    return Band(
        quick_s * (1.0 - LUMP_PART), typical_s, slow_s * (1.0 + LUMP_PART), "shell of one temperature, +-40 %"
    )
