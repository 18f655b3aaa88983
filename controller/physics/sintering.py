"""Firing as heat work: how long at 815 C would have done the same to the shell.

An activation-energy integral, the energy taken from pyrometric cones that bend between 660 and 840 C
(`cones`): ceramic bodies, not this shell, so the energy is a band, and weak for a shell. Heat work adds
up over stages and cannot be undone. How strong a shell gets from it is a chosen curve, nothing measured.
"""

from __future__ import annotations

from collections.abc import Iterable

from controller.physics.band import Band
from controller.physics.cones import speed
from controller.physics.silica import FIRED_PA, GREEN_PA

REFERENCE_C = 815.0
"""Heat work is told in time at this temperature; 1500 F, the usual firing, is 815.6 C."""

ENERGY_J_PER_MOL = Band(
    251.0e3,
    340.0e3,
    427.0e3,
    "Kissinger slopes of cones 019 to 014, 'Temperature Equivalents (C), Cone Numbers 022-14', 2016",
)

WORKS_FROM_C = 500.0
"""Below this heat work is not reckoned: a day at 500 C is under 2 s at 815 C, with any energy here."""

FULL_WORK_S = 2.0 * 3600.0
"""Two hours near 1500 F are a full firing: common practice, no source."""

FULL_PART = 0.95
"""Part of a shell's gain in strength that a full firing gives; chosen: it goes on slowly after."""


def work_s(c: float, dt_s: float, j_per_mol: float) -> float:
    """Return the heat work of `dt_s` at `c`, in seconds at 815 C."""
    return 0.0 if c < WORKS_FROM_C else dt_s * speed(c, j_per_mol, REFERENCE_C)


def work_of_s(points: Iterable[tuple[float, float]], j_per_mol: float) -> float:
    """Return the heat work of a curve of (s, C) points with straight lines between them.

    Each line is cut into parts of at most 5 K, taken at their middles: within 0.2 % of the integral.
    """
    total = 0.0
    before: tuple[float, float] | None = None
    for t_s, c in points:
        if before is not None:
            parts = 1 + int(abs(c - before[1]) / 5.0)
            for part in range(parts):
                middle_c = before[1] + (c - before[1]) * (part + 0.5) / parts
                total += work_s(middle_c, (t_s - before[0]) / parts, j_per_mol)
        before = (t_s, c)
    return total


def strength_part(heat_work_s: float) -> float:
    """Return the part of its gain in strength that a shell has got: 0 green, 0.95 fully fired, chosen."""
    return 1.0 - float((1.0 - FULL_PART) ** (heat_work_s / FULL_WORK_S))


def strength_pa(heat_work_s: float, level: int = 1) -> float:
    """Return a shell's modulus of rupture, from green to fired; `level` 0 low, 1 typical, 2 high."""
    green_pa = GREEN_PA.at(level)
    return green_pa + strength_part(heat_work_s) * (FIRED_PA.at(level) - green_pa)


def hold_for_s(c: float, wanted_work_s: float, j_per_mol: float) -> float:
    """Return how long at `c` does so much heat work: the remedy for a firing that is too short."""
    return wanted_work_s / speed(c, j_per_mol, REFERENCE_C)
