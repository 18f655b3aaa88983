"""Alarms: raised, acknowledged, returned to normal; trips by their latches; no chatter."""

from controller.alarms import OFF_DELAY_S, WARN_AGAIN_S, Alarms, frames
from controller.guard import ROWS, Finding, Latch, Verdict
from controller.guard.judge import add_up

ROW = {row.id: row for row in ROWS}


def verdict(*ids: str, trips: bool = False) -> Verdict:
    return add_up(tuple(Finding(ROW[i], "found it", 0.0, trips or ROW[i].reaction == "trip") for i in ids))


def gone(alarms: Alarms, utc_s: float) -> list[tuple[str, dict[str, object]]]:
    """Nothing stands any more, for long enough."""
    return [*alarms.follow(verdict(), (), utc_s), *alarms.follow(verdict(), (), utc_s + OFF_DELAY_S)]


def kinds(told: list[tuple[str, dict[str, object]]]) -> list[str]:
    return [kind for kind, _ in told]


def test_an_alarm_is_told_once_when_it_comes_and_once_when_it_goes() -> None:
    alarms = Alarms()
    assert kinds(alarms.follow(verdict("door_open"), (), 0.0)) == ["alarm"]
    assert alarms.follow(verdict("door_open"), (), 1.0) == []
    assert alarms.follow(verdict(), (), 2.0) == []
    assert kinds(alarms.follow(verdict(), (), 2.0 + OFF_DELAY_S)) == ["alarm_cleared"]
    assert alarms.follow(verdict(), (), 30.0) == []


def test_what_flickers_about_its_limit_is_one_alarm() -> None:
    alarms, told = Alarms(), []
    for n in range(600):
        told += alarms.follow(verdict("sensors_differ") if n % 7 else verdict(), (), float(n))
    assert kinds(told) == ["alarm"]


def test_what_has_gone_stays_listed_until_someone_acknowledges_it() -> None:
    alarms = Alarms()
    alarms.follow(verdict("door_open"), (), 0.0)
    gone(alarms, 1.0)
    assert [alarm.state for alarm in alarms.listed()] == ["returned to normal"]
    assert kinds(alarms.acknowledge("door_open", "Ada")) == ["alarm_acknowledged"]
    assert alarms.listed() == []


def test_what_is_acknowledged_stays_listed_while_it_stands() -> None:
    alarms = Alarms()
    alarms.follow(verdict("door_open"), (), 0.0)
    alarms.acknowledge("all", "Ada")
    assert [alarm.state for alarm in alarms.listed()] == ["acknowledged"]
    gone(alarms, 1.0)
    assert alarms.listed() == []


def test_a_trip_stands_while_it_is_latched_and_names_the_first() -> None:
    alarms = Alarms()
    latches = (Latch("ceiling", "hot", 5.0, False), Latch("emergency_stop", "pressed", 4.0, True))
    told = alarms.follow(verdict("emergency_stop"), latches, 5.0)
    assert kinds(told) == ["trip", "trip"]
    assert alarms.follow(verdict(), latches, 6.0) == []
    assert [alarm.row_id for alarm in alarms.listed()] == ["emergency_stop", "ceiling"]
    assert kinds(gone(alarms, 7.0)) == ["alarm_cleared", "alarm_cleared"]


def test_a_cut_that_becomes_a_trip_is_told_again() -> None:
    alarms = Alarms()
    assert kinds(alarms.follow(verdict("sensor_bad"), (), 0.0)) == ["alarm"]
    latch = (Latch("sensor_bad", "air: open", 120.0, True),)
    assert kinds(alarms.follow(verdict("sensor_bad", trips=True), latch, 120.0)) == ["trip"]
    assert alarms.listed()[0].reaction == "trip"


def test_a_warning_that_chatters_is_told_seldom() -> None:
    alarms, told = Alarms(), []
    for n in range(1000):
        told += alarms.follow(verdict("tick_late") if n % 2 else verdict(), (), float(n))
    assert len(told) <= 2
    gone(alarms, 1000.0)
    assert kinds(alarms.follow(verdict("tick_late"), (), 1000.0 + WARN_AGAIN_S)) == ["alarm_warning"]


def test_the_screens_get_what_to_do_even_for_a_latch_of_another_version() -> None:
    alarms = Alarms()
    alarms.follow(verdict(), (Latch("latches_unreadable", "damaged", 0.0, True),), 0.0)
    (shown,) = frames(alarms, str)
    assert shown["reaction"] == "trip"
    assert shown["do"]
    assert "damaged" in shown["says"]
