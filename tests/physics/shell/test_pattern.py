"""The pattern against its shell: who pushes, who gives way, what runs out and what clings."""

from __future__ import annotations

from math import exp, sqrt

import pytest

from controller.physics.material import MATERIALS, PLA, RESIN, WAX
from controller.physics.pattern import (
    Print,
    Stiff,
    cracks_at_c,
    film_kg_per_m2,
    flash_c_per_h,
    growth,
    hoop_per_pa,
    melt_pa_s,
    shell_give_per_pa,
    thinning_per_m2_s,
    wall_stress_pa,
)
from controller.physics.silica import EXPANSION_PER_K, POISSON, difference_stress_pa

VALUES = Stiff(0.009, 3e9, 3e9, 68e-6, 200e-6, 60.0, 155.0, 0.001)
SOLID = Print(0.015, 1.0, 0.0012)
HOLLOW = Print(0.015, 0.2, 0.0012)


def test_lames_shell_is_the_thin_and_the_endless_one_at_its_ends() -> None:
    """Thin: p a / 2t. Endless: p / 2 and (1 + nu) p / 2E (Timoshenko and Goodier; from memory)."""
    assert hoop_per_pa(1.0, 0.001) == pytest.approx(1.0 / 0.002, rel=0.002)
    assert hoop_per_pa(0.001, 10.0) == pytest.approx(0.5, rel=1e-6)
    assert shell_give_per_pa(0.001, 10.0, 1.0) == pytest.approx((1.0 + POISSON) / 2.0, rel=1e-6)
    assert shell_give_per_pa(1.0, 0.001, 1.0) == pytest.approx((1.0 - POISSON) / 0.002, rel=0.003)


def test_pla_outgrows_fused_silica_a_hundredfold() -> None:
    assert PLA.expansion_per_k.typical > 100.0 * EXPANSION_PER_K.typical
    assert growth(VALUES._replace(play=0.0), 60.0) == pytest.approx(40.0 * 67.5e-6)
    assert growth(VALUES, 20.0) == 0.0


def test_a_solid_pattern_cracks_a_shell_and_a_hollow_one_gives_way() -> None:
    strength_pa = 2e6
    assert cracks_at_c(SOLID, VALUES, strength_pa) is not None
    assert cracks_at_c(HOLLOW, VALUES, strength_pa) is None
    assert wall_stress_pa(HOLLOW, VALUES, 60.0) < wall_stress_pa(SOLID, VALUES, 60.0) / 2.0


def test_rubber_pushes_on_only_where_it_is_shut_in() -> None:
    assert wall_stress_pa(HOLLOW, VALUES, 59.0) > 0.0
    assert wall_stress_pa(HOLLOW, VALUES, 61.0) == 0.0
    assert wall_stress_pa(SOLID, VALUES, 100.0) > wall_stress_pa(SOLID, VALUES, 61.0)


def test_what_runs_out_pushes_no_more_and_a_network_never_runs() -> None:
    assert wall_stress_pa(SOLID, VALUES, 155.0) == 0.0
    network = VALUES._replace(runs_c=float("inf"))
    assert wall_stress_pa(SOLID, network, 300.0) > wall_stress_pa(SOLID, network, 155.0)
    assert not RESIN.runs
    assert flash_c_per_h(RESIN, 0.01) == float("inf")


def test_a_thicker_skin_pushes_harder_and_play_relieves() -> None:
    thick = HOLLOW._replace(skin_m=0.004)
    assert wall_stress_pa(thick, VALUES, 60.0) > wall_stress_pa(HOLLOW, VALUES, 60.0)
    assert wall_stress_pa(HOLLOW, VALUES._replace(play=0.01), 60.0) == 0.0


def test_a_thin_pattern_of_wax_must_be_heated_faster_than_a_thick_one() -> None:
    """rate d^2 / (2 alpha) = the way to where it runs: PLA, 10 mm: 135 K at 5.82e-8 m2/s is 566 C/h."""
    alpha = 0.13 / (1240.0 * 1800.0)
    assert flash_c_per_h(PLA, 0.01) == pytest.approx(3600.0 * 2.0 * alpha * 135.0 / 1e-4)
    assert flash_c_per_h(PLA, 0.01) == pytest.approx(566.0, abs=1.0)
    assert flash_c_per_h(WAX, 0.005) == pytest.approx(4.0 * flash_c_per_h(WAX, 0.01))


def test_a_draining_film_is_jeffreys_and_its_mean_two_thirds_of_the_foot() -> None:
    """sqrt(mu z / (rho g t)): 1000 Pa s, 0.15 m, 1240 kg/m3, an hour: 1.85 mm at the foot."""
    thinning = 3600.0 * thinning_per_m2_s(1000.0, 1240.0, 0.15)
    foot_m = sqrt(1000.0 * 0.15 / (1240.0 * 9.80665 * 3600.0))
    assert foot_m == pytest.approx(1.85e-3, rel=0.01)
    assert film_kg_per_m2(thinning, 1240.0) == pytest.approx(1240.0 * 2.0 / 3.0 * foot_m)
    assert film_kg_per_m2(0.0, 1240.0) == float("inf")


def test_a_melt_is_thinner_when_hotter_and_stands_still_when_cold() -> None:
    assert melt_pa_s(1000.0, 155.0, 195.0) == pytest.approx(1000.0)
    ratio = melt_pa_s(1000.0, 155.0, 220.0) / 1000.0
    assert ratio == pytest.approx(exp(80e3 / 8.314462618 * (1 / 493.15 - 1 / 468.15)))
    assert melt_pa_s(1000.0, 155.0, 150.0) > 1e9


def test_a_difference_across_a_fused_silica_wall_is_harmless() -> None:
    """E a dT / (1 - nu): 8 GPa, 0.5e-6, 10 K, 0.2: 50 kPa, a fortieth of the weakest green shell."""
    assert difference_stress_pa(10.0) == pytest.approx(50e3)
    assert difference_stress_pa(-10.0) == difference_stress_pa(10.0)


@pytest.mark.parametrize("material", MATERIALS.values(), ids=lambda material: material.name)
def test_every_value_of_every_material_is_a_band_with_a_source(material) -> None:  # type: ignore[no-untyped-def]
    bands = [getattr(material, name) for name in material.__slots__ if name not in ("name", "formula")]
    assert len(bands) == 14
    for band in bands:
        assert band.low <= band.typical <= band.high
        assert band.source
        assert band.weak or "memory" not in band.source
        assert band.low < band.high or not band.weak
