"""The constants against their sources."""

from __future__ import annotations

import pytest

from controller.physics import constants


def test_stefan_boltzmann_follows_from_the_exact_constants_of_the_si() -> None:
    """CODATA 2018: 2 pi^5 k^4 / (15 h^3 c^2) with the exact k, h and c of the SI of 2019."""
    pi, k, h, c = 3.141592653589793, 1.380649e-23, 6.62607015e-34, 299792458.0
    expected = 2.0 * pi**5 * k**4 / (15.0 * h**3 * c**2)
    assert pytest.approx(expected, rel=1e-9, abs=0.0) == constants.STEFAN_BOLTZMANN_W_PER_M2_K4


def test_the_gas_constant_follows_from_the_exact_constants_of_the_si() -> None:
    assert (
        pytest.approx(1.380649e-23 * 6.02214076e23, rel=1e-9, abs=0.0) == constants.GAS_CONSTANT_J_PER_MOL_K
    )


def test_burning_in_air_is_huggett_s_value_for_oxygen() -> None:
    """13.1 MJ per kg of oxygen, Huggett, Fire and Materials 4 (1980); air holds 23.14 % oxygen by mass."""
    assert pytest.approx(0.2314 * 13.1e6, rel=1e-3) == constants.BURNING_J_PER_KG_AIR


def test_burning_pla_is_oxygen_by_huggett() -> None:
    """C3H4O2 + 3 O2: 96.0 g of oxygen for each 72.06 g."""
    assert pytest.approx(3 * 31.998 / 72.063 * 13.1e6, rel=1e-3) == constants.PLASTIC_BURNING_J_PER_KG
