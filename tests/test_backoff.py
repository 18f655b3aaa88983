"""Guessing is slowed down, and a right try forgets."""

from __future__ import annotations

from controller.backoff import LOCKED_S, LONGEST_LOCK_S, TRIES, Backoff


def test_tries_are_counted_down_and_then_nothing_is_taken_for_a_while() -> None:
    backoff = Backoff()
    assert [backoff.wrong(0.0) for _ in range(TRIES)] == [4, 3, 2, 1, 0]
    assert backoff.left_s(LOCKED_S - 1) == 1.0
    assert backoff.left_s(LOCKED_S) == 0.0


def test_each_lock_is_twice_as_long_up_to_an_hour() -> None:
    backoff, now_s, locks = Backoff(tries=1), 0.0, []
    for _ in range(8):
        backoff.wrong(now_s)
        locks.append(backoff.left_s(now_s))
        now_s += locks[-1]
    assert locks == [60, 120, 240, 480, 960, 1920, LONGEST_LOCK_S, LONGEST_LOCK_S]


def test_a_right_try_begins_anew() -> None:
    backoff = Backoff(tries=2)
    for now_s in (0.0, 0.0, 100.0):
        backoff.wrong(now_s)
    backoff.right()
    assert backoff.wrong(200.0) == 1
    backoff.wrong(200.0)
    assert backoff.left_s(200.0) == LOCKED_S
