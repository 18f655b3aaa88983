"""The live estimate: led by what is measured, honest about what it does not know, and quick."""

from __future__ import annotations

from math import inf, nan

import pytest

from controller.forecast.job import JobSheet
from controller.forecast.known import known
from controller.forecast.limits import pull_pa, push_pa, shell_limits
from controller.forecast.makes import variants
from controller.forecast.observer import (
    Estimate,
    Estimates,
    ObserverSetup,
    ObserverState,
    estimates,
    set_up,
    start,
    step,
    weigh,
)

SHEET = JobSheet(
    material="PLA",
    pattern_kg=0.48,
    fill=0.3,
    coats=9,
    thickness_m=0.009,
    dry_kg=3.1,
    wet_kg=3.25,
    metal="tin bronze",
)


def led(
    state: ObserverState, setup: ObserverSetup, rate_c_per_h: float, to_c: float, dt_s: float = 30.0
) -> ObserverState:
    """Lead the shell along a ramp of the load thermocouple from where it is."""
    c = state.seen_c
    while c < to_c:
        c = min(to_c, c + rate_c_per_h / 3600.0 * dt_s)
        state = step(state, setup, c, None, dt_s, longest_step_s=30.0)
    return state


def held(
    state: ObserverState, setup: ObserverSetup, c: float, hours: float, dt_s: float = 30.0
) -> ObserverState:
    for _ in range(round(hours * 3600.0 / dt_s)):
        state = step(state, setup, c, None, dt_s, longest_step_s=30.0)
    return state


def fired(setup: ObserverSetup) -> list[Estimates]:
    """Return the estimates of a whole burnout at its stops: dry, melted, burnt out, fired."""
    state = held(led(start(setup), setup, 60.0, 90.0), setup, 90.0, 1.5)
    stops = [state]
    state = held(led(state, setup, 80.0, 200.0), setup, 200.0, 1.0)
    stops.append(state)
    state = held(led(state, setup, 120.0, 325.0), setup, 325.0, 1.5)
    stops.append(state)
    stops.append(held(led(state, setup, 300.0, 815.0), setup, 815.0, 2.0))
    return [estimates(state, setup) for state in stops]


def test_a_burnout_dries_melts_burns_and_fires_the_shell() -> None:
    dry, melted, burnt, strong = fired(set_up(SHEET))
    assert dry.water_kg.high < 0.02
    assert dry.plastic_kg.typical == pytest.approx(0.48)
    assert melted.drained_kg.typical > 0.05
    assert burnt.plastic_kg.typical < 0.005 < burnt.plastic_kg.high
    assert burnt.char_kg.high > 0.0
    assert burnt.ash_kg.typical == pytest.approx(0.002 * (0.48 - burnt.drained_kg.typical), rel=0.02)
    assert strong.char_kg.high == 0.0
    assert 0.9 < strong.strength_part.typical < 1.0
    assert strong.heat_work_s.typical == pytest.approx(7200.0, rel=0.15)


def test_every_estimate_lies_in_its_band() -> None:
    for at_stop in fired(set_up(JobSheet())):
        for name, value in at_stop._asdict().items():
            if isinstance(value, Estimate):
                assert value.low <= value.typical <= value.high, name
                assert value.low >= 0.0 or name in ("lag_k", "core_c", "face_c"), name


def test_what_is_told_narrows_the_bands() -> None:
    for name in ("water_kg", "plastic_kg", "lag_s"):
        state = led(start(set_up(SHEET)), set_up(SHEET), 100.0, 80.0)
        told = getattr(estimates(state, set_up(SHEET)), name)
        empty = set_up(JobSheet())
        untold = getattr(estimates(led(start(empty), empty, 100.0, 80.0), empty), name)
        assert told.high - told.low < untold.high - untold.low, name


def test_the_core_lags_and_its_lag_is_what_a_steady_rise_gives() -> None:
    """Rate times L^2 / (2 alpha), once dry and empty: 300 C/h through 9 mm."""
    setup = set_up(JobSheet(thickness_m=0.009, reheated=True))
    state = led(start(setup), setup, 300.0, 700.0, 1.0)
    now = estimates(state, setup)
    assert now.core_c.typical < now.face_c.typical
    assert now.lag_k.typical == pytest.approx(300.0 / 3600.0 * now.lag_s.typical, rel=0.05)
    assert 60.0 < now.lag_s.typical < 120.0


def test_where_only_the_air_is_measured_the_face_lags_too() -> None:
    setup = set_up(SHEET)
    by_air, by_load = start(setup), start(setup)
    for _ in range(60):
        by_air = step(by_air, setup, None, 300.0, 10.0)
        by_load = step(by_load, setup, 300.0, 320.0, 10.0)
    assert estimates(by_air, setup).face_c.typical < 280.0
    assert estimates(by_load, setup).face_c.typical == pytest.approx(300.0, abs=1.0)
    assert not by_air.by_load


@pytest.mark.parametrize("bad", [None, nan, inf, -inf, -300.0])
def test_a_reading_that_is_no_reading_widens_the_band_and_breaks_nothing(bad: float | None) -> None:
    setup = set_up(SHEET)
    state = held(start(setup), setup, 150.0, 0.5)
    blind = state
    for _ in range(60):
        blind = step(blind, setup, bad, bad, 1.0)
    seen, unseen = estimates(state, setup).core_c, estimates(blind, setup).core_c
    assert blind.blind_s == 60.0
    assert unseen.high - unseen.low > seen.high - seen.low + 8.0
    assert unseen.typical == pytest.approx(seen.typical, abs=5.0)
    assert step(blind, setup, 150.0, None, 1.0).blind_s == 0.0


@pytest.mark.parametrize("dt_s", [0.0, -1.0, nan, inf])
def test_a_step_of_no_time_changes_nothing(dt_s: float) -> None:
    setup = set_up(SHEET)
    state = held(start(setup), setup, 100.0, 0.1)
    assert step(state, setup, 500.0, 500.0, dt_s) is state


def test_the_same_readings_give_the_same_estimate_to_the_bit() -> None:
    setup = set_up(SHEET)
    one, two = (led(start(setup), setup, 200.0, 250.0) for _ in range(2))
    assert one == two
    assert set_up(SHEET) == setup


def test_a_forecasts_long_steps_are_near_enough() -> None:
    setup = set_up(SHEET)
    exact = start(setup)
    for tick in range(1800):
        exact = step(exact, setup, 20.0 + 0.1 * tick, None, 1.0)
    coarse = start(setup)
    for tick in range(60):
        coarse = step(coarse, setup, 20.0 + 0.1 * (30 * tick + 29), None, 30.0, 30.0)
    a, b = estimates(exact, setup), estimates(coarse, setup)
    assert b.core_c.typical == pytest.approx(a.core_c.typical, abs=1.0)
    assert b.water_kg.typical == pytest.approx(a.water_kg.typical, abs=0.005)


def test_a_gap_in_the_ticks_is_bridged_near_enough() -> None:
    setup = set_up(SHEET)
    hot = held(start(setup), setup, 150.0, 2.0)
    ticked, leapt = held(hot, setup, 200.0, 1.0, 5.0), step(hot, setup, 200.0, None, 3600.0)
    a, b = estimates(ticked, setup), estimates(leapt, setup)
    assert b.core_c.typical == pytest.approx(a.core_c.typical, abs=0.5)
    assert b.plastic_kg.typical == pytest.approx(a.plastic_kg.typical, rel=0.03)


def test_weighing_the_drained_plastic_closes_the_band() -> None:
    setup = set_up(SHEET)
    hot = held(led(start(setup), setup, 80.0, 210.0), setup, 210.0, 0.5)
    before, after = estimates(hot, setup).plastic_kg, estimates(weigh(hot, setup, 0.31), setup).plastic_kg
    assert after.typical == pytest.approx(0.17, abs=0.005)
    assert after.high - after.low < 0.2 * (before.high - before.low)


def test_the_late_shell_is_thicker_wetter_and_fuller() -> None:
    for sheet in (JobSheet(), SHEET, JobSheet(mould="gypsum-bonded", material="castable resin")):
        early, typical, late = (variant.make for variant in variants(known(sheet)))
        for low, high in ((early, typical), (typical, late)):
            assert low.wall.thickness_m < high.wall.thickness_m
            assert low.full_kg_per_m2 < high.full_kg_per_m2
            assert low.plastic_kg_per_m2 < high.plastic_kg_per_m2
            assert low.pores.permeability_m2 > high.pores.permeability_m2


def test_what_was_weighed_is_in_the_shell() -> None:
    for lateness, variant in enumerate(variants(known(SHEET))):
        water_kg = variant.make.full_kg_per_m2 * variant.area_m2
        plastic_kg = variant.make.plastic_kg_per_m2 * variant.area_m2
        dry_kg = variant.make.wall.thickness_m * 1650.0 * variant.area_m2
        assert water_kg == pytest.approx((0.1435, 0.15, 0.1565)[lateness])
        assert plastic_kg == pytest.approx((0.4752, 0.48, 0.4848)[lateness])
        assert dry_kg == pytest.approx((3.131, 3.1, 3.069)[lateness])


def test_without_a_weighed_shell_its_wall_comes_from_the_patterns_volume() -> None:
    sheet = JobSheet(material="PLA", pattern_kg=0.372, fill=0.3)
    typical = variants(known(sheet))[1]
    assert typical.area_m2 == pytest.approx(10.0 * 0.001 ** (2.0 / 3.0))  # one litre
    assert typical.make.full_kg_per_m2 == pytest.approx(0.04 * 0.009 * 1650.0)


def test_a_green_wall_bears_a_part_of_its_modulus_of_rupture() -> None:
    assert pull_pa(known(JobSheet())).typical == pytest.approx(3.5e6 * 0.4)
    assert pull_pa(known(JobSheet(mould="gypsum-bonded"))).typical == pytest.approx(1.2e6 * 0.4)
    assert push_pa(known(JobSheet(fill=1.0, thickest_m=0.03)), 1) == pytest.approx(
        push_pa(known(JobSheet(fill=1.0)), 1)
    )
    assert push_pa(known(JobSheet(fill=0.3, thickest_m=0.06)), 1) > push_pa(known(JobSheet(fill=0.3)), 1)


def test_a_shells_limits_say_what_hollow_changes_and_what_thick_plaster_cannot_bear() -> None:
    solid = shell_limits(known(JobSheet(material="PLA", fill=1.0, coats=9)))
    hollow = shell_limits(known(JobSheet(material="PLA", fill=0.15, skin_m=0.8e-3, coats=9)))
    plaster = shell_limits(known(JobSheet(material="castable resin", mould="gypsum-bonded")))
    assert solid.cracks_at_c[1] is not None
    assert hollow.cracks_at_c[1] is None
    assert solid.push_pa.typical > 5.0 * hollow.push_pa.typical
    assert plaster.wet_c_per_h.low < hollow.wet_c_per_h.low
    assert plaster.gentle_s.typical > 10.0 * hollow.gentle_s.typical
    for limits in (solid, hollow, plaster):
        for band in (limits.push_pa, limits.wet_face_c, limits.pocket_c, limits.wet_c_per_h, limits.gentle_s):
            assert band.low <= band.typical <= band.high
            assert band.weak


def test_an_empty_shell_is_pushed_by_nothing() -> None:
    empty = shell_limits(known(JobSheet(reheated=True)))
    assert empty.cracks_at_c == (None, None, None)
    assert empty.push_pa.high == 0.0
