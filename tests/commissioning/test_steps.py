"""Relay, lease, main contactor and limit on the simulated plant; and every step on a sound one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from controller.commissioning.course import CARRY_OUT
from controller.commissioning.rig import Rig
from controller.commissioning.table import KINDS, LIMIT_SENTENCE, steps
from controller.guard import LatchFile
from tests.commissioning.hands import CONFIG, Kiln, PlantClock, check_of, failed


@pytest.fixture
def kiln(tmp_path: Path) -> Kiln:
    return Kiln(tmp_path)


def heat_is_off(kiln: Kiln) -> bool:
    return not kiln.plant.heat_aux and not kiln.plant.main_aux and kiln.plant.power_w == 0.0


def test_every_kind_of_step_can_be_carried_out() -> None:
    assert {kind.id for kind in KINDS} == set(CARRY_OUT)
    assert {step.kind.id for step in steps(CONFIG)} == set(CARRY_OUT)


@pytest.mark.parametrize("name", [step.name for step in steps(CONFIG) if step.name != "model"])
def test_a_sound_kiln_passes_and_is_left_with_the_heat_off(kiln: Kiln, name: str) -> None:
    done = kiln.do(name)
    assert failed(done) == []
    assert done.passed
    assert heat_is_off(kiln)
    assert LatchFile(kiln.bench.home / "latches.json").load() == ()


# --- relay and lease


def test_the_relay_moves_while_the_main_contactor_stays_open(kiln: Kiln) -> None:
    powers: list[float] = []
    advance = kiln.plant.advance
    kiln.plant.advance = lambda dt_s: (powers.append(kiln.plant.power_w), advance(dt_s))[1]  # type: ignore[method-assign,func-returns-value]
    assert kiln.do("relay").passed
    assert kiln.plant.relay_cycles == 1
    assert max(powers) == 0.0
    assert not all(kiln.opened)


@pytest.mark.parametrize("name", ["relay", "lease"])
def test_a_board_that_reports_the_open_main_contactor_by_itself_is_not_tripped_by_it(
    kiln: Kiln, name: str
) -> None:
    kiln.board = True
    kiln.configured(guard=replace(CONFIG.guard, read_back_s=0.5))
    assert failed(kiln.do(name)) == []


@pytest.mark.parametrize("name", ["relay", "lease"])
def test_nothing_moves_while_the_elements_breaker_is_on(kiln: Kiln, name: str) -> None:
    kiln.hands.answers["breaker or isolator off"] = "no"
    assert failed(kiln.do(name)) == ["the elements' breaker is off"]
    assert kiln.opened == []


@pytest.mark.parametrize("name", ["relay", "lease"])
def test_a_main_contactor_that_is_stuck_closed_stops_the_relay_s_steps(kiln: Kiln, name: str) -> None:
    kiln.plant.set_fault("main_stuck_closed", True)
    done = kiln.do(name)
    assert not done.passed
    assert kiln.plant.relay_cycles == 0


@pytest.mark.parametrize("fault", ["relay_dead", "relay_stuck", "heater_silent", "air_open", "door_opened"])
@pytest.mark.parametrize("name", ["relay", "lease"])
def test_a_relay_that_does_not_do_as_told_fails_and_is_left_off(kiln: Kiln, name: str, fault: str) -> None:
    kiln.plant.set_fault(fault, True)
    assert not kiln.do(name).passed
    kiln.plant.set_fault(fault, False)
    assert heat_is_off(kiln)


def test_the_lease_ends_in_the_relay_s_own_hardware(kiln: Kiln) -> None:
    done = kiln.do("lease")
    assert kiln.plant.lease_ends == 1
    assert done.figures["hardware_lease"] == 1.0
    assert done.figures["lasted_s"] == pytest.approx(CONFIG.lease_s, abs=1.0)
    assert "hardware" in check_of(done, "lease").saw


def test_a_relay_that_should_time_out_by_itself_and_does_not_fails_and_is_switched_off(kiln: Kiln) -> None:
    set_heat = kiln.plant.set_heat
    kiln.plant.set_heat = lambda on, lease_s=0.0: set_heat(on, 0.0)  # type: ignore[method-assign]
    done = kiln.do("lease")
    assert failed(done) == ["the lease ends by itself"]
    assert "still on" in check_of(done, "lease").saw
    assert heat_is_off(kiln)


def test_the_keeper_that_would_end_a_lease_is_not_there_while_the_hardware_is_to_end_it(
    kiln: Kiln, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[int] = []
    monkeypatch.setattr(Rig, "keep_leases", lambda _rig, _every_s: kept.append(len(kiln.opened) - 1))
    kiln.do("lease")
    assert [i in kept for i, has_main in enumerate(kiln.opened) if not has_main] == [False]
    kept.clear()
    kiln.opened.clear()
    kiln.do("relay")
    assert [i in kept for i, has_main in enumerate(kiln.opened) if not has_main] == [True]


def test_the_lease_is_counted_from_a_tick_that_granted_it(kiln: Kiln) -> None:
    clock = PlantClock(kiln.plant)
    left = [1]

    def oversleep(t_s: float) -> None:
        PlantClock.sleep_until(clock, t_s)
        if kiln.plant.heat_aux and left:
            kiln.plant.advance(1.5)  # late for this tick, which so grants nothing
            left.pop()

    clock.sleep_until = oversleep  # type: ignore[method-assign]
    kiln.bench = replace(kiln.bench, clock=clock)
    assert kiln.do("lease").passed
    assert not left


def test_a_relay_without_a_time_out_is_ended_by_the_keeper_and_that_is_told(kiln: Kiln) -> None:
    kiln.hardware_lease = False
    done = kiln.do("lease")
    assert done.passed
    assert done.figures["hardware_lease"] == 0.0
    assert "if it dies, the relay stays" in check_of(done, "lease").saw


@pytest.mark.parametrize(("answer", "passes"), [("yes", True), ("no", False), ("perhaps", False)])
def test_a_relay_that_cannot_be_read_back_is_heard_by_the_person(
    kiln: Kiln, answer: str, passes: bool
) -> None:
    kiln.configured(heater=replace(CONFIG.heater, read_back=None))
    kiln.hands.answers["hear or see the relay"] = kiln.hands.answers["drop by itself"] = answer
    assert kiln.do("relay").passed is passes
    assert kiln.do("lease").passed is passes


# --- main contactor and limit


def test_the_main_contactor_drops_on_a_trip_which_is_then_cleared(kiln: Kiln) -> None:
    done = kiln.do("main_contactor")
    assert check_of(done, "trips").saw == "ceiling"
    assert LatchFile(kiln.bench.home / "latches.json").load() == ()
    assert kiln.plant.relay_cycles == 0


@pytest.mark.parametrize(
    ("fault", "fails"),
    [
        ("main_dead", "the main contactor closes"),
        ("main_stuck_closed", "the main contactor opens on the trip"),
        ("emergency_stop_pressed", "no trip stands"),
    ],
)
def test_a_main_contactor_that_does_not_follow_fails(kiln: Kiln, fault: str, fails: str) -> None:
    kiln.plant.set_fault(fault, True)
    assert failed(kiln.do("main_contactor"))[0] == fails


@pytest.mark.parametrize(("answer", "passes"), [("yes", True), ("no", False)])
def test_a_main_contactor_that_cannot_be_read_back_is_heard(kiln: Kiln, answer: str, passes: bool) -> None:
    assert CONFIG.main_contactor is not None
    kiln.configured(main_contactor=replace(CONFIG.main_contactor, read_back=None))
    kiln.hands.answers["contactor close, and then open"] = answer
    assert kiln.do("main_contactor").passed is passes


def test_a_trip_that_stands_is_cleared_only_when_the_person_says_so(kiln: Kiln) -> None:
    kiln.plant.set_fault("emergency_stop_pressed", True)
    kiln.do("contact_door")
    kiln.do("main_contactor")
    kiln.plant.set_fault("emergency_stop_pressed", False)
    kiln.hands.answers["may it be cleared"] = "no"
    assert failed(kiln.do("relay")) == ["no trip stands"]
    kiln.hands.answers["may it be cleared"] = "yes"
    assert kiln.do("relay").passed


@pytest.mark.parametrize(
    ("typed", "passes"),
    [
        (LIMIT_SENTENCE, True),
        (f"  {LIMIT_SENTENCE.upper()}. ", True),
        ("yes", False),
        ("", False),
        ("the limit cut the heat with the computer on", False),
    ],
)
def test_the_limit_is_proven_by_a_whole_sentence(kiln: Kiln, typed: str, passes: bool) -> None:
    kiln.hands.answers["type: the limit"] = typed
    assert kiln.do("limit").passed is passes
