"""Every interlock has a fault on the simulated kiln that sets it off, and every fault ends with the heat off.

The whole loop runs in one process: the plant's own relay, lease and contactor, the real guard.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.control import Plan, Switching, Tuning
from controller.firing import Cue, Request, State
from controller.firing.recovery import kept, taken_up
from controller.guard import ROWS, Row
from controller.schedule.model import Hold, Ramp, Schedule
from controller.simulator import faults
from controller.simulator.plant import Plant
from tests.faults.cases import CASES, COMPUTER, HOLDING_S, RAMPING_S, Case, faults_of
from tests.in_process import DEMO_PLAN, TROUBLES, InProcess, in_process

SCHEDULE = Schedule(
    "a ramp and a hold",
    (Ramp("up", 400.0, 500.0, extraction=True), Hold("soak", 400.0, 4 * 3600.0, 20.0, extraction=True)),
)
EAGER = Plan(Tuning(10.0, 500.0), Switching(2.0, 1.0, 1.0), 6500.0)  # full heat at any error
BURNS_FOR_S = 600.0  # half a kilogram of plastic does not burn for longer than this at 4 kW and more


def firing(folder: Path, at_s: float, **about: float) -> InProcess:
    """Return a kiln that has been firing for so long, in a warm workshop."""
    kiln = in_process(Plant(start_c=27.0, room_c=27.0), DEMO_PLAN, folder, ceiling_c=450.0, **about)  # type: ignore[arg-type]
    assert kiln.tick(Request(Cue.START, schedule=SCHEDULE)).outputs.answers[0].taken
    while kiln.plant.now_s < at_s:
        assert kiln.tick().verdict.findings == ()
    return kiln


@pytest.mark.parametrize("row", ROWS, ids=[row.id for row in ROWS])
def test_every_row_has_its_fault(row: Row) -> None:
    assert len(ROWS) >= 20
    for names in faults_of(row.id) or pytest.fail(f"{row.id}: no fault sets it off"):
        for name in names.split():
            assert name in (*faults.NAMES, *TROUBLES, "forgotten")


def test_no_case_is_of_a_row_that_is_not() -> None:
    rows = {row.id for row in ROWS}
    assert {case.row_id for case in CASES} | set(COMPUTER) == rows
    assert {case.row_id for case in CASES}.isdisjoint(COMPUTER)
    assert set(COMPUTER.values()) == {*TROUBLES, "forgotten"}


@pytest.mark.parametrize("case", CASES, ids=[f"{case.faults}-{case.row_id}" for case in CASES])
def test_a_fault_is_found_in_time_and_the_kiln_ends_safe(case: Case, tmp_path: Path) -> None:
    kiln = firing(tmp_path, case.at_s)
    for name in case.faults.split():
        kiln.plant.set_fault(name, True)
    began_s, found_s = kiln.plant.now_s, None
    hottest_c = 0.0
    for _ in range(2 * 3600):
        ticked = kiln.tick()
        hottest_c = max(hottest_c, kiln.plant.state.limit_probe_c)
        if kiln.plant.now_s - began_s > BURNS_FOR_S:
            kiln.plant.set_fault("plastic_burns", False)
        if found_s is None and case.row_id in [finding.row.id for finding in ticked.verdict.findings]:
            found_s = kiln.plant.now_s - began_s
    assert found_s is not None
    assert found_s <= case.within_s
    # What the elements and walls have stored may still come out: the ceiling is 450 C.
    assert hottest_c < 475.0
    latched = {latch.row_id for latch in kiln.loop.guard.latches}
    assert bool(latched) == (case.ends == "trip")
    if case.ends == "trip":
        assert kiln.loop.firing.state in (State.ABORTING, State.ABORTED)
        assert kiln.plant.power_w == 0.0


@pytest.mark.parametrize("row_id", [row_id for row_id, trouble in COMPUTER.items() if trouble in TROUBLES])
def test_a_trouble_of_the_computer_is_found_and_never_trips(row_id: str, tmp_path: Path) -> None:
    kiln = firing(tmp_path, RAMPING_S)
    kiln.trouble = COMPUTER[row_id]
    found = {finding.row.id for _ in range(600) for finding in kiln.tick().verdict.findings}
    assert found == {row_id}
    assert kiln.loop.firing.state is State.RUNNING


def test_without_a_fault_nothing_is_ever_found(tmp_path: Path) -> None:
    kiln = firing(tmp_path, 3 * 3600)
    assert kiln.loop.firing.stage == 1
    assert kiln.plant.relay_cycles > 100


def test_a_late_tick_grants_nothing_and_the_kiln_goes_on(tmp_path: Path) -> None:
    kiln = firing(tmp_path, RAMPING_S)
    ticked = kiln.tick(late_s=0.8)
    assert [finding.row.id for finding in ticked.verdict.findings] == ["tick_late"]
    assert not ticked.grant.heat
    assert not kiln.plant.relay_closed
    assert kiln.tick().firing.state is State.RUNNING


def test_a_clock_that_is_set_grants_nothing_for_one_tick(tmp_path: Path) -> None:
    kiln = firing(tmp_path, RAMPING_S)
    ticked = kiln.tick(clock_step_s=-3600.0)
    assert [finding.row.id for finding in ticked.verdict.findings] == ["clock_stepped"]
    assert not ticked.grant.heat
    assert kiln.tick().verdict.findings == ()


def test_a_record_that_cannot_be_written_is_told_and_the_firing_goes_on(tmp_path: Path) -> None:
    kiln = firing(tmp_path, RAMPING_S)
    ticked = [kiln.tick(record_trouble="the disk is full") for _ in range(60)]
    assert all([f.row.id for f in t.verdict.findings] == ["record_trouble"] for t in ticked)
    assert any(t.grant.heat for t in ticked)


def test_a_forgotten_firing_trips(tmp_path: Path) -> None:
    kiln = firing(tmp_path, HOLDING_S, longest_firing_s=2 * 3600.0)
    while kiln.plant.now_s < 2 * 3600.0 - 1.0:
        assert kiln.tick().verdict.findings == ()
    for _ in range(3):
        kiln.tick()
    assert [latch.row_id for latch in kiln.loop.guard.latches] == ["firing_too_long"]


def test_a_firing_that_is_taken_up_again_has_lasted_since_it_began(tmp_path: Path) -> None:
    limit_s, outage_s = 2.5 * 3600.0, 1800.0
    kiln = firing(tmp_path, HOLDING_S, longest_firing_s=limit_s)
    was = kiln.loop.firing
    kiln.plant.advance(outage_s)
    assert was.schedule is not None
    again = in_process(kiln.plant, DEMO_PLAN, tmp_path, ceiling_c=450.0, longest_firing_s=limit_s)
    left = taken_up(was.schedule, 300.0, was.state, was.stage, was.setpoint_c, kept(was), outage_s)
    again.loop.take_up(left, 1, kiln.plant.now_s)
    assert again.tick(Request(Cue.RESTART)).outputs.answers[0].taken
    while kiln.plant.now_s < limit_s - 1.0:
        assert again.tick().verdict.findings == ()
    for _ in range(3):
        again.tick()
    assert [latch.row_id for latch in again.loop.guard.latches] == ["firing_too_long"]


def test_a_firing_that_waits_with_the_heat_off_after_an_outage_is_not_forgotten_either(
    tmp_path: Path,
) -> None:
    kiln = firing(tmp_path, RAMPING_S, longest_firing_s=3600.0)
    was = kiln.loop.firing
    assert was.schedule is not None
    again = in_process(kiln.plant, DEMO_PLAN, tmp_path, longest_firing_s=3600.0)
    left = taken_up(was.schedule, 300.0, was.state, was.stage, was.setpoint_c, kept(was), 0.0)
    again.loop.take_up(left, 1, kiln.plant.now_s)
    while kiln.plant.now_s < 3600.0 + 2.0:
        again.tick()
    assert [latch.row_id for latch in again.loop.guard.latches] == ["firing_too_long"]


@pytest.mark.parametrize(("ceiling_c", "found"), [(90.0, ("ceiling",)), (None, ())])
def test_a_stage_s_own_ceiling_counts_in_the_tick_in_which_it_begins(
    ceiling_c: float | None, found: tuple[str, ...], tmp_path: Path
) -> None:
    stages = (Hold("pour", 100.0, None, 20.0), Hold("after", 100.0, 600.0, 20.0, ceiling_c=ceiling_c))
    kiln = in_process(Plant(start_c=95.0, room_c=30.0, noise_k=0.0), EAGER, tmp_path)
    kiln.tick(Request(Cue.START, schedule=Schedule("two holds", stages)))
    for _ in range(5):
        kiln.tick()
    ticked = kiln.tick(Request(Cue.RELEASE))
    assert ticked.firing.stage == 1
    assert tuple(finding.row.id for finding in ticked.verdict.findings) == found
    assert ticked.grant.heat == (not found)


def test_when_ticks_stop_the_hardware_s_lease_ends_the_heat(tmp_path: Path) -> None:
    kiln = firing(tmp_path, RAMPING_S)
    while not kiln.tick().grant.heat:
        pass
    kiln.plant.advance(3.0)
    assert not kiln.plant.relay_closed
    assert kiln.plant.lease_ends >= 1


def test_two_thermocouples_that_disagree_hold_the_schedule_and_the_hotter_one_counts(tmp_path: Path) -> None:
    kiln = firing(tmp_path, HOLDING_S)
    kiln.plant.set_fault("air_reads_low", True)
    hottest_c = 0.0
    for _ in range(3600):
        kiln.tick()
        hottest_c = max(hottest_c, kiln.plant.state.limit_probe_c)
    assert kiln.loop.firing.state is State.RUNNING
    assert hottest_c < 450.0


@pytest.mark.parametrize("fault", ["door_opened", "extraction_lost"])
def test_heat_comes_back_by_itself_after_a_cut(fault: str, tmp_path: Path) -> None:
    kiln = firing(tmp_path, HOLDING_S)
    kiln.plant.set_fault(fault, True)
    for _ in range(60):
        last = kiln.tick()
    assert not last.grant.heat
    kiln.plant.set_fault(fault, False)
    assert any(kiln.tick().grant.heat for _ in range(600))
    assert kiln.loop.firing.state is State.RUNNING


def test_a_thermocouple_that_comes_back_within_two_minutes_does_not_trip(tmp_path: Path) -> None:
    kiln = firing(tmp_path, HOLDING_S)
    kiln.plant.set_fault("load_open", True)
    for _ in range(110):
        kiln.tick()
    kiln.plant.set_fault("load_open", False)
    kiln.tick()
    assert kiln.loop.guard.latches == ()
    assert kiln.loop.firing.state is State.RUNNING


def test_a_welded_relay_with_a_stuck_contactor_is_still_told(tmp_path: Path) -> None:
    # Two faults at once: software can do no more than tell. This is what the independent limit is for.
    kiln = firing(tmp_path, HOLDING_S)
    for fault in ("relay_stuck", "main_stuck_closed"):
        kiln.plant.set_fault(fault, True)
    for _ in range(60):
        kiln.tick()
    assert {latch.row_id for latch in kiln.loop.guard.latches} >= {"heat_without_lease", "heater_differs"}
