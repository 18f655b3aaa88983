"""A whole shell, step by step: mass is kept, water holds it back, plastic runs, goes and leaves its char."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from controller.physics.band import Band, about, exactly, over, times
from controller.physics.curve import at, constant, through
from controller.physics.decay import char_kinetics, kinetics
from controller.physics.shell import (
    Plastic,
    ShellMake,
    ShellState,
    core_c,
    plastic_body,
    plastic_kg_per_m2,
    shell_at,
    shell_step,
    steam_pa,
    weighed,
)
from controller.physics.sintering import (
    ENERGY_J_PER_MOL,
    FULL_WORK_S,
    hold_for_s,
    strength_pa,
    strength_part,
    work_s,
)
from controller.physics.wall import Outside, Wall, pinned
from controller.physics.water import Pores

MAKE = ShellMake(
    wall=Wall(0.009, constant(0.85), constant(1.5e6)),
    pores=Pores(1e-14, 0.25),
    full_kg_per_m2=0.7,
    plastic_kg_per_m2=3.0,
    pocket_part=0.1,
    drain_m=0.15,
    plastic=Plastic(
        1240.0, 0.13, 1800.0, 28e3, 155.0, 20.0, 1000.0, kinetics(181e3, 365.0), 0.01, char_kinetics(1)
    ),
    sinter_j_per_mol=340e3,
)


def heated(state: ShellState, c: float, seconds: int, make: ShellMake = MAKE, **more: float) -> ShellState:
    for _ in range(seconds):
        state = shell_step(state, make, pinned(c), 1.0, **more)
    return state


def all_plastic(state: ShellState, char_burnt: float = 0.0) -> float:
    return (
        plastic_kg_per_m2(state)
        + state.drained_kg_per_m2
        + state.vapour_kg_per_m2
        + state.char_kg_per_m2
        + char_burnt
    )


def test_a_shell_left_alone_does_not_change_but_dries_a_little() -> None:
    after = heated(shell_at(20.0, MAKE), 20.0, 600)
    assert 0.9 * 0.7 < after.water_kg_per_m2 < 0.7
    assert core_c(after) < 20.0  # drying cools
    assert core_c(after) > 5.0
    assert plastic_kg_per_m2(after) == pytest.approx(3.0)
    assert after.heat_work_s == 0.0


@given(st.floats(-20.0, 1300.0), st.floats(0.01, 3600.0), st.floats(-20.0, 900.0))
@settings(max_examples=60, deadline=None)
def test_no_step_makes_mass_or_leaves_the_bounds(c: float, dt_s: float, first_c: float) -> None:
    before = shell_at(first_c, MAKE)
    after = shell_step(before, MAKE, Outside(c, 10.0, c, 0.7), dt_s, 0.0)
    assert 0.0 <= after.water_kg_per_m2 <= 0.7
    assert all_plastic(after) == pytest.approx(3.0)
    assert min(after[3:10]) >= 0.0
    assert max(after.cells_c) <= max(c, first_c) + 1e-6


def test_a_wet_wall_stays_behind_and_steams_until_it_is_dry() -> None:
    soaked = MAKE._replace(full_kg_per_m2=2.5)
    dry = shell_at(95.0, soaked)._replace(water_kg_per_m2=0.0)
    wet, dried = (heated(state, 180.0, 120, soaked) for state in (shell_at(95.0, soaked), dry))
    assert core_c(wet) < core_c(dried) - 20.0
    assert steam_pa(wet, soaked) > 0.0
    assert steam_pa(dried, soaked) == 0.0
    gone = heated(wet, 180.0, 1800, soaked)
    assert gone.water_kg_per_m2 == 0.0
    assert core_c(gone) == pytest.approx(180.0, abs=1.0)


def test_the_melt_runs_out_as_a_thinning_film_and_the_pockets_stay() -> None:
    hot = shell_at(200.0, MAKE)._replace(water_kg_per_m2=0.0)
    one, four = (heated(hot, 200.0, t_s, oxygen_kg_per_m2_s=0.0) for t_s in (1800, 7200))
    assert one.pocket_kg_per_m2 == pytest.approx(0.3, rel=1e-3)
    assert four.clinging_kg_per_m2 == pytest.approx(one.clinging_kg_per_m2 / 2.0, rel=0.01)  # as 1 / sqrt(t)
    assert all_plastic(four) == pytest.approx(3.0)


def test_a_network_does_not_drain() -> None:
    network = MAKE._replace(plastic=MAKE.plastic._replace(runs_c=1e4))
    after = heated(shell_at(200.0, network), 200.0, 600, network)
    assert after.drained_kg_per_m2 == 0.0
    assert plastic_kg_per_m2(after) == pytest.approx(3.0, rel=1e-3)


def test_melting_takes_its_heat_once() -> None:
    state = shell_at(155.0, MAKE)._replace(water_kg_per_m2=0.0)
    melting, molten = plastic_body(state, MAKE), plastic_body(state._replace(plastic_c=170.0), MAKE)
    assert (melting.j_per_m2_k - molten.j_per_m2_k) * 20.0 == pytest.approx(3.0 * 28e3)


def test_char_without_air_stays_and_with_air_burns() -> None:
    dry = shell_at(20.0, MAKE)._replace(water_kg_per_m2=0.0)
    charred = heated(dry, 450.0, 2400, oxygen_kg_per_m2_s=0.0)
    assert plastic_kg_per_m2(charred) == 0.0
    assert charred.char_kg_per_m2 == pytest.approx(0.01 * (3.0 - charred.drained_kg_per_m2), rel=1e-3)
    closed = heated(charred, 700.0, 600, oxygen_kg_per_m2_s=0.0)
    assert closed.char_kg_per_m2 == charred.char_kg_per_m2
    assert heated(charred, 700.0, 600).char_kg_per_m2 == 0.0
    starved = heated(closed, 700.0, 100, oxygen_kg_per_m2_s=1e-5)  # 2.664 kg of oxygen for each of carbon
    assert charred.char_kg_per_m2 - starved.char_kg_per_m2 == pytest.approx(100e-5 / 2.664, rel=0.01)


def test_weighing_what_drained_settles_what_is_left() -> None:
    hot = heated(shell_at(200.0, MAKE)._replace(water_kg_per_m2=0.0), 200.0, 900)
    for drained in (0.5, 2.5, 2.95):
        told = weighed(hot, MAKE, drained)
        assert plastic_kg_per_m2(told) == pytest.approx(3.0 - drained - hot.vapour_kg_per_m2, rel=1e-2)
        assert told.clinging_kg_per_m2 <= hot.clinging_kg_per_m2
        assert told.pocket_kg_per_m2 >= 0.0
    assert plastic_kg_per_m2(weighed(hot, MAKE, 5.0)) == 0.0


def test_heat_work_is_the_cores_time_at_815_c() -> None:
    hot = shell_at(815.0, MAKE)._replace(water_kg_per_m2=0.0, clinging_kg_per_m2=0.0, pocket_kg_per_m2=0.0)
    assert heated(hot, 815.0, 1800).heat_work_s == pytest.approx(1800.0, rel=1e-6)


def test_the_remedy_for_a_firing_that_is_too_short_is_the_time_that_is_missing() -> None:
    hours = hold_for_s(780.0, 1800.0, 340e3)
    assert hours > 1800.0
    assert work_s(780.0, hours, 340e3) == pytest.approx(1800.0)


def test_strength_grows_from_green_to_fired_and_never_back() -> None:
    assert strength_part(0.0) == 0.0
    assert FULL_WORK_S == 2.0 * 3600.0  # two hours near 1500 F; common practice, no source
    assert strength_part(FULL_WORK_S) == pytest.approx(0.95)
    assert strength_part(100.0) < strength_part(200.0) < 1.0
    assert strength_pa(0.0) == pytest.approx(3.5e6)
    assert strength_pa(1e6, 2) == pytest.approx(10e6)
    assert ENERGY_J_PER_MOL.holds(ENERGY_J_PER_MOL.typical)


def test_bands_multiply_and_divide_by_their_limits_and_stay_weak() -> None:
    one, two = Band(1.0, 2.0, 3.0, "a"), exactly(4.0, "b")
    assert times(one, two, "c")[:3] == (4.0, 8.0, 12.0)
    assert over(two, one, "c")[:3] == pytest.approx((4.0 / 3.0, 2.0, 4.0))
    assert times(one, two, "c").weak
    assert not times(two, two, "c").weak
    assert about(10.0, 0.1, "d")[:3] == pytest.approx((9.0, 10.0, 11.0))
    assert [one.at(level) for level in range(3)] == [1.0, 2.0, 3.0]


def test_a_curve_is_straight_between_its_points_and_flat_beyond() -> None:
    curve = through(((20.0, 1.0), (100.0, 2.0), (200.0, 4.0)), 20.0)
    assert [at(curve, c) for c in (-50.0, 20.0, 60.0, 150.0, 200.0, 900.0)] == pytest.approx(
        [1.0, 1.0, 1.5, 3.0, 4.0, 4.0]
    )
    assert at(constant(7.0), -300.0) == 7.0
