"""Heat work against pyrometric cones: fitted on two columns of the published table, checked on the third.

Source: 'Temperature Equivalents (C), Cone Numbers 022-14', 2016, self-supporting regular cones, end
points at 15, 60 and 150 C per hour over the last 100 C; Kissinger slopes worked out by another hand.
"""

from __future__ import annotations

from math import exp

import pytest
from scipy.integrate import quad

from controller.physics.cones import (
    CONES,
    FAST_C_PER_H,
    MEDIUM_C_PER_H,
    SLOW_C_PER_H,
    Cone,
    end_point_c,
    fitted_j_per_mol,
    kissinger_j_per_mol,
    ramp_work_h,
)
from controller.physics.sintering import ENERGY_J_PER_MOL, work_of_s

KISSINGER_KJ = (427, 368, 318, 369, 296, 251, 1084, 1166, 808)
SHELLS = CONES[:6]  # 019 to 014: the range in which a shell is fired


@pytest.mark.parametrize(("cone", "kj_per_mol"), list(zip(CONES, KISSINGER_KJ, strict=True)))
def test_kissingers_slope_is_what_another_hand_found(cone: Cone, kj_per_mol: int) -> None:
    assert kissinger_j_per_mol(cone) / 1e3 == pytest.approx(kj_per_mol, abs=1.0)


@pytest.mark.parametrize("cone", CONES, ids=lambda cone: cone.name)
def test_fitted_on_two_columns_it_foretells_the_third(cone: Cone) -> None:
    """Within 5 K, which is what the sensor itself may err by there (type K, class 2: 6 K at 815 C)."""
    energy = fitted_j_per_mol(cone.slow_c, SLOW_C_PER_H, cone.medium_c, MEDIUM_C_PER_H)
    work_h = ramp_work_h(cone.slow_c, SLOW_C_PER_H, energy, cone.slow_c)
    assert end_point_c(work_h, FAST_C_PER_H, energy, cone.slow_c) == pytest.approx(cone.fast_c, abs=5.0)
    outer = fitted_j_per_mol(cone.slow_c, SLOW_C_PER_H, cone.fast_c, FAST_C_PER_H)
    work_h = ramp_work_h(cone.slow_c, SLOW_C_PER_H, outer, cone.slow_c)
    assert end_point_c(work_h, MEDIUM_C_PER_H, outer, cone.slow_c) == pytest.approx(cone.medium_c, abs=3.0)


def test_cone_018_has_had_the_same_heat_work_at_each_rate() -> None:
    """With 368 kJ/mol 0.684, 0.703 and 0.679 h at 700 C by another hand, who summed the whole rise."""
    ends = ((686.0, 15.0, 0.684), (715.0, 60.0, 0.703), (734.0, 150.0, 0.679))
    for end_c, rate, expected_h in ends:
        assert ramp_work_h(end_c, rate, 368e3, 700.0) == pytest.approx(expected_h, rel=0.01)


def test_the_integral_is_scipys() -> None:
    def rate(c: float) -> float:
        return exp(-368e3 / 8.314462618 * (1.0 / (c + 273.15) - 1.0 / 973.15))

    exact, _ = quad(rate, 615.0, 715.0)
    assert ramp_work_h(715.0, 60.0, 368e3, 700.0) == pytest.approx(exact / 60.0, rel=1e-6)


def test_the_heat_work_of_a_curve_is_the_same_integral() -> None:
    """A rise at 60 C/h to 815 C: `work_of_s` cuts it into parts of 5 K."""

    def rate(c: float) -> float:
        return exp(-340e3 / 8.314462618 * (1.0 / (c + 273.15) - 1.0 / 1088.15))

    exact, _ = quad(rate, 500.0, 815.0)
    curve = [(0.0, 500.0), (315.0 * 60.0, 815.0)]
    assert work_of_s(curve, 340e3) == pytest.approx(exact * 60.0, rel=2e-3)


def test_the_energy_for_shells_spans_the_cones_of_their_range() -> None:
    energies = [kissinger_j_per_mol(cone) for cone in SHELLS]
    assert pytest.approx(min(energies), rel=0.01) == ENERGY_J_PER_MOL.low
    assert pytest.approx(max(energies), rel=0.01) == ENERGY_J_PER_MOL.high
    assert sum(energies) / len(energies) == pytest.approx(ENERGY_J_PER_MOL.typical, rel=0.02)
    assert ENERGY_J_PER_MOL.weak
