"""The clocks: monotonic, scaled, and movable by hand."""

from __future__ import annotations

import time

import pytest

from controller.clock import Clock, ManualClock, SystemClock
from controller.errors import UsageError


def test_the_system_clock_at_speed_one_is_the_system_s_own() -> None:
    clock: Clock = SystemClock()
    assert clock.now_s() == pytest.approx(time.clock_gettime(time.CLOCK_BOOTTIME), abs=0.05)
    assert clock.utc_s() == pytest.approx(time.time(), abs=0.05)


def test_a_computer_s_sleep_has_passed_for_the_kiln(monkeypatch: pytest.MonkeyPatch) -> None:
    passed = {time.CLOCK_BOOTTIME: 1000.0, time.CLOCK_MONOTONIC: 1000.0}
    monkeypatch.setattr(time, "clock_gettime", passed.__getitem__)
    monkeypatch.setattr(time, "monotonic", lambda: passed[time.CLOCK_MONOTONIC])
    clock = SystemClock()
    assert clock.now_s() == 1000.0
    passed[time.CLOCK_BOOTTIME] += 5 * 3600.0
    assert clock.now_s() == 1000.0 + 5 * 3600.0


def test_a_stepped_system_clock_shows_in_utc_and_not_in_now(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = SystemClock()
    before_s = clock.now_s()
    true_time = time.time
    monkeypatch.setattr(time, "time", lambda: true_time() + 86400.0)
    assert clock.utc_s() == pytest.approx(true_time() + 86400.0, abs=0.05)
    assert clock.now_s() == pytest.approx(before_s, abs=0.05)


def test_a_fast_clock_runs_both_times_as_fast(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time, "clock_gettime", lambda _clock: 1000.0)
    monkeypatch.setattr(time, "time", lambda: 5.0e8)
    clock = SystemClock(speed=100.0)
    assert (clock.now_s(), clock.utc_s()) == (100000.0, 5.0e8)
    monkeypatch.setattr(time, "clock_gettime", lambda _clock: 1003.0)
    assert (clock.now_s(), clock.utc_s()) == (100300.0, 5.0e8 + 300.0)


def test_two_fast_clocks_agree() -> None:
    assert SystemClock(50.0).now_s() == pytest.approx(SystemClock(50.0).now_s(), abs=1.0)


def test_sleeping_on_a_fast_clock_takes_the_wall_s_share_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    wall_s = [10.0]
    slept_s: list[float] = []

    def sleep(seconds: float) -> None:
        slept_s.append(seconds)
        wall_s[0] += 0.9 * seconds + 0.01  # sleeps end early at times

    monkeypatch.setattr(time, "clock_gettime", lambda _clock: wall_s[0])
    monkeypatch.setattr(time, "sleep", sleep)
    clock = SystemClock(speed=10.0)
    clock.sleep_until(120.0)
    assert clock.now_s() >= 120.0
    assert slept_s[0] == pytest.approx(2.0)
    assert len(slept_s) > 1
    slept_s.clear()
    clock.sleep_until(50.0)
    assert slept_s == []


@pytest.mark.parametrize("speed", [0.0, -1.0, float("inf"), float("nan")])
def test_a_speed_that_is_none_is_refused(speed: float) -> None:
    with pytest.raises(UsageError, match=r"^speed: found .*, expected a number above 0$"):
        SystemClock(speed)


def test_a_clock_by_hand_moves_when_told_and_by_sleeping() -> None:
    clock: ManualClock = ManualClock(now_s=5.0, utc_s=1000.0)
    clock.advance(2.0)
    assert (clock.now_s(), clock.utc_s()) == (7.0, 1002.0)
    clock.sleep_until(10.0)
    clock.sleep_until(8.0)
    assert (clock.now_s(), clock.utc_s()) == (10.0, 1005.0)


def test_a_clock_by_hand_never_goes_back_but_its_date_may() -> None:
    clock = ManualClock(now_s=5.0, utc_s=1000.0)
    with pytest.raises(ValueError, match="cannot move"):
        clock.advance(-1.0)
    clock.set_utc(10.0)
    clock.advance(1.0)
    assert (clock.now_s(), clock.utc_s()) == (6.0, 11.0)
