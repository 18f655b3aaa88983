"""Water at the boil: its pressure, its temperature, the heat it takes, how thick and how mobile steam is.

Saturation is region 4 of IAPWS-IF97 (the 2007 revision of the release on the industrial formulation for
water and steam), equations 30 and 31, written from the published equations. Valid 0 to 373.9 C.
"""

from __future__ import annotations

from math import sqrt

from controller.physics.constants import ZERO_C_IN_K

ATMOSPHERE_PA = 101325.0
STEAM_J_PER_KG_K = 461.526
"""Gas constant of water, IAPWS-IF97."""

CRITICAL_K = 647.096
"""Critical temperature of water, IAPWS-IF97."""

FROZEN_C = 0.0
HOTTEST_C = 350.0
"""Up to here the fit of the latent heat is checked; no pore of a shell is wet there."""

_N1, _N2, _N3, _N4, _N5 = 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7  # fmt: skip  # noqa: E501
_N6, _N7, _N8, _N9, _N10 = 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3  # fmt: skip  # noqa: E501


def saturation_pa(c: float) -> float:
    """Return the pressure at which water boils at `c`; clamped to 0 to 373.9 C. IAPWS-IF97, equation 30."""
    kelvin = min(max(c, FROZEN_C) + ZERO_C_IN_K, CRITICAL_K)
    t = kelvin + _N9 / (kelvin - _N10)
    a = (t + _N1) * t + _N2
    b = (_N3 * t + _N4) * t + _N5
    d = (_N6 * t + _N7) * t + _N8
    root = 2.0 * d / (-b + sqrt(b * b - 4.0 * a * d))
    return 1.0e6 * root**4


def saturation_c(pa: float) -> float:
    """Return the temperature at which water boils at `pa`, 611 Pa to 22.06 MPa. IAPWS-IF97, equation 31."""
    beta: float = (pa / 1.0e6) ** 0.25
    e = (beta + _N3) * beta + _N6
    f = (_N1 * beta + _N4) * beta + _N7
    g = (_N2 * beta + _N5) * beta + _N8
    d = 2.0 * g / (-f - sqrt(f * f - 4.0 * e * g))
    return (_N10 + d - sqrt((_N10 + d) ** 2 - 4.0 * (_N9 + _N10 * d))) / 2.0 - ZERO_C_IN_K


def latent_j_per_kg(c: float) -> float:
    """Return the heat that water takes to evaporate at `c`; clamped to 0 to 350 C.

    Our own fit to IAPWS-IF97, within 0.1 % to 300 C and 1 % to 350 C.
    """
    t = (min(max(c, FROZEN_C), HOTTEST_C) + ZERO_C_IN_K) / CRITICAL_K
    power: float = (1.0 - t) ** (0.842951 - 1.017993 * t + 0.580415 * t * t)
    return 3.319172e6 * power


def steam_pa_s(c: float) -> float:
    """Return the viscosity of steam near the boil. Our own line through IAPWS values, within 3 % to 300 C."""
    return 1.222e-5 + 3.6e-8 * (c - 100.0)


def vapour_m2_per_s(c: float) -> float:
    """Return how fast water vapour diffuses through air: 2.6e-5 m2/s at 298 K, rising as T^1.75.

    The value from Incropera and others, table A.8, the power by Fuller; both from memory.
    """
    ratio: float = ((c + ZERO_C_IN_K) / 298.0) ** 1.75
    return 2.6e-5 * ratio
