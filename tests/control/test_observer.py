"""The observer: a kiln that it knows, heat that it does not know, noise, and switching."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from controller.control import Control, Plan, Switching, Tuning, control
from controller.control.ahead import begin
from controller.control.observer import (
    ASTRAY_K,
    MOST_UNKNOWN,
    OBSERVES_S,
    Observed,
    _gains,
    first_seen,
    observe,
)
from controller.known_kiln import known_kiln
from controller.physics.grey import GreyKiln, GreyState, at_rest, step, typical
from tests.control.grey_loop import run

GREY = typical(6500.0)
KILN = known_kiln(GREY)
CONTACTOR = Switching(30.0, 3.0, 3.0)
SOLID_STATE = Switching(2.0, 1.0, 1.0)
H = 3600.0


def plan(switching: Switching, kiln: GreyKiln = GREY) -> Plan:
    return Plan(Tuning(0.03, 900.0), switching, kiln.power_w, kiln=known_kiln(kiln))


def watch(
    duty: float, seconds: int, *, unknown_w: float = 0.0, noise_k: float = 0.0, unread: range = range(0)
) -> list[tuple[GreyState, Observed]]:
    """Return a warm kiln, heated by so much of 30 s, and what is observed of it, each second."""
    lot = np.random.default_rng(2)
    state: GreyState = at_rest(300.0)
    observed, behind, seen = first_seen(300.0, 0.0), begin(300.0, GREY.room_c), []
    behind = behind._replace(inner_c=300.0, outer_c=300.0)
    heated, owed_s = False, 0.0
    for n in range(seconds):
        owed_s += duty - heated
        air_c = None if n in unread else float(state.probe_c) + noise_k * float(lot.standard_normal())
        observed = observe(observed, KILN, behind, CONTACTOR.cycle_s, air_c, heated, owed_s, 1.0)
        seen.append((state, observed))
        behind = behind._replace(inner_c=state.inner_c, outer_c=state.outer_c, load_c=state.load_c)
        heated = n % 30 < 30 * duty
        state = step(state, GREY, GREY.power_w * heated, 1.0, unknown_w)
    return seen


def test_its_poles_are_all_at_the_one_place() -> None:
    """Against the eigenvalues of the system of equations that the gains are worked out for (numpy)."""
    leak_per_s, stores_k_per_s = 3e-4, GREY.power_w / (GREY.chamber_j_per_k + GREY.elements_j_per_k)
    k1, k2, k3 = _gains(KILN, leak_per_s)
    tau_s = KILN.probe_s
    errors = np.array(
        [[-1.0 / tau_s - k1, 1.0 / tau_s, 0.0], [-k2, -leak_per_s, stores_k_per_s], [-k3, 0.0, 0.0]]
    )
    assert k1 > 0.0
    assert np.poly(errors) == pytest.approx(np.poly([-1.0 / OBSERVES_S] * 3), rel=1e-9)


def test_it_sees_elements_and_chamber_that_nobody_measures() -> None:
    state, observed = watch(0.3, 1800)[-1]
    assert observed.elements_c == pytest.approx(float(state.elements_c), abs=8.0)
    assert float(state.elements_c) > float(state.chamber_c) + 15.0
    assert observed.chamber_c == pytest.approx(float(state.chamber_c), abs=0.3)
    assert observed.unknown == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("unknown_w", [-600.0, 900.0])
def test_it_finds_heat_that_is_not_accounted_for(unknown_w: float) -> None:
    found = [observed.unknown for _, observed in watch(0.3, 600, unknown_w=unknown_w)]
    assert np.mean(found[300:]) == pytest.approx(unknown_w / GREY.power_w, abs=0.01)


def test_noise_is_let_through_by_a_fifth() -> None:
    seen = watch(0.0, 1800, noise_k=0.2)[600:]
    off_k = np.array([observed.air_c - float(state.probe_c) for state, observed in seen])
    assert off_k.std() < 0.2 / 4.0


def test_what_switching_does_is_not_seen_by_feedback() -> None:
    seen = watch(0.4, 3600)[1800:]
    slow = np.polynomial.Polynomial.fit(range(len(seen)), [float(state.probe_c) for state, _ in seen], 5)
    swings_k = np.array([float(state.probe_c) for state, _ in seen]) - slow(np.arange(len(seen)))
    left_k = np.array([observed.air_c for _, observed in seen]) - slow(np.arange(len(seen)))
    assert swings_k.std() > 0.05
    assert left_k.std() < 0.35 * swings_k.std()


def test_a_while_without_a_reading_is_bridged_by_what_is_known() -> None:
    seen = watch(0.5, 900, unread=range(600, 630))
    state, observed = seen[629]
    assert observed.probe_c == pytest.approx(float(state.probe_c), abs=0.3)
    assert float(state.probe_c) > float(seen[599][0].probe_c) + 2.0
    assert observed.elements_c == pytest.approx(float(state.elements_c), abs=8.0)


@pytest.mark.parametrize("dt_s", [0.0, 1e-6, 5.0, 15.0])
@pytest.mark.parametrize("wire_j_per_k", [40.0, 1500.0])
def test_ticks_of_any_length_leave_it_calm(dt_s: float, wire_j_per_k: float) -> None:
    """At 1200 C, where 40 J/K of wire have a lag of a quarter of a second."""
    kiln = KILN._replace(elements_j_per_k=wire_j_per_k)
    observed, behind = first_seen(1200.0, 0.0), begin(1200.0, GREY.room_c)
    for n in range(400):
        heated = n % 3 == 0
        observed = observe(observed, kiln, behind, CONTACTOR.cycle_s, 1200.0, heated, heated * 0.5, dt_s)
    assert 1100.0 < observed.chamber_c < 1300.0
    assert 1000.0 < observed.elements_c < 1600.0
    assert abs(observed.unknown) < 1.0
    assert abs(observed.swing.probe_k) < 5.0


def test_a_contactor_s_rounds_are_even_while_a_hold_is_kept_by_a_quick_kiln() -> None:
    quick = GREY._replace(
        power_w=4000.0, elements_j_per_k=860.0, elements_m2=0.15, sees_elements=0.084, probe_s=12.0
    )
    kept = plan(CONTACTOR, quick)
    seen = run(quick, kept, [(0.0, 800.0), (2.0 * H, 800.0)], start_c=800.0, noise_k=0.15)
    heat = seen.heat[int(1.5 * H) :].astype(int)
    edges = np.flatnonzero(np.diff(heat))
    ons = [stop - start for start, stop in itertools.pairwise(edges) if heat[start + 1]]
    assert len(ons) > 40
    assert max(ons) - min(ons) <= 3


def test_while_no_reading_comes_control_knows_that_the_elements_cool() -> None:
    carried = run(GREY, plan(SOLID_STATE), [(0.0, 600.0), (H, 600.0)], start_c=600.0).control
    assert carried.observed is not None
    hot_c = carried.observed.elements_c
    for _ in range(60):
        carried, wanted = control(carried, plan(SOLID_STATE), 600.0, 0.0, None, False, 1.0)
        assert not wanted
        assert carried.observed is not None
    assert carried.observed.elements_c < hot_c - 5.0
    assert carried.observed.probe_c < 600.0


def test_heat_that_nobody_knew_of_moves_a_hold_by_little() -> None:
    def loses_w(t_s: float) -> float:
        return -600.0 if t_s > H else 0.0

    seen = run(GREY, plan(SOLID_STATE), [(0.0, 600.0), (2.0 * H, 600.0)], start_c=600.0, loses_w=loses_w)
    off_k = seen.air_c[int(H) :] - 600.0
    assert 0.1 < off_k.max() < 1.5
    assert abs(off_k[-600:]).max() < 0.2


@pytest.mark.parametrize("dt_s", [1.0, 5.0])
@pytest.mark.parametrize("times", [4.0, 6.0, 12.0])
def test_with_another_kiln_s_numbers_it_begins_anew_before_it_swings_the_kiln(
    times: float, dt_s: float
) -> None:
    """What the thermocouple sees of the elements is the number by which an observer is led astray soonest."""
    wrong = plan(CONTACTOR, GREY._replace(sees_elements=times * GREY.sees_elements))
    state, carried, granted = at_rest(20.0), Control(), False
    for n in range(int(1.5 * H / dt_s)):
        setpoint_c = min(400.0, 20.0 + 300.0 * n * dt_s / H)
        slope = 300.0 if setpoint_c < 400.0 else 0.0
        carried, granted = control(carried, wrong, setpoint_c, slope, float(state.probe_c), granted, dt_s)
        assert 0.0 <= carried.duty <= 1.0
        assert carried.observed is not None
        assert abs(carried.observed.unknown) < MOST_UNKNOWN
        state = step(state, GREY, GREY.power_w * granted, dt_s)
        assert state.probe_c < setpoint_c + 15.0


@pytest.mark.parametrize("off_k", [-1.2 * ASTRAY_K, 1.2 * ASTRAY_K])
def test_a_reading_that_is_far_from_all_that_it_thinks_is_where_it_begins_anew(off_k: float) -> None:
    _, observed = watch(0.3, 300)[-1]
    air_c = observed.probe_c + off_k
    begun = observe(observed, KILN, begin(300.0, 20.0), CONTACTOR.cycle_s, air_c, False, 0.25, 1.0)
    assert begun == first_seen(air_c, 0.25)
