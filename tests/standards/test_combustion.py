"""Decomposition and burning against published values and against a thermochemical table.

Sources: a table worked out with the `chemicals` package by another hand (air 23.14 % oxygen); Huggett,
Fire and Materials 4 (1980), 13.1 MJ per kg of oxygen within 5 %; PLA's energy, J Therm Anal Calorim 97
(2009) 929; char, Kim, Fletcher, Zachariah, Environ Sci Technol 39 (2005) 4021 and Zaghib and others,
Thermochim Acta 371 (2001) 57.
"""

from __future__ import annotations

import pytest
from scipy.integrate import solve_ivp

from controller.physics.decay import Kinetics, kinetics, loss_s, peak_c, rate_per_s
from controller.physics.fire import (
    Formula,
    air_kg_per_kg,
    air_m3_per_kg,
    burning_j_per_kg,
    burnt_by_closed_air_kg,
    fire,
    fire_findings,
    fire_to_need,
    oxygen_kg_per_kg,
    vent_needed_kg_per_s,
)
from controller.physics.material import HIPS, PLA, PMMA, PVB, WAX

TABLE = [
    (PLA, 1.332, 5.76, 4.78, 17.45),
    (WAX, 3.448, 14.90, 12.37, 45.17),
    (HIPS, 3.072, 13.28, 11.03, 40.25),
    (PMMA, 1.918, 8.29, 6.88, 25.12),
    (PVB, 2.363, 10.21, 8.48, 30.95),
]


@pytest.mark.parametrize(("material", "oxygen", "air", "m3", "mj"), TABLE)
def test_oxygen_air_and_heat_are_the_tables(material, oxygen, air, m3, mj) -> None:  # type: ignore[no-untyped-def]
    assert oxygen_kg_per_kg(material.formula) == pytest.approx(oxygen, abs=6e-4)
    assert air_kg_per_kg(material.formula) == pytest.approx(air, abs=6e-3)
    assert air_m3_per_kg(material.formula) == pytest.approx(m3, rel=1e-3)
    assert burning_j_per_kg(material.formula) / 1e6 == pytest.approx(mj, rel=1e-3)


@pytest.mark.parametrize(
    ("formula", "mj_per_kg"),
    [
        (Formula(1, 4), 50.0),  # methane
        (Formula(3, 8), 46.35),  # propane
        (Formula(6, 6), 40.1),  # benzene
        (Formula(2, 6, 1), 26.8),  # ethanol
    ],
)
def test_huggetts_rule_gives_well_known_fuels_within_its_5_per_cent(
    formula: Formula, mj_per_kg: float
) -> None:
    """Net heats of burning of pure fuels, from memory, found in any handbook."""
    assert burning_j_per_kg(formula) / 1e6 == pytest.approx(mj_per_kg, rel=0.05)


def test_pla_is_within_1_per_cent_of_the_heat_from_lactides_heat_of_formation() -> None:
    assert burning_j_per_kg(PLA.formula) / 17.60e6 == pytest.approx(1.0, abs=0.01)


def test_500_g_of_pla_in_an_hour() -> None:
    """2.42 kW and 2.39 m3 of air."""
    burns = fire(0.5 / 3600.0, PLA.formula, vent_kg_per_s=1.0)
    assert burns.heat_w / 1e3 == pytest.approx(2.42, abs=0.01)
    assert burns.air_needed_kg_per_s * 3600.0 / 1.2045 == pytest.approx(2.39, abs=0.01)
    assert burns.smoke_kg_per_s == 0.0


def test_a_closed_chamber_of_60_litres_at_400_c_burns_5_5_g_of_pla() -> None:
    assert burnt_by_closed_air_kg(0.060, 400.0, PLA.formula) * 1e3 == pytest.approx(5.5, abs=0.1)


def test_half_the_air_burns_half_the_vapour_and_the_rest_is_smoke() -> None:
    needed = 1e-4 * air_kg_per_kg(PLA.formula)
    whole, half = fire(1e-4, PLA.formula, needed), fire(1e-4, PLA.formula, needed / 2.0)
    assert half.heat_w == pytest.approx(whole.heat_w / 2.0)
    assert half.smoke_kg_per_s == pytest.approx(0.5e-4)
    assert fire(1e-4, PLA.formula, 0.0).heat_w == 0.0
    assert fire(0.0, PLA.formula, 0.0).smoke_kg_per_s == 0.0
    assert vent_needed_kg_per_s(1e-4, PLA.formula) > needed


def test_a_fire_hotter_than_the_kilns_need_outruns_the_elements() -> None:
    assert fire_to_need(2420.0, 2000.0) > 1.0
    assert fire_to_need(2420.0, 4000.0) < 1.0
    assert fire_to_need(1.0, 0.0) == float("inf")
    assert fire_to_need(0.0, 0.0) == 0.0


def test_too_little_air_and_too_much_fire_are_told_with_their_numbers() -> None:
    """500 g of PLA in an hour: 2.88 kg of air, 2.42 kW."""
    vapour, needed = 0.5 / 3600.0, 2.88 / 3600.0
    assert fire_findings(vapour, PLA.formula, 1.01 * needed, 2500.0) == ()
    assert fire_findings(0.0, PLA.formula, 0.0, 0.0) == ()
    (vent,) = fire_findings(vapour, PLA.formula, 0.5 * needed, 2500.0)
    assert (vent.key, vent.weight) == ("vent", "warn")
    assert "2.9 kg of air" in vent.says
    assert fire_findings(vapour, PLA.formula, 0.0, 2500.0)[0].weight == "stop"
    (hot,) = fire_findings(vapour, PLA.formula, 1.01 * needed, 2300.0)
    assert (hot.key, hot.unit) == ("fire", "W")
    assert hot.found == pytest.approx(2423.0, abs=3.0)


def test_pla_with_its_peak_at_365_c_has_the_factor_that_another_hand_found() -> None:
    assert kinetics(181e3, 365.0).per_s == pytest.approx(5.82e12, rel=1e-3)


@pytest.mark.parametrize(("k_per_min", "c"), [(1, 326.7), (2, 337.7), (5, 353.0), (10, 365.0), (20, 377.5)])
def test_its_peak_moves_with_the_heating_rate(k_per_min: int, c: float) -> None:
    assert peak_c(kinetics(181e3, 365.0), k_per_min / 60.0) == pytest.approx(c, abs=0.06)


@pytest.mark.parametrize(("c", "hours"), [(275.0, 38.9), (300.0, 6.87), (325.0, 1.41)])
def test_99_per_cent_of_it_is_gone_after(c: float, hours: float) -> None:
    assert loss_s(kinetics(181e3, 365.0), c, 0.99) / 3600.0 == pytest.approx(hours, rel=4e-3)


def test_the_loss_of_a_ramp_solved_by_scipy_peaks_where_kissinger_says() -> None:
    of = kinetics(181e3, 365.0)
    solved = solve_ivp(
        lambda t, left: -rate_per_s(of, 200.0 + t / 6.0) * left, (0.0, 1500.0), [1.0], max_step=2.0, rtol=1e-8
    )
    losses = [rate_per_s(of, 200.0 + t / 6.0) * left for t, left in zip(solved.t, solved.y[0], strict=True)]
    assert 200.0 + solved.t[losses.index(max(losses))] / 6.0 == pytest.approx(365.0, abs=0.5)


@pytest.mark.parametrize(
    ("kj_per_mol", "at_650", "at_815"), [(110.0, 16.0, 8.8), (162.0, 60.0, 24.5), (188.0, 116.0, 41.0)]
)
def test_char_burns_so_many_times_faster(kj_per_mol: float, at_650: float, at_815: float) -> None:
    """650 over 500 C, and 815 over 650 C."""
    of = Kinetics(1.0, kj_per_mol * 1e3)
    assert rate_per_s(of, 650.0) / rate_per_s(of, 500.0) == pytest.approx(at_650, rel=0.02)
    assert rate_per_s(of, 815.0) / rate_per_s(of, 650.0) == pytest.approx(at_815, rel=0.02)
