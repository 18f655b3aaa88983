"""The shell's wall against exact solutions of the heat equation, at the grid and the tick that run live.

Sources: the plane-wall series (Incropera and others, Fundamentals of Heat and Mass Transfer, section 5.5,
table 5.1 and the worked pipeline example; from memory, redone with scipy); a ramp's lag and Kirchhoff's
transform (Carslaw and Jaeger, Conduction of Heat in Solids); radiation of a lumped body (Bejan and Kraus,
Heat Transfer Handbook, equation 3.283); properties of fused-silica brick (VDI Heat Atlas, by way of `ht`).
"""

from __future__ import annotations

from math import sin

import pytest
from ht.insulation import refractory_VDI_Cp, refractory_VDI_k

from controller.physics.curve import at, constant, through
from controller.physics.silica import (
    BRICK_J_PER_KG_K,
    BRICK_W_PER_M_K,
    CONTACT,
    POROSITY,
    TABLE_STEP_K,
    porosity_factor,
    shell_j_per_m3_k,
    shell_kg_per_m3,
    shell_w_per_m_k,
)
from controller.physics.wall import (
    CELLS,
    Body,
    Outside,
    Taken,
    Wall,
    even_wall,
    heat_wall,
    inner_face_c,
    mean_c,
    outer_face_c,
    pinned,
)
from tests.physics.shell.plane_wall import Cooled, falls_by, ours, roots, series, steps_of_a_tick

TABLE = {  # (Bi, Fo): forty terms, worked out with scipy by another hand
    (0.5, 1.2): Cooled(0.641249, 0.509216, 0.403398),
    (1.0, 0.2): Cooled(0.950642, 0.643391, 0.148405),
    (1.0, 1.0): Cooled(0.533859, 0.348177, 0.529603),
    (5.0, 0.5): Cooled(0.523109, 0.133032, 0.614825),
    (0.1, 2.0): Cooled(0.837326, 0.797144, 0.176111),
}


@pytest.mark.parametrize(
    ("biot", "zeta", "c1"),
    [
        (0.1, 0.3111, 1.0161),
        (0.5, 0.6533, 1.0701),
        (1.0, 0.8603, 1.1191),
        (5.0, 1.3138, 1.2402),
        (10.0, 1.4289, 1.2620),
    ],
)
def test_the_series_has_the_coefficients_of_table_5_1(biot: float, zeta: float, c1: float) -> None:
    """Incropera and others, table 5.1; from memory."""
    first = roots(biot)[0]
    assert first == pytest.approx(zeta, abs=6e-5)
    assert 4.0 * sin(first) / (2.0 * first + sin(2.0 * first)) == pytest.approx(c1, abs=6e-5)


@pytest.mark.parametrize(("biot", "fourier"), TABLE)
def test_the_series_is_the_table(biot: float, fourier: float) -> None:
    assert series(biot, fourier) == pytest.approx(TABLE[biot, fourier], abs=2e-6)


@pytest.mark.parametrize(("biot", "fourier"), TABLE)
def test_the_wall_is_within_half_a_per_cent_and_half_a_kelvin(biot: float, fourier: float) -> None:
    """A 9-mm shell at the live grid and tick, first 100 K hotter than the air."""
    found = ours(biot, fourier, CELLS, steps_of_a_tick(fourier), first_k=100.0)
    exact = TABLE[biot, fourier]
    assert found == pytest.approx(exact, rel=0.005)
    assert 100.0 * found.inner == pytest.approx(100.0 * exact.inner, abs=0.5)
    assert 100.0 * found.outer == pytest.approx(100.0 * exact.outer, abs=0.5)


def test_the_worked_example() -> None:
    """A pipe's wall of 40 mm with hot oil on one side, after 8 min: exact 43.02 and 45.36 C."""
    wall = Wall(0.04, constant(63.9), constant(7832.0 * 434.0))
    oil = Outside(60.0, 500.0)
    cells = even_wall(-20.0)
    for _ in range(480):
        cells = heat_wall(cells, wall, oil, 1.0).cells_c
    assert inner_face_c(cells) == pytest.approx(43.02, abs=0.1)
    assert outer_face_c(cells, wall, oil) == pytest.approx(45.36, abs=0.1)


def test_halving_the_cells_quarters_the_error() -> None:
    exact = series(5.0, 0.5)
    errors = [abs(ours(5.0, 0.5, cells, 3000).inner - exact.inner) for cells in (5, 10, 20, 40)]
    assert all(3.5 < times < 4.5 for times in falls_by(errors)), errors


@pytest.mark.parametrize(("biot", "fourier"), [(1.0, 1.0), (5.0, 0.5)])
def test_the_live_tick_errs_no_more_than_the_live_grid_and_half_a_tick_hardly_at_all(
    biot: float, fourier: float
) -> None:
    ticks = steps_of_a_tick(fourier)
    tick, half, fine = (ours(biot, fourier, CELLS, ticks * parts).inner for parts in (1, 2, 40))
    grid_error = abs(fine - series(biot, fourier).inner)
    assert abs(tick - fine) < 1.2 * grid_error
    assert abs(half - fine) < 0.02 * grid_error


def test_steps_far_longer_than_the_wall_settles_do_not_ring() -> None:
    """An hour's step for a wall that settles in two minutes: between where it was and where it goes."""
    wall = Wall(0.009, constant(0.85), constant(1.5e6))
    cells = heat_wall(even_wall(20.0), wall, pinned(800.0), 3600.0).cells_c
    assert all(20.0 <= c <= 800.0 for c in cells)
    assert list(cells) == sorted(cells, reverse=True)


@pytest.mark.parametrize("rate_c_per_h", [60.0, 300.0])
def test_a_ramps_lag_is_rate_l_squared_over_2_alpha(rate_c_per_h: float) -> None:
    """A slab heated on one face, once the ramp has lasted (Carslaw and Jaeger)."""
    wall, rate_k_per_s = Wall(0.012, constant(0.6), constant(1.6e6)), rate_c_per_h / 3600.0
    cells, face_c = even_wall(0.0), 0.0
    for _ in range(3600):
        face_c += rate_k_per_s
        cells = heat_wall(cells, wall, pinned(face_c), 1.0).cells_c
    lag_k = rate_k_per_s * 0.012**2 / (2.0 * 0.6 / 1.6e6)
    assert face_c - inner_face_c(cells) == pytest.approx(lag_k, rel=0.01)


def test_radiation_cools_a_thin_wall_as_the_closed_form_says() -> None:
    """rho c L 1e4 J/m2K, emissivity 1, surroundings 300 K: from 1000 to 500 K in 439.794 s."""
    wall = Wall(0.005, constant(1000.0), constant(1e4 / 0.005))
    cells = even_wall(1000.0 - 273.15)
    space = Outside(0.0, 0.0, 300.0 - 273.15, 1.0)
    for _ in range(440):
        cells = heat_wall(cells, wall, space, 439.794 / 440).cells_c
    assert mean_c(cells) + 273.15 == pytest.approx(500.0, abs=0.5)


def test_conductivity_that_rises_with_temperature_passes_its_integral() -> None:
    """Kirchhoff: steady flow through a wall is the integral of k dT over its thickness."""
    k = through(((0.0, 0.5), (1000.0, 1.5)), 20.0)
    wall = Wall(0.01, k, constant(1e6))
    cells = even_wall(400.0, 40)
    sink = Body(0.0, 1e15, 1e7)
    for _ in range(200):
        after = heat_wall(cells, wall, pinned(800.0), 20.0, sink)
        cells = after.cells_c
    integral = 0.5 * 800.0 + (1.5 - 0.5) / 1000.0 * 800.0**2 / 2.0
    assert after.got_j_per_m2 / 20.0 == pytest.approx(integral / 0.01, rel=0.002)


def test_what_comes_in_is_stored_or_taken() -> None:
    wall = Wall(0.009, constant(0.85), constant(1.5e6))
    cells, body_c = even_wall(20.0), 20.0
    got = taken = 0.0
    for _ in range(300):
        body = Body(body_c, 4000.0, 100.0)
        after = heat_wall(cells, wall, Outside(700.0, 10.0, 750.0, 0.7), 1.0, body, Taken(4, 5000.0, 20.0))
        cells, body_c = after.cells_c, after.body_c
        got += after.got_j_per_m2
        taken += after.taken_j_per_m2
    stored = 1.5e6 * 0.009 * (mean_c(cells) - 20.0) + 4000.0 * (body_c - 20.0)
    assert taken > 0.1 * got
    assert got == pytest.approx(stored + taken, rel=1e-9)


def test_added_heat_capacity_is_stored_too_whatever_the_step() -> None:
    wall = Wall(0.009, constant(0.85), constant(1.5e6))
    cells, got, added = even_wall(20.0), 0.0, (0.0,) * 5 + (800.0,) * 5
    for _ in range(40):
        after = heat_wall(cells, wall, pinned(300.0), 4.0, added_j_per_m2_k=added)
        cells, got = after.cells_c, got + after.got_j_per_m2
    stored = sum((1350.0 + more) * (c - 20.0) for c, more in zip(cells, added, strict=True))
    assert got == pytest.approx(stored, rel=1e-9)


@pytest.mark.parametrize("c", [400.0, 600.0, 800.0, 1000.0])
def test_the_bricks_properties_are_the_handbooks(c: float) -> None:
    k, heat = through(BRICK_W_PER_M_K, TABLE_STEP_K), through(BRICK_J_PER_KG_K, TABLE_STEP_K)
    assert at(k, c) == pytest.approx(refractory_VDI_k("Fused silica", c + 273.15), rel=1e-6)
    assert at(heat, c) == pytest.approx(refractory_VDI_Cp("Fused silica", c + 273.15), rel=1e-6)


def test_a_shell_conducts_as_much_and_is_as_heavy_as_shells_are_said_to_be() -> None:
    """0.4 to 1.2 W/(m K) and 1500 to 1800 kg/m3; from memory, weak."""
    brick_porosity = 1.0 - 1940.0 / 2200.0
    assert at(shell_w_per_m_k(brick_porosity, 1.0), 600.0) == pytest.approx(1.53)
    low, typical, high = (at(shell_w_per_m_k(0.25, CONTACT.at(level)), 600.0) for level in range(3))
    assert (low > 0.4, typical, high < 1.2) == (True, pytest.approx(0.85, abs=0.02), True)
    assert 1500.0 < shell_kg_per_m3(POROSITY.high) < shell_kg_per_m3(POROSITY.low) < 1810.0
    assert at(shell_j_per_m3_k(0.25), 600.0) == pytest.approx(1650.0 * 946.0)
    assert at(shell_j_per_m3_k(0.25), 20.0) == pytest.approx(1650.0 * 740.0)


@pytest.mark.parametrize(("porosity", "factor"), [(0.1, 0.846), (0.2, 0.687), (0.3, 0.526)])
def test_pores_lower_conductivity_as_published(porosity: float, factor: float) -> None:
    """Xu, Lekakh, Richards, Int J Metalcasting 2016."""
    assert porosity_factor(porosity) == pytest.approx(factor, abs=6e-4)
