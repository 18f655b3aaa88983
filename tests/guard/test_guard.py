"""The door to the relay: what is granted, what is refused, what happens when things go wrong."""

from __future__ import annotations

import json
import threading
from pathlib import Path

import pytest

from controller.guard import Latch, LatchFile, watch_leases
from tests.guard.bench import Bench
from tests.guard.sights import sight


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_new_guard_switches_everything_off(bench: Bench) -> None:
    assert not bench.relay.on
    assert not bench.relay.main


def test_heat_that_is_wanted_and_well_is_granted_for_one_lease(bench: Bench) -> None:
    assert bench.tick()
    assert bench.relay.on
    assert bench.relay.said[-2:] == ["close_main", "energise 3.0"]


def test_heat_that_is_not_wanted_is_dropped_and_the_main_contactor_stays(bench: Bench) -> None:
    bench.tick()
    assert not bench.tick(wants=False)
    assert not bench.relay.on
    assert bench.relay.main


def test_without_a_firing_the_main_contactor_opens_and_nothing_heats(bench: Bench) -> None:
    bench.tick()
    assert not bench.tick(wants=True, wants_main=False)
    assert not bench.relay.main
    assert not bench.relay.on


def test_a_proposal_without_a_judgement_of_its_own_tick_is_refused(bench: Bench) -> None:
    bench.tick()
    grant = bench.guard.grant(True, True, bench.now_s + 1.0)
    assert not grant.heat
    assert grant.refused_by == ("tick_late",)
    assert not bench.relay.on


def test_a_late_tick_grants_nothing_and_the_next_one_does(bench: Bench) -> None:
    bench.tick()
    assert not bench.tick(late_s=0.6)
    assert not bench.relay.on
    assert bench.tick()


@pytest.mark.parametrize(
    "changes", [{"door_ok": False}, {"door_ok": None}, {"load_c": None}, {"age_s": 11.0}]
)
def test_a_cut_lasts_as_long_as_its_cause_and_no_longer(bench: Bench, changes: dict[str, object]) -> None:
    bench.tick()
    assert not bench.tick(**changes)  # type: ignore[arg-type]
    assert not bench.relay.on
    assert bench.tick()


def test_a_trip_opens_everything_and_latches_when_its_cause_is_gone(bench: Bench) -> None:
    bench.tick()
    assert not bench.tick(emergency_stop_ok=False)
    assert not bench.relay.main
    for _ in range(10):
        assert not bench.tick()
    assert not bench.relay.main
    assert [latch.row_id for latch in bench.guard.latches] == ["emergency_stop"]


def test_a_trip_survives_a_restart(bench: Bench) -> None:
    bench.tick(emergency_stop_ok=False)
    bench.guard = bench.another()
    assert not bench.tick()
    assert bench.guard.latches[0].row_id == "emergency_stop"


def test_a_trip_is_cleared_only_when_its_cause_is_gone(bench: Bench) -> None:
    bench.tick(emergency_stop_ok=False)
    done, says = bench.guard.clear()
    assert not done
    assert "Emergency stop" in says
    bench.tick()
    assert bench.guard.clear() == (True, "trips cleared")
    assert bench.tick()
    assert bench.another().latches == ()


def test_the_first_trip_is_marked_and_a_later_one_is_not(bench: Bench) -> None:
    bench.tick(emergency_stop_ok=False)
    for _ in range(3):
        bench.tick(emergency_stop_ok=False, load_c=950.0)
    assert [(latch.row_id, latch.first_out) for latch in bench.guard.latches] == [
        ("emergency_stop", True),
        ("ceiling", False),
    ]


@pytest.mark.parametrize(
    "damage", ["", "{", "[1]", '[{"row_id": "x"}]', "\ud800".encode("utf-8", "surrogatepass")]
)
def test_a_latch_file_that_cannot_be_read_is_a_trip(tmp_path: Path, damage: str | bytes) -> None:
    path = tmp_path / "latches.json"
    path.write_bytes(damage if isinstance(damage, bytes) else damage.encode())
    bench = Bench(tmp_path)
    assert not bench.tick()
    assert bench.guard.latches[0].row_id == "latches_unreadable"
    bench.tick(wants=False)
    assert bench.guard.clear()[0]
    assert bench.tick()


def test_latches_are_on_the_disk_before_the_guard_goes_on(bench: Bench, tmp_path: Path) -> None:
    bench.tick(emergency_stop_ok=False)
    kept = json.loads((tmp_path / "latches.json").read_text())
    assert kept[0]["row_id"] == "emergency_stop"


def test_a_latch_that_cannot_be_kept_on_disk_still_trips_and_is_told(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(LatchFile, "save", full)
    assert not bench.tick(emergency_stop_ok=False)
    assert not bench.tick()
    assert bench.guard.latch_trouble == "a trip could not be kept on disk: no space left"


def test_a_lease_that_is_not_renewed_is_dropped_by_the_keeper(bench: Bench) -> None:
    bench.tick()
    bench.now_s += 3.0
    assert not bench.guard.keep_leases()
    assert bench.relay.on
    bench.now_s += 0.01
    assert bench.guard.keep_leases()
    assert not bench.relay.on
    assert not bench.guard.keep_leases()


def test_the_keeper_s_thread_drops_the_relay_while_the_tick_hangs(bench: Bench) -> None:
    bench.tick()
    bench.now_s += 10.0
    dropped, stopped = threading.Event(), threading.Event()
    plain = bench.relay.drop

    def drop() -> None:
        plain()
        dropped.set()

    bench.relay.drop = drop  # type: ignore[method-assign]
    thread = watch_leases(bench.guard, 0.001, stopped)
    assert dropped.wait(5.0)
    stopped.set()
    thread.join(5.0)
    assert not bench.relay.on


def test_a_heater_that_takes_no_command_gets_no_lease_and_is_found(bench: Bench) -> None:
    bench.tick()
    bench.relay.broken = True
    assert not bench.tick()
    bench.relay.broken = False
    assert not bench.tick()
    assert "heater_silent" in [finding.row.id for finding in bench.guard.findings]
    assert bench.tick()


def test_a_heater_that_takes_everything_but_heat_trips_in_two_minutes(bench: Bench) -> None:
    def refuse(_lease_s: float) -> None:
        raise OSError("refused: restarted")

    bench.relay.energise = refuse  # type: ignore[method-assign]
    for _ in range(119):
        assert not bench.tick()
    assert bench.guard.latches == ()
    for _ in range(3):
        bench.tick()
    assert [latch.row_id for latch in bench.guard.latches] == ["heater_refuses"]


def test_withdrawing_ends_heat_at_once(bench: Bench) -> None:
    bench.tick()
    bench.guard.withdraw()
    assert not bench.relay.on
    assert not bench.relay.main


def test_a_welded_relay_opens_the_main_contactor(bench: Bench) -> None:
    bench.tick()
    for _ in range(8):
        bench.tick(wants=False, heat_on=True)
    assert bench.guard.latches[0].row_id == "heat_without_lease"
    assert not bench.relay.main


def test_the_output_is_reached_by_no_name_of_the_guard(bench: Bench) -> None:
    assert not [
        name for name in vars(bench.guard) if vars(bench.guard)[name] is bench.relay and "__" not in name
    ]


def test_a_drop_that_does_not_get_through_is_tried_again_by_the_keeper(bench: Bench) -> None:
    bench.tick()
    bench.relay.broken = True
    bench.now_s += 3.5
    assert bench.guard.keep_leases()
    assert bench.relay.on
    bench.relay.broken = False
    bench.guard.keep_leases()
    assert not bench.relay.on


def test_withdrawing_says_whether_it_got_through(bench: Bench) -> None:
    bench.tick()
    bench.relay.broken = True
    assert not bench.guard.withdraw()
    bench.relay.broken = False
    assert bench.guard.withdraw()
    assert not bench.relay.main


def test_a_tick_under_way_cannot_undo_an_abort(bench: Bench) -> None:
    bench.tick()
    bench.now_s += 1.0
    bench.guard.judge(sight(bench.now_s, heat_on=True, main_on=True), 1e9)
    bench.guard.withdraw()
    grant = bench.guard.grant(True, True, bench.now_s)
    assert grant.refused_by == ("withdrawn",)
    assert not bench.relay.on
    assert not bench.relay.main
    assert not bench.tick()  # until the firing itself asks for no heat any more
    bench.tick(wants=False, wants_main=False)
    assert bench.tick()


def test_at_a_trip_the_heat_is_off_before_the_disk_is_asked(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[bool] = []
    plain = LatchFile.save

    def slow(file: LatchFile, latches: tuple[Latch, ...]) -> None:
        seen.append(bench.relay.on or bench.relay.main)
        plain(file, latches)

    monkeypatch.setattr(LatchFile, "save", slow)
    bench.tick()
    bench.tick(emergency_stop_ok=False)
    assert seen == [False]


def test_a_latch_that_could_not_be_kept_is_tried_again_until_it_is(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError("no space left")

    with monkeypatch.context() as patched:
        patched.setattr(LatchFile, "save", full)
        bench.tick(emergency_stop_ok=False)
        bench.tick()
        assert bench.guard.latch_trouble
    bench.tick()
    assert bench.guard.latch_trouble is None
    assert bench.another().latches[0].row_id == "emergency_stop"


def test_a_trip_is_not_cleared_while_its_cause_cannot_be_seen(bench: Bench) -> None:
    bench.tick(emergency_stop_ok=False)
    bench.tick(emergency_stop_ok=None)
    done, says = bench.guard.clear()
    assert not done
    assert "emergency stop" in says


def test_the_main_contactor_does_not_close_behind_an_open_door(bench: Bench) -> None:
    bench.tick(door_ok=False)
    assert not bench.relay.main
    bench.tick()
    assert bench.relay.main
    bench.tick(door_ok=False)
    assert bench.relay.main  # closed already: a look through the door does not wear it


def test_a_main_contactor_that_takes_no_command_is_told_though_the_relay_does(bench: Bench) -> None:
    bench.tick()

    def refuse() -> None:
        raise OSError("coil 1 refused")

    bench.relay.open_main = refuse  # type: ignore[method-assign]
    bench.tick(wants=False, wants_main=False)
    bench.tick(wants=False, wants_main=False)
    assert "heater_silent" in [finding.row.id for finding in bench.guard.findings]


def test_one_refusal_does_not_trip_and_is_forgotten(bench: Bench) -> None:
    plain = bench.relay.energise

    def refuse(_lease_s: float) -> None:
        raise OSError("refused")

    bench.relay.energise = refuse  # type: ignore[method-assign]
    bench.tick()
    bench.relay.energise = plain  # type: ignore[method-assign]
    for _ in range(300):
        bench.tick(wants=False)
    assert bench.guard.latches == ()


@pytest.mark.parametrize("text", ["{}", '""', "7"])
def test_a_latch_file_that_is_no_list_is_a_trip(tmp_path: Path, text: str) -> None:
    (tmp_path / "latches.json").write_text(text)
    assert not Bench(tmp_path).tick()
