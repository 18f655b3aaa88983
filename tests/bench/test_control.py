"""The bench of the control: does it measure what it says?"""

from __future__ import annotations

import itertools
from dataclasses import replace
from math import nan
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from controller.control import Plan, Switching, Tuning
from controller.known_kiln import unknown_kiln
from controller.schedule.reader import read_schedule
from tests.bench import kept
from tests.bench.firings import UNHEATED_S, Fired, curve_of, fire, quality
from tests.bench.kilns import draw
from tests.bench.light import fire_light
from tests.bench.limit import BLOCKS_S, COUNT, PROBE, Limit, limit, plant_steps, response
from tests.bench.patterns import AHEAD_S, Course, even_rounds, least
from tests.bench.ripple import ripple_k, swing_k

SHORT = read_schedule(
    """
title = "Short"
[[stage]]
kind = "ramp"
name = "up"
to = "60 C"
rate = "250 C/h"
[[stage]]
kind = "hold"
name = "stay"
for = "25 min"
band = "15 K"
""",
    "short",
)
TICKS = 40
SOLID_STATE, CONTACTOR = Switching(2.0, 1.0, 1.0), Switching(20.0, 2.0, 2.0)


@pytest.fixture(scope="module")
def fired() -> Fired:
    drawn = draw(1000)
    return fire(drawn, plan(drawn.parameters.rated_power_w, drawn.switching), 5, schedule=SHORT)


def plan(power_w: float, switching: Switching) -> Plan:
    return Plan(Tuning(0.03, 900.0), switching, power_w, kiln=unknown_kiln(power_w), learns=True)


def test_without_guard_and_record_the_same_firing_comes_out_to_the_bit(fired: Fired) -> None:
    drawn = draw(1000)
    light = fire_light(drawn, plan(drawn.parameters.rated_power_w, drawn.switching), 5, schedule=SHORT)
    assert np.array_equal(light.true_c, fired.true_c)
    assert np.array_equal(light.curve.heat_on, fired.curve.heat_on)
    assert np.array_equal(light.curve.setpoint_c, fired.curve.setpoint_c, equal_nan=True)
    assert quality(light, SHORT) == quality(fired, SHORT)


def test_a_rise_that_nobody_heated_is_told_apart_and_one_that_was_is_not(fired: Fired) -> None:
    hold = np.flatnonzero(fired.curve.stage == 1)
    late = hold[-100:]
    true_c = fired.true_c.copy()
    true_c[late] = 60.0 + 7.0
    heat = fired.curve.heat_on.copy()
    heat[late[0] - int(UNHEATED_S) - 1 :] = False
    unheated = Fired(replace(fired.curve, heat_on=heat), true_c, fired.states)
    told = quality(unheated, SHORT)
    assert (told.overshoot_all_told_k, told.hold_error_all_told_k) == (7.0, 7.0)
    assert told.overshoot_k < 2.0
    assert told.hold_error_k < 2.0
    heat[late[0] - 5] = True  # a second of heat, five seconds before it rises
    told = quality(Fired(replace(fired.curve, heat_on=heat), true_c, fired.states), SHORT)
    assert (told.overshoot_k, told.hold_error_k) == (7.0, 7.0)


def test_air_that_is_too_cold_counts_whether_it_is_heated_or_not(fired: Fired) -> None:
    true_c = fired.true_c.copy()
    late = np.flatnonzero(fired.curve.stage == 1)[-100:]
    true_c[late] = 60.0 - 4.0
    heat = np.zeros_like(fired.curve.heat_on)
    told = quality(Fired(replace(fired.curve, heat_on=heat), true_c, fired.states), SHORT)
    assert told.hold_error_k == told.hold_error_all_told_k >= 4.0


def test_the_linear_plant_says_what_the_plant_does_with_a_little_more_heat() -> None:
    drawn = draw(1003)
    plant, other = drawn.plant(1), drawn.plant(1)
    for one in (plant, other):
        one.set_main(True)
        one.set_heat(True)
        one.advance(600.0)
        one.set_heat(False)
        one.advance(120.0)
    begins = np.array([plant.state])
    other.set_heat(True)
    for one in (plant, other):
        one.advance(1.0)
    other.set_heat(False)
    found, seen_k = response(plant_steps(drawn, begins, np.zeros(1)), np.eye(1, TICKS)[0]), []
    for _ in range(TICKS - 1):
        seen_k.append(other.state.air_probe_c - plant.state.air_probe_c)
        plant.advance(1.0)
        other.advance(1.0)
    assert found[1:TICKS] == pytest.approx(seen_k, rel=0.02, abs=1e-4)
    assert seen_k[-1] > 0.05


def test_the_limit_lies_between_the_floor_and_what_was_done(fired: Fired) -> None:
    found = limit(draw(1000), fired)
    assert 0.0 < found.floor_k_s < found.relay_k_s < found.own_k_s
    assert found.relay_k_s > 1.2 * found.floor_k_s  # a contactor's ripple is in it


def test_where_the_solver_gives_up_other_blocks_are_tried(
    fired: Fired, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []

    def gives_up(_drawn: object, _fired: object, block_s: int) -> Limit:
        tried.append(block_s)
        return Limit(nan, nan, 9.0) if len(tried) < 2 else Limit(1.0, 2.0, 9.0)

    monkeypatch.setattr("tests.bench.limit._limit", gives_up)
    assert limit(draw(1000), fired) == Limit(1.0, 2.0, 9.0)
    assert tried == list(BLOCKS_S[:2])


@pytest.mark.parametrize("switching", [SOLID_STATE, Switching(5.0, 2.0, 2.0), Switching(6.0, 2.0, 3.0)])
@pytest.mark.parametrize("duty", [0.2, 0.5, 0.7])
def test_no_pattern_is_better_than_what_the_search_finds_on_so_short_a_course(
    switching: Switching, duty: float
) -> None:
    ticks = 11
    steps = np.zeros((1, 3, 3))
    steps[0] = [[0.9, 0.0, 0.4], [0.2, 0.95, 0.0], [0.0, 0.0, 1.0]]
    course = Course(np.zeros(ticks + 1), np.ones(ticks + 1, bool), np.array([duty]))
    all_k_s = [
        error_k_s(steps[0], pattern, duty)
        for pattern in itertools.product((False, True), repeat=ticks)
        if allowed(pattern, switching)
    ]
    found = least(steps, course, switching, 1)
    assert found >= min(all_k_s) - 1e-9  # it breaks no rule of the relay
    assert found <= 1.1 * min(all_k_s)


def error_k_s(step: np.ndarray, pattern: tuple[bool, ...], duty: float) -> float:
    state, total = np.zeros(2), 0.0
    for on in pattern:
        state = step[:2, :2] @ state + step[:2, 2] * (on - duty)
        total += abs(state[1])
    return total


def allowed(pattern: tuple[bool, ...], switching: Switching) -> bool:
    """The relay's rules, written once more: shortest times, and no two beginnings within a cycle."""
    begins = [n for n, on in enumerate(pattern) if on and (n == 0 or not pattern[n - 1])]
    ends = [n for n, on in enumerate(pattern) if not on and n > 0 and pattern[n - 1]]
    on_s = [end - begin for begin, end in zip(begins, ends, strict=False)]
    off_s = [
        begin - end
        for end, begin in zip(ends, [b for b in begins if b > min(ends, default=99)], strict=False)
    ]
    rounds_s = [after - before for before, after in itertools.pairwise(begins)]
    return (
        all(s >= switching.shortest_on_s for s in on_s)
        and all(s >= switching.shortest_off_s for s in off_s)
        and all(s >= switching.cycle_s for s in rounds_s)
    )


@pytest.mark.parametrize("duty", [0.05, 0.3, 0.5, 0.9])
def test_an_even_relay_gives_the_duty_on_the_average(duty: float) -> None:
    longest = 3 * 20 + 2
    more = even_rounds(duty, CONTACTOR, longest)
    assert more.shape == (2 * (longest + 1), AHEAD_S)
    assert more.min() >= -duty - 1e-9
    assert more.max() <= 1.0 - duty + 1e-9
    round_s = max(20.0, 2.0 / duty, 2.0 / (1.0 - duty))
    rounds = int(AHEAD_S / round_s)
    assert more[:, : round(rounds * round_s)].sum(axis=1) == pytest.approx(0.0, abs=0.5)


class Row(NamedTuple):
    seed: int
    value: float


def test_a_broken_off_measurement_goes_on_where_it_was(tmp_path: Path) -> None:
    asked: list[int] = []

    def measure(seed: int) -> Row:
        if seed == 3:
            raise KeyboardInterrupt
        asked.append(seed)
        return Row(seed, seed / 7.0)

    with pytest.raises(KeyboardInterrupt):
        list(kept.rows("some", Row, measure, [1, 2, 3, 4], tmp_path))
    assert asked == [1, 2]
    found = list(kept.rows("some", Row, lambda seed: Row(seed, 0.5), [1, 2, 3, 4], tmp_path))
    assert found == [
        (Row(1, 1 / 7.0), True), (Row(2, 2 / 7.0), True), (Row(3, 0.5), False), (Row(4, 0.5), False)
    ]  # fmt: skip


def test_a_row_that_was_half_written_is_measured_again(tmp_path: Path) -> None:
    (tmp_path / "1.part").write_text("[1, 0.")
    assert list(kept.rows("some", Row, lambda seed: Row(seed, 2.0), [1], tmp_path)) == [(Row(1, 2.0), False)]


def test_rows_of_other_code_are_not_read_again(tmp_path: Path) -> None:
    texts = {
        "tests/bench/some.py": "import json\nfrom controller import tick\n",
        "controller/__init__.py": "",
        "controller/tick.py": "def late():\n    import controller.control.feedback\n",
        "controller/control/feedback.py": "",
        "profiles/a.toml": "",
    }
    for name, text in {**texts, "controller/alarms.py": "", "README.md": ""}.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    before = kept.fingerprint("tests.bench.some", tmp_path)
    for name in ("README.md", "controller/alarms.py"):  # nothing that is measured imports them
        (tmp_path / name).write_text("# another\n")
    assert kept.fingerprint("tests.bench.some", tmp_path) == before
    for name, text in texts.items():
        (tmp_path / name).write_text(text + "# another\n")
        after = kept.fingerprint("tests.bench.some", tmp_path)
        assert after != before, name
        before = after


def test_what_the_bench_of_the_control_depends_on_is_found() -> None:
    found = {
        path.relative_to(kept.ROOT).as_posix() for path in kept.imported("tests.bench.control", kept.ROOT)
    }
    assert {
        "controller/control/ahead.py",
        "controller/guard/guard.py",
        "controller/physics/kiln.py",
        "controller/forecast/fit.py",
        "controller/tick.py",
        "tests/bench/patterns.py",
        "tests/in_process.py",
    } <= found
    assert not any(path.startswith("web/") for path in found)


def test_the_curve_of_a_firing_has_its_own_clock() -> None:
    curve = curve_of([(5.0, 20.0, 20.0, 20.0, 0.0, 0.0, 0), (6.0, np.nan, 20.0, 20.0, 0.0, 1.0, -1)])
    assert curve.t_s.tolist() == [0.0, 1.0]
    assert curve.heat_on.tolist() == [False, True]
    assert COUNT > PROBE


@pytest.mark.parametrize(
    ("duty", "switching", "heat_s", "round_s"),
    [(0.3, CONTACTOR, 6.0, 20.0), (0.05, CONTACTOR, 2.0, 40.0), (0.98, CONTACTOR, 98.0, 100.0)],
)
def test_the_swing_of_a_plant_that_only_stores_is_what_a_round_s_heat_makes_of_it(
    duty: float, switching: Switching, heat_s: float, round_s: float
) -> None:
    stores = np.eye(COUNT + 1)[None, :, :].copy()
    stores[0, PROBE, COUNT] = 0.2  # K for each second of heat
    assert heat_s == pytest.approx(duty * round_s)
    assert swing_k(stores, switching, duty) == pytest.approx(0.5 * 0.2 * heat_s * (1.0 - duty))


def test_no_hold_error_is_less_than_what_the_relay_swings_it_by(fired: Fired) -> None:
    drawn = draw(1000)
    assert drawn.contactor
    swings_k = ripple_k(drawn, fired, SHORT)
    assert 0.02 < swings_k <= quality(fired, SHORT).hold_error_k
    quick = replace(drawn, switching=SOLID_STATE)
    assert ripple_k(quick, fired, SHORT) < 0.3 * swings_k
