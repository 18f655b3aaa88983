"""Every number that a profile takes from the trade or from a paper, against its source.

A trade fact is 'common practice, no source': the check is then only that the profile says what the
trade says, and that the conversion is right (NIST Special Publication 811, appendix B.8).
"""

from __future__ import annotations

import math

import pytest

from controller.schedule.index import find
from controller.schedule.model import Checkpoint, Hold, Ramp, Schedule
from controller.schedule.reader import load_schedule
from controller.schedule.units import temperature_c

GAS_J_PER_MOL_K = 8.314462618  # CODATA 2018


def load(name: str) -> Schedule:
    return load_schedule(find(name))


def stage(schedule: Schedule, name: str):  # type: ignore[no-untyped-def]
    return next(stage for stage in schedule.stages if stage.name == name)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [
        ("200 F", 93.3),  # shells crack near here on the way up; common practice, no source
        ("1500 F", 815.6),  # firing; common practice, no source
        ("2000 F", 1093.3),  # bronze is poured near here; common practice, no source
        ("800 F", 426.7),  # wax burnt out from 427 C ...
        ("1000 F", 537.8),  # ... to 538 C: a foundry course's page
    ],
)
def test_trade_temperatures_in_fahrenheit(fahrenheit: str, celsius: float) -> None:
    assert temperature_c(fahrenheit) == pytest.approx(celsius, abs=0.05)


def test_the_pla_schedule_dries_short_of_the_cracking_range_and_passes_it_slowly() -> None:
    """Shells crack near 200 F on the way up; common practice, no source."""
    pla = load("printed-pla-silica-shell")
    assert stage(pla, "dry").to_c < temperature_c("200 F")
    past = stage(pla, "past the cracking range")
    assert past.to_c > temperature_c("200 F")
    assert past.rate_c_per_h < stage(pla, "dry").rate_c_per_h
    assert past.wait_within_k is not None


def test_pla_is_melted_above_the_melting_range_and_below_its_decomposition() -> None:
    """130 to 180 C seen melting; 10 % lost at 365 C (Bernardes and others, Polymers 15 (2023) 4324)."""
    at_c = stage(load("printed-pla-silica-shell"), "melt through").at_c
    assert 180.0 < at_c < 365.0 - 100.0


def test_pla_waits_for_nobody_at_the_low_end_of_its_melting_range() -> None:
    """Melting in tables 150 to 160 C."""
    patch = stage(load("printed-pla-silica-shell"), "patch and drain")
    assert isinstance(patch, Checkpoint)
    assert patch.then.at_c == 150.0
    assert patch.heat == "off"


def test_the_decomposition_hold_takes_99_percent_of_the_pla() -> None:
    """First order with 181 kJ/mol (J Therm Anal Calorim 97 (2009) 929), peak at 365 C at 10 K/min.

    At the peak of a first-order loss under a ramp b: E b / (R T^2) = A exp(-E / (R T)) (Kissinger).
    """
    energy, peak_k, ramp_k_per_s = 181e3, 365 + 273.15, 10 / 60
    per_s = (
        energy * ramp_k_per_s / (GAS_J_PER_MOL_K * peak_k**2) * math.exp(energy / (GAS_J_PER_MOL_K * peak_k))
    )
    assert per_s == pytest.approx(5.82e12, rel=0.01)
    hold = stage(load("printed-pla-silica-shell"), "decompose")
    rate = per_s * math.exp(-energy / (GAS_J_PER_MOL_K * (hold.at_c + 273.15)))
    assert -math.log(0.01) / rate / 3600 == pytest.approx(1.41, abs=0.01)
    assert math.exp(-rate * hold.for_s) < 0.01


def test_wax_is_burnt_out_between_427_and_538_c() -> None:
    """A foundry course's page: 427 to 538 C."""
    wax = load("wax-silica-shell")
    assert 427.0 <= stage(wax, "burn soot").at_c <= 538.0


def test_wax_in_the_tray_stays_well_below_the_vapour_that_catches_fire() -> None:
    """Paraffin's flash point about 200 C: from memory."""
    wax = load("wax-silica-shell")
    before_tray = [stage for stage in wax.stages[:3] if isinstance(stage, Ramp | Hold)]
    assert all((s.to_c if isinstance(s, Ramp) else s.at_c) < 200.0 - 40.0 for s in before_tray)


@pytest.mark.parametrize("name", ["printed-pla-silica-shell", "wax-silica-shell", "empty-shell-reheat"])
def test_shells_are_fired_and_poured_at_1500_f(name: str) -> None:
    """1500 F: common practice, no source; within 600 to 1000 C (doi 10.1007/s40962-016-0052-4)."""
    schedule = load(name)
    hottest_c = max(stage.to_c for stage in schedule.stages if isinstance(stage, Ramp))
    assert hottest_c == pytest.approx(815.6, abs=0.05)
    assert 600.0 <= hottest_c <= 1000.0
    assert schedule.pour_at_c == pytest.approx(hottest_c)


def test_the_shell_gets_about_two_hours_at_1500_f() -> None:
    """About 2 h: common practice, no source."""
    pla = load("printed-pla-silica-shell")
    hot_s = stage(pla, "sinter").for_s + stage(pla, "pour").expect_s
    assert hot_s == pytest.approx(2 * 3600, abs=1)


def test_gypsum_stays_below_its_limit_and_its_carbon_is_burnt_below_700_c() -> None:
    """With carbon, calcium sulphate breaks down from 700 to 760 C; the cap is 730 C: from memory."""
    gypsum = load("castable-resin-gypsum")
    assert gypsum.ceiling_c == 730.0
    assert all(stage.ceiling_c == 730.0 for stage in gypsum.stages)
    assert max(stage.to_c for stage in gypsum.stages if isinstance(stage, Ramp)) < 700.0


@pytest.mark.parametrize(
    ("name", "limit"), [("castable-resin-gypsum", 60.0), ("first-drying-of-a-lining", 60.0)]
)
def test_quartz_is_passed_slowly(name: str, limit: float) -> None:
    """Quartz inversion at 573 C, 0.45 % linear."""
    below_c = 20.0
    for ramp in (stage for stage in load(name).stages if isinstance(stage, Ramp)):
        if below_c < 573.0 <= ramp.to_c:
            assert ramp.rate_c_per_h is not None
            assert ramp.rate_c_per_h <= limit
            return
        below_c = ramp.to_c
    pytest.fail("no ramp passes 573 C")


def test_a_fired_shell_passes_the_cristobalite_change_slowly() -> None:
    """Near 220 C, about 5 % by volume (Salomon, Doles, Batllo, ICI paper 2016)."""
    across = stage(load("empty-shell-reheat"), "across the cristobalite change")
    assert stage(load("empty-shell-reheat"), "dry the patches").to_c < 220.0 < across.to_c
    assert across.rate_c_per_h <= 100.0
