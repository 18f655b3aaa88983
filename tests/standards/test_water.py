"""Water and steam against IAPWS-IF97, and drying against its own closed forms.

Sources: IAPWS R7-97(2012), tables 35 and 36 (verification values; table 36 from memory); the `iapws`
package; values at round temperatures worked out with it and crossed with IAPWS-95.
"""

from __future__ import annotations

import pytest
from iapws import IAPWS97
from iapws.iapws97 import _PSat_T, _TSat_P

from controller.physics import water
from controller.physics.curve import constant
from controller.physics.silica import PERMEABILITY_M2
from controller.physics.steam import (
    ATMOSPHERE_PA,
    latent_j_per_kg,
    saturation_c,
    saturation_pa,
    steam_pa_s,
    vapour_m2_per_s,
)
from controller.physics.wall import Wall, even_wall, heat_wall, pinned
from controller.physics.water import Pores

PORES = Pores(1e-14, 0.25)


@pytest.mark.parametrize(
    ("kelvin", "mpa"), [(300.0, 0.353658941e-2), (500.0, 2.63889776), (600.0, 12.3443146)]
)
def test_the_standards_own_verification_values(kelvin: float, mpa: float) -> None:
    """IAPWS-IF97, table 35."""
    assert saturation_pa(kelvin - 273.15) == pytest.approx(mpa * 1e6, rel=1e-8)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)])
def test_and_those_of_the_boiling_temperature(mpa: float, kelvin: float) -> None:
    """IAPWS-IF97, table 36; from memory."""
    assert saturation_c(mpa * 1e6) + 273.15 == pytest.approx(kelvin, abs=1e-6)


@pytest.mark.parametrize("c", [0.01, 20.0, 60.0, 99.0, 150.0, 212.0, 300.0, 370.0])
def test_saturation_is_the_iapws_packages(c: float) -> None:
    pa = saturation_pa(c)
    assert pa == pytest.approx(_PSat_T(c + 273.15) * 1e6, rel=1e-9)
    assert saturation_c(pa) == pytest.approx(_TSat_P(pa / 1e6) - 273.15, abs=1e-6)
    assert saturation_c(pa) == pytest.approx(c, abs=1e-6)


@pytest.mark.parametrize(
    ("c", "mpa", "kj_per_kg"),
    [
        (100.0, 0.10142, 2256.5),
        (120.0, 0.19867, 2202.1),
        (140.0, 0.36150, 2144.2),
        (160.0, 0.61814, 2081.9),
        (180.0, 1.00263, 2014.0),
        (200.0, 1.55467, 1939.7),
        (220.0, 2.31929, 1857.4),
        (250.0, 3.97594, 1715.3),
    ],
)
def test_the_table_of_a_hot_wall(c: float, mpa: float, kj_per_kg: float) -> None:
    assert saturation_pa(c) == pytest.approx(mpa * 1e6, rel=1e-4)
    assert latent_j_per_kg(c) == pytest.approx(kj_per_kg * 1e3, rel=1e-3)


@pytest.mark.parametrize("c", [*range(5, 301, 20), 349])
def test_latent_heat_is_the_iapws_packages(c: float) -> None:
    exact = (IAPWS97(T=c + 273.15, x=1).h - IAPWS97(T=c + 273.15, x=0).h) * 1e3
    assert latent_j_per_kg(c) == pytest.approx(exact, rel=1e-3 if c <= 300 else 1e-2)


@pytest.mark.parametrize("c", [105.0, 150.0, 200.0, 300.0])
def test_steam_is_as_thick_as_the_iapws_package_says(c: float) -> None:
    assert steam_pa_s(c) == pytest.approx(IAPWS97(T=c + 273.15, P=0.1).mu, rel=0.06)


def test_vapour_diffuses_as_handbooks_say() -> None:
    """0.26 cm2/s at 298 K (Incropera and others, table A.8), 0.385 at 373 K; from memory."""
    assert vapour_m2_per_s(298.0 - 273.15) == pytest.approx(2.6e-5)
    assert vapour_m2_per_s(373.0 - 273.15) == pytest.approx(3.85e-5, rel=0.01)


def test_nothing_presses_below_the_boil_and_the_front_stays_colder_than_the_face() -> None:
    assert water.overpressure_pa(95.0, 0.8, PORES) == 0.0
    assert 30.0 < water.front_c(95.0, 0.8, PORES) < 95.0
    assert water.overpressure_pa(200.0, 0.8, PORES) > 0.0


def test_a_tighter_wall_holds_more_steam() -> None:
    tight, loose = (
        water.overpressure_pa(200.0, 0.8, Pores(permeability, 0.25))
        for permeability in (PERMEABILITY_M2.low, PERMEABILITY_M2.high)
    )
    assert tight > 10.0 * loose
    assert tight < saturation_pa(200.0) - ATMOSPHERE_PA


def test_heat_through_the_dry_wall_is_what_its_steam_carries_off() -> None:
    """Darcy for an ideal gas, written out: K (p1^2 - p0^2) / (2 mu R T); diffusion made negligible."""
    pores, k, face_c = Pores(1e-13, 1e-6), 0.8, 300.0
    front = water.front_c(face_c, k, pores)
    pa = saturation_pa(front)
    darcy = 1e-13 * (pa**2 - ATMOSPHERE_PA**2) / (2.0 * steam_pa_s(front) * 461.526 * (front + 273.15))
    assert latent_j_per_kg(front) * darcy == pytest.approx(k * (face_c - front), rel=1e-4)


def _dry(face_c_at: float, rate_k_per_s: float, water_kg: float, pores: Pores) -> tuple[float, float]:
    """Run the wall with its front; return when it was dry and how hot its face was then."""
    wall = Wall(0.03, constant(0.8), constant(1.5e6))
    cells, left_kg, t_s, face_c = even_wall(min(face_c_at, 95.0), 30), water_kg, 0.0, face_c_at
    while left_kg > 1e-3 * water_kg and t_s < 5e5:
        dt_s = 2.0
        taken = water.taken_by_front(cells, 0.03, left_kg, water_kg, pores, dt_s)
        after = heat_wall(cells, wall, pinned(face_c), dt_s, taken=taken)
        left_kg -= after.taken_j_per_m2 / latent_j_per_kg(cells[taken.cell])
        cells, t_s, face_c = after.cells_c, t_s + dt_s, face_c + rate_k_per_s * dt_s
    return t_s, face_c


def test_the_front_reaches_the_far_side_when_the_closed_form_says() -> None:
    """Stefan's problem, quasi-steady: t = w (L/2 + film) / (flow times way)."""
    pores = Pores(1e-14, 0.25)
    t_s, _ = _dry(90.0, 0.0, 6.0, pores)
    assert t_s == pytest.approx(water.drying_s(90.0, 0.03, 6.0, 0.8, pores), rel=0.05)


def test_at_the_fastest_safe_rate_the_wall_is_dry_as_its_face_reaches_the_limit() -> None:
    strength_pa, pores = 0.4e6, Pores(1e-15, 0.25)
    rate = water.fastest_c_per_h(strength_pa, 0.03, 6.0, 0.8, 1.5e6, pores)
    limit_c = water.face_limit_c(strength_pa, 0.8, pores)
    _, face_c = _dry(100.0, rate / 3600.0, 6.0, pores)
    assert face_c - 100.0 == pytest.approx(limit_c - 100.0, rel=0.15)


def test_a_pocket_of_water_reaches_a_green_shells_strength_where_saturation_says() -> None:
    """2 MPa over the atmosphere at 214.9 C: IAPWS-IF97; twice the safety, half the strength."""
    assert water.pocket_limit_c(2.0 * water.SAFETY * 1e6) == pytest.approx(
        _TSat_P((2e6 + ATMOSPHERE_PA) / 1e6) - 273.15, abs=1e-5
    )


def test_a_thicker_wall_wants_a_slower_rise_and_a_dry_one_none() -> None:
    thin = water.fastest_c_per_h(0.5e6, 0.01, 2.0, 0.8, 1.5e6, PORES)
    thick = water.fastest_c_per_h(0.5e6, 0.10, 20.0, 0.8, 1.5e6, PORES)
    assert thin > 50.0 * thick  # near 1 / L^2 at the same dampness
    assert water.fastest_c_per_h(0.5e6, 0.01, 0.0, 0.8, 1.5e6, PORES) == float("inf")
