"""Heat undoing matter: first-order decomposition, and char burnt by the oxygen that reaches it.

A rate is A exp(-E / (R T)) of what is left. A is seldom published with E; what is seen is the peak of the
loss at a steady heating rate, and Kissinger's condition gives A from it: E b / (R Tp^2) = A exp(-E / (R
Tp)) (Kissinger, Anal Chem 29 (1957) 1702).
"""

from __future__ import annotations

from math import exp, log
from typing import NamedTuple

from controller.physics.constants import GAS_CONSTANT_J_PER_MOL_K, ZERO_C_IN_K

PEAK_RATE_K_PER_S = 10.0 / 60.0
"""Peaks are told at 10 K/min, the usual rate of thermogravimetry."""

CHAR_PEAK_C = (480.0, 560.0, 640.0)
"""Peak of burning char in air at 10 K/min, early to late; from memory, weak."""

CHAR_J_PER_MOL = (110.0e3, 140.0e3, 188.0e3)
"""Char with metals 110 to 116: Kim, Fletcher, Zachariah, Environ Sci Technol 39 (2005) 4021; graphite
188: Zaghib and others, Thermochim Acta 371 (2001) 57; the middle is chosen.
"""


class Kinetics(NamedTuple):
    """First-order decay: `per_s` exp(-`j_per_mol` / (R T))."""

    per_s: float
    j_per_mol: float


def kinetics(j_per_mol: float, peak_c: float, rate_k_per_s: float = PEAK_RATE_K_PER_S) -> Kinetics:
    """Return the kinetics whose loss peaks at `peak_c` when heated at a steady rate."""
    kelvin = peak_c + ZERO_C_IN_K
    power = j_per_mol / (GAS_CONSTANT_J_PER_MOL_K * kelvin)
    return Kinetics(power * rate_k_per_s / kelvin * exp(power), j_per_mol)


def rate_per_s(of: Kinetics, c: float) -> float:
    """Return the part that goes each second at `c`."""
    return of.per_s * exp(-of.j_per_mol / (GAS_CONSTANT_J_PER_MOL_K * (c + ZERO_C_IN_K)))


def left_part(of: Kinetics, c: float, dt_s: float) -> float:
    """Return the part that is left after `dt_s` at `c`."""
    return exp(-rate_per_s(of, c) * dt_s)


def loss_s(of: Kinetics, c: float, part: float) -> float:
    """Return how long it takes at `c` to lose a part (0 to below 1) of what was there."""
    return -log(1.0 - part) / rate_per_s(of, c)


def peak_c(of: Kinetics, rate_k_per_s: float) -> float:
    """Return where the loss peaks at a steady heating rate, by Kissinger's condition."""
    low, high = 0.0, 1500.0
    for _ in range(60):
        middle = (low + high) / 2.0
        kelvin = middle + ZERO_C_IN_K
        rising = of.j_per_mol * rate_k_per_s / (GAS_CONSTANT_J_PER_MOL_K * kelvin**2) > rate_per_s(of, middle)
        low, high = (middle, high) if rising else (low, middle)
    return (low + high) / 2.0


def char_kinetics(level: int) -> Kinetics:
    """Return how char burns in air: 0 for the quickest, 1 typical, 2 the slowest."""
    return kinetics(CHAR_J_PER_MOL[level], CHAR_PEAK_C[level])


def char_burnt(char_kg: float, of: Kinetics, c: float, dt_s: float, oxygen_kg: float, need: float) -> float:
    """Return the char burnt in `dt_s`, no more than the oxygen (kg) that came meanwhile allows.

    `need`: kg of oxygen for each kg of char. Any unit of mass will do, the same for both.
    """
    return min(char_kg * (1.0 - left_part(of, c, dt_s)), max(0.0, oxygen_kg) / need)
