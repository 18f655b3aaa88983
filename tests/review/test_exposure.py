"""What the shell went through, and how the kiln worked, on curves short enough to work out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from controller.physics.cones import CONES, FAST_C_PER_H, MEDIUM_C_PER_H, SLOW_C_PER_H
from controller.physics.sintering import ENERGY_J_PER_MOL, work_of_s
from controller.record.curve import NO_STAGE
from controller.review.exposure import rise_through_c_per_h
from controller.review.kiln_text import relay_life, tariff
from controller.review.measures import measure, warmth
from controller.review.switching import SHORTEST_STEADY_S, SteadyHold, steady_holds
from controller.schedule.model import Hold
from controller.tariff import Tariff
from tests.review.test_measures import DOWN, HOLD, RAMP, STOP, a_curve

POUR = Hold("pour", at_c=800.0, for_s=None, band_k=10.0, at_most_s=7200.0)


def rise(air_c: list[float], load_c: list[float] | float = np.nan, every_s: float = 600) -> float | None:
    curve = a_curve(every_s, air_c, stage=[0] * len(air_c), load_c=load_c)
    return rise_through_c_per_h(curve, warmth(curve))


def test_a_steady_rise_through_the_cracking_range_is_its_rate() -> None:
    steady = [20.0 + n for n in range(100)]  # 1 K a minute
    assert rise(steady, every_s=60) == pytest.approx(60.0)
    quick = [20.0] + [79.0] * 60 + [79.0 + 2.2 * n for n in range(11)] + [101.0] * 60
    assert rise(quick, every_s=60) == pytest.approx(132.0, rel=0.02)  # through it in nine minutes


def test_a_hold_on_the_way_does_not_hide_a_steep_rise() -> None:
    slow_then_held = [60.0 + n for n in range(31)] + [90.0] * 60 + [90.0 + n / 2 for n in range(30)]
    assert rise(slow_then_held, every_s=60) == pytest.approx(60.0, rel=0.1)


def test_noise_makes_little_of_a_rise() -> None:
    rng = np.random.default_rng(5)
    noisy = 60.0 + np.arange(400) / 6 + rng.normal(0, 0.5, 400)  # 60 C/h, a reading each 10 s
    assert rise(list(noisy), every_s=10) == pytest.approx(60.0, rel=0.06)


def test_the_rise_is_the_shells_where_it_was_measured() -> None:
    load_c = [20.0 + n for n in range(100)]
    assert rise([120.0] * 100, load_c, every_s=60) == pytest.approx(60.0)
    load_c[70:72] = [np.nan, np.nan]  # a gap that the air would fill with its own temperature
    air_c = [20.0 + n for n in range(100)]
    assert rise(air_c, load_c, every_s=60) == pytest.approx(60.0)


def test_a_kiln_that_begins_hot_or_stays_cold_has_no_such_rise() -> None:
    assert rise([85, 90, 120]) is None
    assert rise([20, 80, 99]) is None
    assert rise([20, 50, 120]) is None  # it was there in no time that a tick could tell
    assert rise([]) is None


def test_an_hour_at_815_is_an_hour_of_heat_work() -> None:
    m = measure(a_curve(60, [815.0] * 61, stage=[0] * 61))
    assert m.heat_work_h == pytest.approx(1.0)
    assert (m.hot_c, m.hot_h) == (500.0, pytest.approx(1.0))


def test_heat_work_is_physics_own_on_a_slow_curve() -> None:
    air_c = np.linspace(450.0, 815.0, 4000)
    points = [(10.0 * n, float(c)) for n, c in enumerate(air_c)]
    expected_h = work_of_s(points, ENERGY_J_PER_MOL.typical) / 3600
    m = measure(a_curve(10, list(air_c), stage=[0] * 4000))
    assert m.heat_work_h == pytest.approx(expected_h, rel=0.01)


@pytest.mark.parametrize("name", ["018", "017", "016"])
def test_a_cones_three_end_points_are_about_one_heat_work(name: str) -> None:
    """'Temperature Equivalents (C), Cone Numbers 022-14', 2016. Their own energies are near ours: 25 %."""
    cone = next(cone for cone in CONES if cone.name == name)
    works = []
    for end_c, per_h in zip(cone[1:], (SLOW_C_PER_H, MEDIUM_C_PER_H, FAST_C_PER_H), strict=True):
        air_c = np.arange(end_c - 200.0, end_c, per_h / 360.0)
        works.append(measure(a_curve(10, list(air_c), stage=[0] * len(air_c))).heat_work_h)
    assert max(works) / min(works) < 1.25


def test_every_moment_is_in_one_range() -> None:
    m = measure(a_curve(3600, [20, 150, 300, 500, 800, 800, 700], stage=[0] * 7))
    assert [(each.from_c, each.to_c, each.h) for each in m.ranges] == [
        (None, 100.0, 1.0),
        (100.0, 200.0, 1.0),
        (200.0, 350.0, 1.0),
        (350.0, 650.0, 1.0),
        (650.0, None, 2.0),
    ]


def test_the_wait_is_of_the_checkpoints_alone() -> None:
    curve = a_curve(600, [90, 100, 99, 98, 97, 60], stage=[0, 1, 2, 2, 3, 3])
    assert measure(curve, (RAMP, HOLD, STOP, DOWN)).wait_h == pytest.approx(1200 / 3600)
    assert measure(curve, (RAMP, HOLD, HOLD, DOWN)).wait_h is None


def test_the_pour_is_where_the_last_waiting_hold_was_released() -> None:
    curve = a_curve(60, [90, 800, 801, 790, 700], stage=[0, 1, 1, 1, 2], load_c=[80, 780, 790, np.nan, 700])
    assert measure(curve, (RAMP, POUR, DOWN)).pour_c == 790.0
    assert measure(curve, (RAMP, HOLD, DOWN)).pour_c is None


def test_duty_and_cycles_are_of_the_heat_that_was_on() -> None:
    on = [True, False, True, True, False, False, True, False, False]
    m = measure(a_curve(10, [20.0] * 9, stage=[0] * 9, heat_on=on))
    assert m.switchings == 3
    assert m.duty == pytest.approx(4 / 8)


def test_a_cost_wants_a_power_and_a_tariff() -> None:
    curve = a_curve(3600, [20.0] * 3, stage=[NO_STAGE] * 3, heat_on=True)
    priced = measure(curve, power_w=5000.0, tariff=Tariff(0.31, "EUR"))
    assert (priced.energy_kwh, priced.cost, priced.currency) == (10.0, pytest.approx(3.1), "EUR")
    assert measure(curve, tariff=Tariff(0.31, "EUR")).cost is None
    assert measure(curve, power_w=5000.0).cost is None


def test_a_steady_hold_tells_what_the_temperature_needed() -> None:
    steady = 91  # minutes, of which the first 15 settle
    on = [n % 4 == 0 for n in range(steady)]
    curve = a_curve(60, [100.5] * steady, stage=[1] * steady, heat_on=on)
    (hold,) = steady_holds(curve, (RAMP, HOLD))
    assert hold == SteadyHold(100.5, pytest.approx(75 / 60), pytest.approx(19 / 75, rel=0.02))


def test_a_hold_that_was_short_or_never_there_tells_nothing() -> None:
    ticks = int((900 + SHORTEST_STEADY_S) / 60)
    assert steady_holds(a_curve(60, [100.0] * ticks, stage=[0] * ticks), (HOLD,)) == ()
    assert len(steady_holds(a_curve(60, [100.0] * (ticks + 1), stage=[0] * (ticks + 1)), (HOLD,))) == 1
    assert steady_holds(a_curve(60, [50.0] * 90, stage=[0] * 90, setpoint_c=50.0), (HOLD,)) == ()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('tariff = "0.31 EUR/kWh"', Tariff(0.31, "EUR")),
        ('tariff = "31 ct/kWh"', Tariff(31.0, "ct")),
        ('tariff = "0.28 $/kWh"', Tariff(0.28, "$")),
        ('tariff = "0.31/kWh"', None),
        ('tariff = "EUR 0.31/kWh"', None),
        ("tariff = 0.31", None),
        ("= what", None),
    ],
)
def test_the_tariff_is_read_from_the_kilns_own_text(text: str, expected: Tariff | None) -> None:
    assert tariff(text) == expected


def test_the_relays_life_is_read_from_the_kilns_own_text() -> None:
    assert (relay_life("relay_life = 100000"), relay_life("relay_life = true"), relay_life("")) == (
        100_000,
        None,
        None,
    )
