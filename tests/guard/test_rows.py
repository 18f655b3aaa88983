"""What the rows say, and how findings last, flicker and stand together. Boundaries: test_contract.py."""

from dataclasses import fields

import pytest

from controller.guard import ROWS, Limits, Row, judge
from tests.guard.sights import LIMITS, Judged, sight

SOURCES = ("IEC ", "ITS-90", "kiln's file", "common practice, no source")


def test_two_healthy_hours_are_quiet() -> None:
    judged, found = Judged(), set[str]()
    for n in range(2 * 3600):
        found |= set(judged.see(sight(float(n), 500.0 + 0.1 * (n % 7))))
    assert found == set()


@pytest.mark.parametrize("row", ROWS, ids=[row.id for row in ROWS])
def test_every_row_says_what_and_what_to_do_and_whence_its_number(row: Row) -> None:
    for name in ("watches", "says", "do", "why", "clears"):
        assert len(getattr(row, name)) > 5, name
    assert any(source in row.why for source in SOURCES)


def test_every_number_of_the_guard_is_one_of_a_row_and_every_row_s_number_is_one_of_the_guard() -> None:
    named = {name for row in ROWS for name in (*row.limits, row.after, row.trips_after) if name}
    assert named == {one.name for one in fields(Limits)} - {"lease_s"}


@pytest.mark.parametrize("row_id", ["sensor_bad", "reading_stale", "heater_silent", "contact_unknown"])
def test_a_cut_that_lasts_becomes_a_trip(row_id: str) -> None:
    changes = {
        "sensor_bad": {"load_c": None},
        "reading_stale": {"age_s": 11.0},
        "heater_silent": {"heat_on": None},
        "contact_unknown": {"emergency_stop_ok": None},
    }[row_id]
    judged = Judged()
    judged.see(sight(-1.0))
    for n in range(120):
        judged.see(sight(float(n), **changes))  # type: ignore[arg-type]
        assert judged.verdict is not None
        assert judged.verdict.cut
        assert not judged.verdict.trip, n
    judged.see(sight(120.0, **changes))  # type: ignore[arg-type]
    assert judged.verdict is not None
    assert judged.verdict.trip


def test_a_door_that_stays_open_never_trips() -> None:
    judged = Judged()
    for n in range(3600):
        judged.see(sight(float(n), door_ok=False))
    assert judged.verdict is not None
    assert judged.verdict.cut
    assert not judged.verdict.trip


def test_no_rise_holds_first_and_trips_when_it_lasts() -> None:
    judged = Judged()
    for n in range(1 + 600 + 1800 + 1):
        judged.see(sight(float(n), 500.0 + 0.001 * n, heat_on=n > 0, main_on=n > 0))
        assert judged.verdict is not None
        assert judged.verdict.hold == (n >= 601), n
        assert judged.verdict.trip == (n >= 2401), n
        judged.granted(float(n))


def test_what_comes_and_goes_lasts_on_and_what_is_seldom_does_not() -> None:
    for every, stands in ((2, True), (10, False)):
        judged = Judged()
        found = [judged.see(sight(float(n), heat_on=n % every == 0)) for n in range(3600)]
        assert any(found) == stands, every


def test_a_sensor_that_is_bad_every_other_tick_trips_in_minutes() -> None:
    judged = Judged()
    for n in range(600):
        judged.see(sight(float(n), load_c=None if n % 2 else 500.0))
    assert judged.verdict is not None
    assert judged.verdict.trip


def test_too_hot_on_every_other_tick_cuts_and_trips() -> None:
    judged, tripped = Judged(), False
    for n in range(20):
        judged.see(sight(float(n), load_c=None if n % 2 else 905.0))
        assert judged.verdict is not None
        assert judged.verdict.cut
        tripped = tripped or judged.verdict.trip
    assert tripped


def test_a_late_tick_now_and_then_does_not_hide_an_element_that_has_failed() -> None:
    judged, held = Judged(), False
    for n in range(3600):
        judged.see(sight(float(n), 500.0 + 0.0001 * n, heat_on=n > 0, main_on=n > 0))
        assert judged.verdict is not None
        held = held or judged.verdict.hold
        judged.refused() if n % 540 == 539 else judged.granted(float(n))
    assert held


@pytest.mark.parametrize("blip", [{"door_ok": False}, {"air_c": None}])
def test_a_flicker_does_not_hide_a_welded_relay(blip: dict[str, object]) -> None:
    judged, found = Judged(), set[str]()
    judged.see(sight(0.0))
    judged.granted(0.0)
    judged.refused()
    for n in range(1, 3600):
        changes = blip if n % 120 == 0 else {}
        air_c = 500.0 + max(0.0, n - 300.0) * 4.0 / 60.0
        found |= set(judged.see(sight(float(n), **({"air_c": air_c} | changes))))  # type: ignore[arg-type]
    assert "rises_unheated" in found


def test_air_that_comes_back_behind_a_closed_door_is_no_welded_relay() -> None:
    judged, found = Judged(), set[str]()
    for n in range(7200):
        opened = 1000 <= n < 1120
        air_c = 450.0 if opened else 600.0 - (0.02 * n if n < 1000 else 60.0 - min(40.0, 0.5 * (n - 1120)))
        found |= set(judged.see(sight(float(n), air_c, door_ok=not opened)))
    assert found == {"door_open"}


def test_every_finding_is_reported_at_once_and_none_hides_another() -> None:
    judged = Judged()
    assert set(judged.see(sight(0.0, None, door_ok=False, emergency_stop_ok=False, late_s=2.0))) == {
        "sensor_bad",
        "door_open",
        "emergency_stop",
        "tick_late",
    }


def test_judging_is_pure() -> None:
    judged = Judged()
    what = sight(5.0, None, door_ok=False)
    assert judge(judged.memory, judged.given, what, LIMITS) == judge(
        judged.memory, judged.given, what, LIMITS
    )


def test_a_good_hold_on_a_reader_of_whole_degrees_is_quiet_while_its_load_soaks() -> None:
    judged, found = Judged(), set[str]()
    for n in range(1800):
        load_c = float(round(300.0 + 95.0 * (1.0 - 2.0 ** (-n / 600.0))))
        seen = sight(float(n), 400.0, limit_c=399.0, load_c=load_c, heat_on=n % 2 == 1, main_on=True)
        found |= set(judged.see(seen))
        judged.refused() if n % 2 else judged.granted(float(n))
    assert found == set()


def test_a_load_that_stands_still_on_such_a_reader_while_its_air_rises_is_frozen() -> None:
    judged, found = Judged(), set[str]()
    for n in range(600):
        found |= set(judged.see(sight(float(n), float(round(400.0 + n / 10.0)), load_c=300.0)))
    assert "reading_frozen" in found
