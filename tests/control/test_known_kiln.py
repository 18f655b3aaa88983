"""Control of a kiln that is known, and of one that is learnt while it is fired."""

from __future__ import annotations

import json
from math import inf

import numpy as np
import pytest

from controller.control import Control, KnownKiln, Plan, Switching, Tuning, control
from controller.control.ahead import Course, ahead, begin
from controller.known_kiln import known_kiln, unknown_kiln
from controller.physics.grey import GreyKiln, typical
from controller.plain import from_plain, to_plain
from tests.control.grey_loop import Seen, run

SOLID_STATE, CONTACTOR = Switching(2.0, 1.0, 1.0), Switching(20.0, 2.0, 2.0)
KILN = typical(6500.0)
H = 3600.0
# From cold at 150 C/h to 400 C, an hour there, on at 250 C/h to 600 C, an hour there.
COURSE: list[tuple[float, float | None]] = [
    (0.0, 20.0),
    (2.533 * H, 400.0),
    (3.533 * H, 400.0),
    (4.333 * H, 600.0),
    (5.333 * H, 600.0),
]


def plan(kiln: GreyKiln = KILN, switching: Switching = SOLID_STATE) -> Plan:
    return Plan(Tuning(0.03, 900.0), switching, kiln.power_w, kiln=known_kiln(kiln))


def off_k(seen: Seen, from_s: float = 0.0, until_s: float = 1e9) -> np.ndarray:
    rows = (seen.t_s >= from_s) & (seen.t_s < until_s)
    return (seen.air_c - seen.setpoint_c)[rows]


def bigger(kiln: GreyKiln, **factors: float) -> GreyKiln:
    return kiln._replace(**{name: getattr(kiln, name) * factor for name, factor in factors.items()})


@pytest.mark.parametrize(("switching", "within_k"), [(SOLID_STATE, 0.6), (CONTACTOR, 1.2)])
def test_a_known_kiln_follows_its_course_round_every_corner(switching: Switching, within_k: float) -> None:
    seen = run(KILN, plan(switching=switching), COURSE, noise_k=0.15)
    assert np.abs(off_k(seen, 300.0)).max() < within_k
    assert np.abs(off_k(seen, 300.0)).mean() < 0.1 * within_k + 0.02


def test_preview_begins_to_heat_before_the_corner_and_ends_before_the_hold() -> None:
    duty = run(KILN, plan(), COURSE).duty
    assert duty[int(3.533 * H) - 5] > duty[int(3.533 * H) - 120] + 0.1
    assert duty[int(4.333 * H) - 5] < duty[int(4.333 * H) - 120] - 0.1


def test_a_ramp_beyond_the_kiln_s_power_lags_without_winding_up() -> None:
    corners: list[tuple[float, float | None]] = [(0.0, 20.0), (1.0 * H, 800.0), (4.0 * H, 800.0)]
    seen = run(KILN, plan(), corners)
    assert off_k(seen, 0.5 * H, 1.0 * H).max() < -20.0
    assert seen.duty[int(0.5 * H)] == 1.0
    assert off_k(seen, 1.0 * H).max() < 1.0
    assert np.abs(off_k(seen, 3.0 * H)).max() < 0.3


def test_after_a_while_without_heat_it_goes_on_without_a_bump() -> None:
    # The setpoint comes back at what is measured, as a firing's does.
    corners: list[tuple[float, float | None]] = [
        (0.0, 20.0),
        (2.0 * H, 300.0),
        (2.5 * H, 300.0),
        (2.51 * H, None),
    ]
    cold = run(KILN, plan(), [*corners, (2.8 * H, None)])
    at_c = float(cold.air_c[-1])
    assert at_c < 280.0
    seen = run(KILN, plan(), [*corners, (2.8 * H, at_c), (3.3 * H, at_c), (3.5 * H, at_c)])
    assert np.abs(off_k(seen, 2.8 * H + 30.0)).max() < 1.5


def test_a_door_that_stood_open_leaves_little_overshoot_behind() -> None:
    begins_s, ends_s = 3.0 * H, 3.1 * H

    def is_open(t_s: float) -> bool:
        return begins_s <= t_s < ends_s

    seen = run(KILN, plan(), COURSE, refused=is_open, loses_w=lambda t_s: 2500.0 * is_open(t_s))
    assert off_k(seen, begins_s, ends_s).min() < -15.0
    assert off_k(seen, ends_s, 3.5 * H).max() < 3.0
    assert np.abs(off_k(seen, 3.4 * H, 3.5 * H)).max() < 0.3


def test_a_setpoint_that_jumps_by_a_hundred_kelvin_is_overshot_by_no_more_than_three() -> None:
    corners: list[tuple[float, float | None]] = [
        (0.0, 20.0),
        (1.0 * H, 20.0),
        (1.0 * H, 120.0),
        (3.0 * H, 120.0),
    ]
    seen = run(KILN, plan(), corners)
    assert off_k(seen, 1.1 * H).max() < 3.0
    assert np.abs(off_k(seen, 2.0 * H)).max() < 0.3


def test_a_first_firing_keeps_within_three_kelvin_whatever_the_kiln() -> None:
    for factors in (
        {"chamber_j_per_k": 2.0, "face_w_per_k": 1.5, "inner_j_per_k": 1.5},
        {"chamber_j_per_k": 0.6, "face_w_per_k": 0.6, "load_j_per_k": 0.4},
        {"probe_s": 2.0, "elements_j_per_k": 1.5, "sees_elements": 0.4},
    ):
        kiln = bigger(KILN, **factors)
        unknown = Plan(
            Tuning(0.03, 900.0), SOLID_STATE, kiln.power_w, kiln=unknown_kiln(kiln.power_w), learns=True
        )
        seen = run(kiln, unknown, COURSE, noise_k=0.15)
        assert off_k(seen).max() < 3.0, factors


def test_what_a_kiln_stores_and_loses_is_learnt_on_line() -> None:
    kiln = bigger(
        KILN, chamber_j_per_k=1.6, load_j_per_k=1.6, elements_j_per_k=1.6, face_w_per_k=0.7,
        inner_j_per_k=0.7, vent_w_per_k=0.7, between_w_per_k=0.7, outer_j_per_k=0.7, room_w_per_k=0.7,
    )  # fmt: skip
    unknown = Plan(
        Tuning(0.03, 900.0), SOLID_STATE, kiln.power_w, kiln=unknown_kiln(kiln.power_w), learns=True
    )
    learned = run(kiln, unknown, COURSE, noise_k=0.15).control.learned
    assert learned.stores == pytest.approx(1.6, abs=0.15)
    assert learned.loses == pytest.approx(0.7, abs=0.1)


def test_and_it_makes_the_first_firing_better() -> None:
    kiln = bigger(KILN, chamber_j_per_k=1.8, face_w_per_k=1.4)
    kinds = [
        Plan(Tuning(0.03, 900.0), SOLID_STATE, kiln.power_w, kiln=unknown_kiln(kiln.power_w), learns=learns)
        for learns in (False, True)
    ]
    fixed, learning = (np.abs(off_k(run(kiln, one, COURSE, noise_k=0.15))).sum() for one in kinds)
    assert learning < 0.8 * fixed


@pytest.mark.parametrize("kiln", [None, known_kiln(KILN)])
@pytest.mark.parametrize("switching", [SOLID_STATE, CONTACTOR])
def test_while_heat_is_refused_the_integral_does_not_rise(
    switching: Switching, kiln: KnownKiln | None
) -> None:
    two_sided = Plan(Tuning(0.02, 300.0), switching, KILN.power_w, 35e3, 3.0, kiln=kiln)
    carried, wanted = Control(), False
    for granted in (True, False):
        begins = integral(carried)
        for _ in range(600):
            carried, wanted = control(carried, two_sided, 204.0, 0.0, 200.0, wanted and granted, 1.0)
        if granted:
            assert integral(carried) > begins + 0.05
        else:
            # Until heat is wanted again, in a cycle at most, nobody knows that it is refused.
            assert integral(carried) <= begins + 0.02 * 4.0 / 300.0 * switching.cycle_s + 0.001


def integral(carried: Control) -> float:
    """What has built up against a lasting error: of a fitted kiln, the unknown heat with its sign turned."""
    return carried.feedback.integral if carried.observed is None else -carried.observed.unknown


def test_nothing_is_learnt_of_a_kiln_whose_heat_is_refused() -> None:
    unknown = Plan(Tuning(0.03, 900.0), SOLID_STATE, 6500.0, kiln=unknown_kiln(6500.0), learns=True)
    seen = run(KILN, unknown, [(0.0, 300.0), (1.0 * H, 300.0)], start_c=300.0, refused=lambda t_s: t_s > 10.0)
    assert seen.control.learned == Control().learned


def test_a_jump_of_the_setpoint_is_no_ramp() -> None:
    kiln = known_kiln(KILN)
    state = begin(20.0, 20.0)
    for _ in range(10):
        state = ahead(state, kiln, Course(20.0, 0.0, 0.0, inf), 20.0, 5.0)
    state = ahead(state, kiln, Course(120.0, 0.0, 0.0, inf), 20.0, 5.0)
    assert (state.course_c, state.course_slope) == pytest.approx((120.0, 0.0))


def test_what_control_carries_can_be_kept_and_read_again() -> None:
    # A replay begins with what the record kept.
    first = plan()
    assert from_plain(Plan, json.loads(json.dumps(to_plain(first)))) == first
    carried = run(KILN, first, COURSE[:2]).control
    assert carried.ahead is not None
    assert from_plain(Control, json.loads(json.dumps(to_plain(carried)))) == carried


def follow(setpoints_c: list[float], slopes: list[float]) -> list[float]:
    """Return the duties of a known kiln that is 100 C throughout, for a setpoint a step."""
    kiln, state, duties = known_kiln(KILN), begin(100.0, 20.0), []
    for setpoint_c, slope in zip(setpoints_c, slopes, strict=True):
        state = ahead(state, kiln, Course(setpoint_c, slope, slope, inf), 100.0, 5.0)
        duties.append(state.duty)
    return duties


def test_a_setpoint_that_stops_and_goes_is_followed_at_its_mean_slope() -> None:
    slope = 80.0 / 3600.0
    moves = [n % 3 == 0 for n in range(120)]
    line = np.cumsum(moves) * slope * 5.0 + 100.0
    restless = follow(list(line), [slope * one for one in moves])
    steady = follow([100.0 + slope / 3.0 * 5.0 * n for n in range(120)], [slope / 3.0] * 120)
    assert np.ptp(restless[20:]) < 0.3  # at its word it would swing by nine tenths of full heat
    assert np.mean(np.clip(restless[20:], 0.0, 1.0)) == pytest.approx(np.mean(steady[20:]), abs=0.02)


def through_corner(slope: float, next_slope: float, *, fitted: bool = True) -> tuple[np.ndarray, np.ndarray]:
    """Return how far the course lies above the setpoint at a corner (K), and how far its slope turned."""
    kiln, state, seen = known_kiln(KILN)._replace(fitted=fitted), begin(100.0, 20.0), []
    for n in range(-40, 40):
        t_s = 5.0 * n
        at_c = 100.0 + (slope if n < 0 else next_slope) * t_s
        course = Course(at_c, slope, next_slope, -t_s) if n < 0 else Course(at_c, next_slope, next_slope, inf)
        state = ahead(state, kiln, course, 100.0, 5.0)
        seen.append((state.course_c - at_c, (state.course_slope - slope) / (next_slope - slope)))
    above_k, turned = np.array(seen[10:]).T  # what was before the first tick is not known
    return above_k, turned


def test_the_end_of_a_hold_is_lifted_by_less_than_a_ramp_s_end_is_cut_off() -> None:
    slope = 250.0 / 3600.0
    up_k, _ = through_corner(0.0, slope)
    down_k, _ = through_corner(slope, 0.0)
    assert 0.07 < up_k.max() < 0.14
    first_k, _ = through_corner(0.0, slope, fitted=False)
    assert 0.15 < first_k.max() < 0.25  # more softly, where nobody knows how quick it is
    assert -0.37 < down_k.min() < -0.28
    assert down_k.max() < 0.03  # over the hold by no more than the coarseness of the steps


@pytest.mark.parametrize(("slope", "next_slope"), [(0.0, 0.07), (0.07, 0.0), (0.03, 0.08), (-0.02, 0.05)])
def test_a_corner_is_gone_round_without_a_step(slope: float, next_slope: float) -> None:
    _, turned = through_corner(slope, next_slope)
    assert turned[0] == pytest.approx(0.0, abs=1e-9)
    assert turned[-1] == pytest.approx(1.0, abs=1e-9)
    steps = np.diff(turned)
    assert steps.min() > -1e-9
    assert steps.max() < 0.3


def test_a_corner_is_no_stopping_and_going() -> None:
    slope = 80.0 / 3600.0
    line = [100.0 + slope * 5.0 * min(n, 60) for n in range(120)]
    uneven = [c + 1e-4 * (n % 2) for n, c in enumerate(line)]  # ticks are never quite even
    slopes = [slope if n < 60 else 0.0 for n in range(120)]
    for ours in (follow(line, slopes), follow(uneven, slopes)):
        assert ours[60] < ours[59] - 0.1  # it is taken at its word at once
        assert max(ours[62:66]) < ours[59]  # and stays so
