"""Alarms: raised, acknowledged, returned to normal, shelved; trips by their latches; no chatter."""

import pytest

from controller.alarms import LONGEST_SHELF_MIN, OFF_DELAY_S, WARN_AGAIN_S, Alarms, frames
from controller.errors import UsageError
from controller.guard import ROWS, Finding, Latch, Verdict
from controller.guard.judge import add_up

ROW = {row.id: row for row in ROWS}
DAY_S = 1.9e9


def verdict(*ids: str, trips: bool = False) -> Verdict:
    return add_up(tuple(Finding(ROW[i], "found it", 0.0, trips or ROW[i].reaction == "trip") for i in ids))


def follow(
    alarms: Alarms, what: Verdict, latches: tuple[Latch, ...], now_s: float
) -> list[tuple[str, dict[str, object]]]:
    """One tick of the alarms; the date goes on as the monotonic clock does."""
    return alarms.follow(what, latches, now_s, DAY_S + now_s)


def gone(alarms: Alarms, utc_s: float) -> list[tuple[str, dict[str, object]]]:
    """Nothing stands any more, for long enough."""
    return [*follow(alarms, verdict(), (), utc_s), *follow(alarms, verdict(), (), utc_s + OFF_DELAY_S)]


def kinds(told: list[tuple[str, dict[str, object]]]) -> list[str]:
    return [kind for kind, _ in told]


def test_an_alarm_is_told_once_when_it_comes_and_once_when_it_goes() -> None:
    alarms = Alarms()
    assert kinds(follow(alarms, verdict("door_open"), (), 0.0)) == ["alarm"]
    assert follow(alarms, verdict("door_open"), (), 1.0) == []
    assert follow(alarms, verdict(), (), 2.0) == []
    assert kinds(follow(alarms, verdict(), (), 2.0 + OFF_DELAY_S)) == ["alarm_cleared"]
    assert follow(alarms, verdict(), (), 30.0) == []


def test_what_flickers_about_its_limit_is_one_alarm() -> None:
    alarms, told = Alarms(), []
    for n in range(600):
        told += follow(alarms, verdict("sensors_differ") if n % 7 else verdict(), (), float(n))
    assert kinds(told) == ["alarm"]


def test_what_has_gone_stays_listed_until_someone_acknowledges_it() -> None:
    alarms = Alarms()
    follow(alarms, verdict("door_open"), (), 0.0)
    gone(alarms, 1.0)
    assert [alarm.state for alarm in alarms.listed()] == ["returned to normal"]
    assert kinds(alarms.acknowledge("door_open", "Ada", DAY_S)) == ["alarm_acknowledged"]
    assert alarms.listed() == []


def test_what_is_acknowledged_stays_listed_while_it_stands() -> None:
    alarms = Alarms()
    follow(alarms, verdict("door_open"), (), 0.0)
    alarms.acknowledge("all", "Ada", DAY_S)
    assert [alarm.state for alarm in alarms.listed()] == ["acknowledged"]
    gone(alarms, 1.0)
    assert alarms.listed() == []


def test_a_trip_stands_while_it_is_latched_and_names_the_first() -> None:
    alarms = Alarms()
    latches = (Latch("ceiling", "hot", 5.0, False), Latch("emergency_stop", "pressed", 4.0, True))
    told = follow(alarms, verdict("emergency_stop"), latches, 5.0)
    assert kinds(told) == ["trip", "trip"]
    assert follow(alarms, verdict(), latches, 6.0) == []
    assert [alarm.row_id for alarm in alarms.listed()] == ["emergency_stop", "ceiling"]
    assert kinds(gone(alarms, 7.0)) == ["alarm_cleared", "alarm_cleared"]


def test_a_cut_that_becomes_a_trip_is_told_again() -> None:
    alarms = Alarms()
    assert kinds(follow(alarms, verdict("sensor_bad"), (), 0.0)) == ["alarm"]
    latch = (Latch("sensor_bad", "air: open", 120.0, True),)
    assert kinds(follow(alarms, verdict("sensor_bad", trips=True), latch, 120.0)) == ["trip"]
    assert alarms.listed()[0].reaction == "trip"


def test_a_warning_that_chatters_is_told_seldom() -> None:
    alarms, told = Alarms(), []
    for n in range(1000):
        told += follow(alarms, verdict("tick_late") if n % 2 else verdict(), (), float(n))
    assert len(told) <= 2
    gone(alarms, 1000.0)
    assert kinds(follow(alarms, verdict("tick_late"), (), 1000.0 + WARN_AGAIN_S)) == ["alarm_warning"]


def test_the_screens_get_what_to_do_even_for_a_latch_of_another_version() -> None:
    alarms = Alarms()
    follow(alarms, verdict(), (Latch("latches_unreadable", "damaged", 0.0, True),), 0.0)
    (shown,) = frames(alarms, str, 0.0)
    assert shown["reaction"] == "trip"
    assert shown["do"]
    assert "damaged" in shown["says"]


def test_who_acknowledged_it_and_when_is_shown() -> None:
    alarms = Alarms()
    follow(alarms, verdict("door_open"), (), 0.0)
    alarms.acknowledge("door_open", "Ada", 77.0)
    (shown,) = frames(alarms, str, 0.0)
    assert (shown["acknowledged_by"], shown["acknowledged_utc"]) == ("Ada", "77.0")


def shelved(minutes: float = 30, row_id: str = "sensors_differ") -> Alarms:
    """Alarms with one that was shelved at second 0."""
    alarms = Alarms()
    follow(alarms, verdict(row_id), (), 0.0)
    told = alarms.shelve(row_id, minutes, "Ada", 0.0)
    assert told == [("alarm_shelved", {"row": row_id, "by": "Ada", "minutes": minutes})]
    return alarms


def test_what_is_shelved_comes_and_goes_untold_until_its_time_is_over() -> None:
    alarms, told = shelved(30), []
    for n in range(1, 1800):
        told += follow(alarms, verdict("sensors_differ") if n % 60 < 30 else verdict(), (), float(n))
    assert told == []
    assert [alarm.state for alarm in alarms.listed()] == ["shelved"]
    told = follow(alarms, verdict("sensors_differ"), (), 1800.0)
    assert kinds(told) == ["alarm_unshelved", "alarm"]
    assert told[0][1]["why"] == "its time is over"
    assert [alarm.state for alarm in alarms.listed()] == ["unacknowledged"]


def test_what_went_while_it_was_shelved_is_gone_when_that_ends() -> None:
    alarms = shelved(1)
    assert gone(alarms, 1.0) == []
    assert [alarm.state for alarm in alarms.listed()] == ["shelved"]
    assert kinds(follow(alarms, verdict(), (), 60.0)) == ["alarm_unshelved"]
    assert alarms.listed() == []


def test_a_trip_ends_the_shelving_of_its_row() -> None:
    alarms = shelved(60, "sensor_bad")
    latch = (Latch("sensor_bad", "air: open", 120.0, True),)
    told = follow(alarms, verdict("sensor_bad", trips=True), latch, 120.0)
    assert kinds(told) == ["alarm_unshelved", "trip"]
    assert alarms.listed()[0].state == "unacknowledged"


def test_a_trip_is_never_shelved_and_neither_is_what_does_not_stand() -> None:
    alarms = Alarms()
    follow(alarms, verdict("emergency_stop"), (Latch("emergency_stop", "pressed", 0.0, True),), 0.0)
    for row_id, why in (("emergency_stop", "trip"), ("door_open", "stands"), ("all", "stands")):
        with pytest.raises(UsageError, match=why):
            alarms.shelve(row_id, 30, "Ada", 0.0)
    gone(alarms, 1.0)
    with pytest.raises(UsageError, match="stands"):
        alarms.shelve("emergency_stop", 30, "Ada", 20.0)


@pytest.mark.parametrize("minutes", [0, -1, LONGEST_SHELF_MIN + 1, 1e9, float("nan"), float("inf")])
def test_shelving_always_has_an_end_within_the_hour(minutes: float) -> None:
    alarms = Alarms()
    follow(alarms, verdict("door_open"), (), 0.0)
    with pytest.raises(UsageError, match="1 to 60"):
        alarms.shelve("door_open", minutes, "Ada", 0.0)
    assert [alarm.state for alarm in alarms.listed()] == ["unacknowledged"]


def test_a_person_can_end_it_and_then_it_is_told_again() -> None:
    alarms = shelved()
    assert alarms.shelve("sensors_differ", 0, "Bo", 5.0) == [
        ("alarm_unshelved", {"row": "sensors_differ", "why": "by Bo"})
    ]
    assert kinds(follow(alarms, verdict("sensors_differ"), (), 6.0)) == ["alarm"]


def test_a_clock_that_is_set_lengthens_no_shelving() -> None:
    alarms = shelved(1)
    assert kinds(alarms.follow(verdict("sensors_differ"), (), 59.0, DAY_S - 86_400.0)) == []
    assert kinds(alarms.follow(verdict("sensors_differ"), (), 60.0, DAY_S - 86_400.0)) == [
        "alarm_unshelved",
        "alarm",
    ]


def test_the_screens_see_what_is_shelved_for_how_long_and_what_may_be() -> None:
    alarms = shelved(30)
    follow(alarms, verdict("sensors_differ", "door_open"), (Latch("ceiling", "hot", 0.0, True),), 60.0)
    shown = {one["id"]: one for one in frames(alarms, str, 60.0)}
    assert shown["sensors_differ"]["state"] == "shelved"
    assert shown["sensors_differ"]["shelved_for_s"] == 29 * 60.0
    assert {row_id: one["can_shelve"] for row_id, one in shown.items()} == {
        "ceiling": False,
        "door_open": True,
        "sensors_differ": False,
    }
    assert list(shown) == ["ceiling", "door_open", "sensors_differ"]
