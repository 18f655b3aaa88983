"""Cooling out of the kiln against closed forms, scipy, and a table worked out by another hand.

Sources: Bejan and Kraus, Heat Transfer Handbook, equation 3.283 (radiation of a lumped body); Carslaw and
Jaeger, Conduction of Heat in Solids (a lump on a half-space; from memory).
"""

from __future__ import annotations

from math import atan, log, sqrt

import pytest
from scipy.integrate import solve_ivp
from scipy.special import erfcx

from controller.physics.constants import STEFAN_BOLTZMANN_W_PER_M2_K4
from controller.physics.cooling import (
    PLACES,
    Hot,
    air_w_per_m2,
    cools_s,
    hot_shell,
    pour_window_s,
    sand_only_c,
    sand_step,
)
from controller.physics.wall import even_wall

ABSOLUTE_ZERO_C = -273.15


def closed_form_s(from_k: float, to_k: float, room_k: float, j_per_m2_k: float) -> float:
    """Equation 3.283, for an emissivity of 1; its own limit for surroundings at absolute zero."""
    if room_k == 0.0:
        return j_per_m2_k / (3.0 * STEFAN_BOLTZMANN_W_PER_M2_K4) * (to_k**-3 - from_k**-3)

    def side(kelvin: float) -> float:
        return log(abs((room_k + kelvin) / (room_k - kelvin))) + 2.0 * atan(kelvin / room_k)

    return (side(to_k) - side(from_k)) * j_per_m2_k / (4.0 * STEFAN_BOLTZMANN_W_PER_M2_K4 * room_k**3)


@pytest.mark.parametrize(("room_k", "seconds"), [(300.0, 439.794), (0.0, 411.495)])
def test_radiation_alone_is_the_closed_form(room_k: float, seconds: float) -> None:
    """1e4 J/m2K, emissivity 1, from 1000 to 500 K."""
    assert closed_form_s(1000.0, 500.0, room_k, 1e4) == pytest.approx(seconds, abs=1e-3)
    hot = Hot(1e4, 1.0, 0.0, room_k + ABSOLUTE_ZERO_C)
    assert cools_s(hot, 1000.0 + ABSOLUTE_ZERO_C, 500.0 + ABSOLUTE_ZERO_C) == pytest.approx(seconds, abs=0.01)


@pytest.mark.parametrize(
    ("thickness_m", "emissivity", "to_700_600_500"),
    [
        (0.007, 0.8, (25, 58, 108)),
        (0.008, 0.8, (29, 67, 123)),
        (0.009, 0.8, (33, 75, 139)),
        (0.008, 0.5, (43, 98, 179)),
    ],
)
def test_a_shell_from_815_c_in_air(
    thickness_m: float, emissivity: float, to_700_600_500: tuple[int, ...]
) -> None:
    """Outer face only, lumped, 1650 kg/m3, 1100 J/kgK, 20 C, h 10: seconds to 700, 600 and 500 C."""
    hot = Hot(1650.0 * 1100.0 * thickness_m, emissivity, 10.0)
    found = tuple(round(cools_s(hot, 815.0, c)) for c in (700.0, 600.0, 500.0))
    assert found == to_700_600_500


def test_air_and_radiation_together_are_scipys() -> None:
    hot = Hot(14500.0, 0.65, 12.0, 25.0)
    seconds = cools_s(hot, 815.0, 400.0)
    solved = solve_ivp(
        lambda _, c: [-air_w_per_m2(hot, c[0]) / hot.j_per_m2_k],
        (0.0, seconds),
        [815.0],
        rtol=1e-9,
        atol=1e-6,
    )
    assert solved.y[0][-1] == pytest.approx(400.0, abs=1e-3)


@pytest.mark.parametrize("seconds", [10.0, 60.0, 600.0])
def test_sand_alone_is_the_closed_form(seconds: float) -> None:
    """exp(b^2 t) erfc(b sqrt t), by scipy, and our stepped sand within 1 K of it."""
    hot = Hot(14500.0, 0.0, 0.0, 20.0, 1.0, 550.0)
    exact = 20.0 + 795.0 * float(erfcx(550.0 / 14500.0 * sqrt(seconds)))
    assert sand_only_c(hot, 815.0, seconds) == pytest.approx(exact, abs=1e-6)
    c, sand = 815.0, even_wall(20.0, 120)
    for _ in range(int(seconds * 2)):
        c, sand = sand_step(hot, c, sand, 0.5)
    assert c == pytest.approx(exact, abs=3.0 if seconds < 60.0 else 1.0)
    assert cools_s(hot, 815.0, c) == pytest.approx(seconds, rel=0.03)


def test_long_after_the_closed_form_does_not_overflow() -> None:
    hot = Hot(1000.0, 0.0, 0.0, 20.0, 1.0, 800.0)
    exact = 20.0 + 795.0 * float(erfcx(0.8 * 100.0))
    assert sand_only_c(hot, 815.0, 1e4) == pytest.approx(exact, abs=0.01)


def test_what_is_warmer_or_never_reached_takes_no_time_or_for_ever() -> None:
    hot = hot_shell(0.009, 1650.0, "in air")
    assert cools_s(hot, 600.0, 700.0) == 0.0
    assert cools_s(hot, 600.0, 20.0) == float("inf")
    warm_sand = hot_shell(0.009, 1650.0, "bedded in sand", sand_c=400.0)
    assert cools_s(warm_sand, 815.0, 400.0) == float("inf")


@pytest.mark.parametrize("place", PLACES)
def test_the_window_is_a_band_wide_enough_for_what_a_lump_leaves_out(place) -> None:  # type: ignore[no-untyped-def]
    window = pour_window_s(0.009, 1650.0, place, 815.0, 593.0)
    assert window.low < 0.6 * window.typical
    assert window.high > 1.4 * window.typical
    assert window.weak


def test_the_window_is_shorter_carried_than_standing_and_longer_in_hot_sand() -> None:
    carried, standing = (pour_window_s(0.009, 1650.0, place, 815.0, 593.0).typical for place in PLACES[:2])
    cold, hot = (
        pour_window_s(0.009, 1650.0, "bedded in sand", 815.0, 593.0, sand_c=c).typical for c in (20.0, 400.0)
    )
    assert carried < standing
    assert cold < hot
    assert standing < hot


def test_twice_the_wall_is_twice_the_time_in_air() -> None:
    thin, thick = (cools_s(hot_shell(m, 1650.0, "in air"), 815.0, 600.0) for m in (0.005, 0.010))
    assert thick == pytest.approx(2.0 * thin, rel=1e-9)
