"""The judgements of bring-up at their boundaries, and the first model on lines that are known."""

from __future__ import annotations

import pytest

from controller.commissioning import judge, limits
from controller.commissioning.model import Point, fit, tuning
from controller.commissioning.result import Check, Done


def passes(*checks: Check) -> list[bool]:
    return [check.passed for check in checks]


def test_no_check_at_all_is_no_pass() -> None:
    assert not Done(()).passed


@pytest.mark.parametrize(
    ("readings", "fine"),
    [
        ([20.0, 22.0], True),
        ([20.0, 22.1], False),
        ([-10.0], True),
        ([-10.1], False),
        ([50.0], True),
        ([50.1], False),
        ([20.0, None], False),
        ([None], False),
        ([], False),
    ],
)
def test_a_sensor_is_found_when_it_is_good_steady_and_at_a_temperature_one_can_touch(
    readings: list[float | None], fine: bool
) -> None:
    assert judge.found("air", readings).passed is fine


@pytest.mark.parametrize(
    ("readings", "rises", "right_way"),
    [
        ([20.5, 22.0], True, True),
        ([20.5, 21.9], False, True),
        ([19.0, 22.0], True, True),
        ([18.9, 22.0], True, False),
        ([18.0], False, False),
        ([None, 22.0], False, True),
        ([], False, False),
    ],
)
def test_a_warmed_sensor_rises_by_two_kelvin_and_never_falls_by_more_than_one(
    readings: list[float | None], rises: bool, right_way: bool
) -> None:
    assert passes(*judge.warmed("air", 20.0, readings)) == [rises, right_way]


@pytest.mark.parametrize(
    ("other_k", "fine"), [(0.0, True), (1.0, True), (2.0, True), (2.1, False), (9.0, False)]
)
def test_another_sensor_may_rise_by_half_at_most(other_k: float, fine: bool) -> None:
    assert judge.the_right_one("air", {"air": 4.0, "load": other_k}).passed is fine


def test_the_only_sensor_is_the_right_one() -> None:
    assert judge.the_right_one("air", {"air": 4.0}).passed


@pytest.mark.parametrize(
    ("c", "fine"), [(-10.0, True), (-10.1, False), (54.9, True), (55.0, False), (None, False)]
)
def test_the_enclosure_is_below_where_the_guard_warns(c: float | None, fine: bool) -> None:
    assert judge.enclosure([20.0 if c is None else c, c], 55.0).passed is fine


@pytest.mark.parametrize(
    ("limit_c", "room_c", "fine"),
    [
        (26.5, 20.0, [True, True]),
        (26.6, 20.0, [False, True]),
        (20.0, 30.0, [True, True]),
        (20.0, 30.1, [True, False]),
        (20.0, None, [True, False]),
        (None, 20.0, [False, False]),
    ],
)
def test_thermocouples_agree_within_their_class_and_four_kelvin(
    limit_c: float | None, room_c: float | None, fine: list[bool]
) -> None:
    # Class 2 of types K and N is 2.5 K at room temperature (IEC 60584-1, two secondary pages agree).
    assert limits.AGREE_K == 2.5 + 4.0
    readings = {"air": [20.0, 20.0], "limit": [limit_c, limit_c]}
    assert passes(*judge.agreement(readings, room_c)) == fine


def test_no_thermocouple_at_all_does_not_agree() -> None:
    assert passes(*judge.agreement({}, 20.0)) == [False, False]


@pytest.mark.parametrize(
    "seen", [(True, False, None), (True, True, True), (False, False, True), (None, None, None)]
)
def test_a_contact_must_be_well_then_open_then_well(
    seen: tuple[bool | None, bool | None, bool | None],
) -> None:
    assert all(passes(*judge.contact("door", True, False, True)))
    assert not all(passes(*judge.contact("door", *seen)))


@pytest.mark.parametrize(
    ("lasted_s", "fine"), [(1.7, False), (1.8, True), (3.0, True), (4.2, True), (4.3, False), (None, False)]
)
def test_a_lease_ends_after_a_tick_and_within_a_second_of_its_end(lasted_s: float | None, fine: bool) -> None:
    assert judge.lease_end(3.0, 2.0, lasted_s, 0.2).passed is fine


@pytest.mark.parametrize("rows", [(), ("door_open",), ("ceiling", "sensor_bad")])
def test_only_the_ceiling_s_own_trip_counts(rows: tuple[str, ...]) -> None:
    assert judge.tripped(("ceiling",)).passed
    assert not judge.tripped(rows).passed


@pytest.mark.parametrize(
    ("hottest_c", "trips", "fine"),
    [
        (30.0, (), [True, True]),
        (29.9, (), [False, True]),
        (None, (), [False, True]),
        (60.0, ("surge",), [True, False]),
    ],
)
def test_a_low_heat_is_ten_kelvin_without_a_trip(
    hottest_c: float | None, trips: tuple[str, ...], fine: list[bool]
) -> None:
    assert passes(*judge.low_heat(20.0, hottest_c, trips)) == fine


@pytest.mark.parametrize(
    ("rise_k_per_min", "dead_s", "fine"),
    [
        (0.2, 60.0, [True, True]),
        (0.19, 60.0, [False, True]),
        (60.0, 600.0, [True, True]),
        (61.0, 601.0, [False, False]),
    ],
)
def test_a_model_beyond_any_kiln_is_refused(rise_k_per_min: float, dead_s: float, fine: list[bool]) -> None:
    figures = {"rise_k_per_s": rise_k_per_min / 60.0, "dead_s": dead_s}
    assert passes(*judge.model(figures)) == fine
    assert passes(*judge.model({})) == [False]


# --- the first model


def line(dead_s: float, k_per_s: float, share: int = 1) -> list[Point]:
    return [Point(float(t), 20.0 + max(0.0, (t - dead_s) * k_per_s), t % share == 0) for t in range(301)]


@pytest.mark.parametrize(("dead_s", "k_per_s"), [(0.0, 0.1), (60.0, 0.15), (120.0, 0.05)])
def test_a_dead_time_and_a_line_are_found_again(dead_s: float, k_per_s: float) -> None:
    found = fit(line(dead_s, k_per_s))
    assert found is not None
    assert found.rise_k_per_s == pytest.approx(k_per_s)
    assert found.dead_s == pytest.approx(dead_s, abs=1e-6)
    assert found.heat_share == 1.0


def test_heat_for_half_of_the_time_counts_half() -> None:
    found = fit(line(30.0, 0.1, share=2))
    assert found is not None
    assert found.rise_k_per_s == pytest.approx(0.2, rel=0.01)


def test_what_was_measured_before_the_first_heat_does_not_count() -> None:
    cold = [Point(t - 100.0, 20.0, False) for t in range(100)]
    found = fit(cold + line(60.0, 0.15))
    assert found is not None
    assert found.dead_s == pytest.approx(60.0, abs=1e-6)


@pytest.mark.parametrize(
    "points",
    [
        [],
        line(0.0, 0.0),
        line(0.0, -0.1),
        line(0.0, 0.1)[:4],
        [Point(float(t), 20.0 + t, False) for t in range(99)],
    ],
)
def test_no_rise_or_no_heat_gives_no_model(points: list[Point]) -> None:
    assert fit(points) is None


def test_the_first_tuning_is_simc_s_for_an_integrating_process() -> None:
    # Skogestad, J Process Control 13 (2003) 291, tauc = theta: Kc = 1 / (k' 2 theta), tauI = 8 theta.
    advice = tuning(0.15, 60.0, 6500.0)
    assert advice.gain_per_k == pytest.approx(1 / (0.15 * 120.0))
    assert advice.integral_s == 480.0
    assert advice.heat_capacity_j_per_k == pytest.approx(6500.0 / 0.15)
    assert tuning(0.15, 0.0, 6500.0).gain_per_k < 1.0
