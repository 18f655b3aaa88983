"""One look at the kiln: everything under its own name, and what is worked out of the readings."""

from __future__ import annotations

from dataclasses import fields

import pytest

from controller.guard import ALL_WELL, Given, Memory, Sight, fresh_memory, judge
from controller.guard.look import Look
from tests.guard.sights import LIMITS, Reading, look, sight

WORKED_OUT = {"limits", "hottest_role", "hottest_c", "oldest_role", "oldest_s", "bad"}
# What no row asks for.
LEFT_OUT = {"withdrawn", "lasted_s", "seen_s", "full_heat_had_s", "disturbed_from_s"}


def shown(*readings: tuple[str, float | None, float]) -> Look:
    """A look at these readings: role, value (C) and age (s)."""
    seen = tuple(
        (role, Reading(c, None if c is not None else "open", 100.0 - age)) for role, c, age in readings
    )
    return Look(sight(100.0)._replace(readings=seen), Given(), LIMITS)


def test_everything_is_found_under_its_own_name() -> None:
    seen = Sight(*range(len(Sight._fields)))._replace(readings=())  # type: ignore[arg-type]
    given = Given(*range(100, 100 + len(Given._fields)))  # type: ignore[arg-type]
    memory = Memory(*range(200, 200 + len(Memory._fields)))  # type: ignore[arg-type]
    one = look(seen, given, memory)
    names = {field.name for field in fields(Look)}
    for told in (seen, given, memory):
        for name in set(told._fields) & names:
            assert getattr(one, name) == getattr(told, name), name
    assert one.limits is LIMITS
    told_of = {*Sight._fields, *Given._fields, *Memory._fields}
    assert names - told_of == WORKED_OUT
    assert told_of - names == LEFT_OUT


def test_of_the_readings_the_hottest_counts_and_the_oldest_and_the_first_that_is_bad() -> None:
    one = shown(("air", 500.0, 0.0), ("load", 510.0, 2.0), ("limit", None, 1.0), ("second load", None, 0.0))
    assert (one.hottest_role, one.hottest_c) == ("load", 510.0)
    assert (one.oldest_role, one.oldest_s) == ("load", 98.0)
    assert one.bad is not None
    assert one.bad[0] == "limit"
    one = shown(("air", 500.0, 1.0), ("load", 500.0, 1.0))
    assert (one.hottest_role, one.oldest_role, one.bad) == ("air", "air", None)


def test_without_a_good_reading_none_is_the_hottest() -> None:
    one = shown(("air", None, 0.0))
    assert (one.hottest_role, one.hottest_c) == ("", float("-inf"))
    one = shown()
    assert (one.oldest_role, one.oldest_s, one.bad) == ("", float("inf"), None)


@pytest.mark.parametrize("value_c", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_temperature_is_bad_and_only_endless_heat_is_hot(value_c: float) -> None:
    one = shown(("air", value_c, 0.0), ("limit", 20.0, 0.0))
    assert one.bad is not None
    assert one.bad[0] == "air"
    assert one.hottest_role == ("air" if value_c == float("inf") else "limit")


def test_a_tick_in_which_all_is_well_is_told_in_one_word_and_only_such_a_one() -> None:
    memory, verdict = judge(fresh_memory(), Given(), sight(1.0), LIMITS)
    assert verdict is ALL_WELL
    assert verdict == ((), False, False, False)
    assert memory.lasted_s is fresh_memory().lasted_s
    memory, verdict = judge(memory, Given(), sight(2.0, record_trouble="full"), LIMITS)
    assert verdict is not ALL_WELL
    memory, verdict = judge(memory, Given(), sight(3.0), LIMITS)
    assert memory.lasted_s is not fresh_memory().lasted_s
    for n in range(4, 9):
        memory, verdict = judge(memory, Given(), sight(float(n)), LIMITS)
    assert verdict is ALL_WELL
    assert memory.lasted_s is fresh_memory().lasted_s
