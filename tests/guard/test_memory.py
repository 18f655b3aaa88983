"""What the guard remembers of what it saw, number by number."""

from __future__ import annotations

import pytest

from controller.guard import ROWS, Given, Memory, fresh_memory
from controller.guard.look import Look
from controller.guard.memory import Still, remember, sample_of
from tests.guard.sights import LIMITS, sight

QUIET = (0.0,) * len(ROWS)
NEVER = float("-inf")


def seen(
    memory: Memory, now_s: float, air_c: float | None = 500.0, given: Given | None = None, **more: object
) -> Memory:
    """Remember one more sight."""
    return remember(memory, Look(sight(now_s, air_c, **more), given or Given(), LIMITS))


def test_a_fresh_memory_holds_nothing() -> None:
    assert fresh_memory() == Memory(QUIET, None, None, None, None, 0.0, None, NEVER, None, None)
    assert Given() == Given(False, NEVER, NEVER, 0.0, True, None, "", None, NEVER, False)


def test_the_first_sight_is_the_first_sample() -> None:
    still = tuple(Still(500.0, 7.0, (500.0, 500.0, 500.0), 0.0) for _ in range(3))
    assert seen(fresh_memory(), 7.0) == Memory(
        QUIET, 7.0, 500.0, None, None, 0.0, None, NEVER, sample_of(7.0, 500.0, 0.0, 0.0, 0.0, still), 500.0
    )


def test_a_sample_is_taken_every_ten_seconds_and_slope_and_share_are_smoothed_over_a_minute() -> None:
    memory = seen(fresh_memory(), 0.0)
    assert seen(memory, 9.9, 509.0).sample == memory.sample
    memory = seen(memory, 10.0, 510.0, Given(heated_s=5.0), load_c=500.0, limit_c=500.0)
    sample = memory.sample
    assert sample is not None
    assert sample[:3] == (10.0, 510.0, 5.0)
    assert sample.slope_k_per_s == pytest.approx(1.0 * 10.0 / 70.0)
    assert sample.heat_share == pytest.approx(0.5 * 10.0 / 70.0)
    assert sample.still[0] == Still(510.0, 10.0, (510.0, 500.0, 500.0), 5.0)
    assert sample.still[1] == Still(500.0, 0.0, (500.0, 500.0, 500.0), 0.0)
    memory = seen(memory, 30.0, 500.0, Given(heated_s=50.0))  # more heat than time: a whole share
    assert memory.sample is not None
    assert memory.sample.slope_k_per_s == pytest.approx(1.0 / 7.0 + 20.0 / 80.0 * (-0.5 - 1.0 / 7.0))
    assert memory.sample.heat_share == pytest.approx(0.5 / 7.0 + 20.0 / 80.0 * (1.0 - 0.5 / 7.0))
    share = memory.sample.heat_share
    memory = seen(memory, 40.0, 500.0, Given(heated_s=53.0))
    assert memory.sample is not None
    assert memory.sample.heat_share == pytest.approx(share + 10.0 / 70.0 * (0.3 - share))


@pytest.mark.parametrize("blip", [{"door_ok": False}, {"door_ok": None}, {"air_c": None}])
def test_a_flicker_of_less_than_six_seconds_wipes_nothing(blip: dict[str, object]) -> None:
    heat = Given(granted=True, heated_s=3.0)
    memory = seen(seen(fresh_memory(), 0.0), 1.0, given=heat)
    began = seen(memory, 2.0, given=heat, **blip)  # type: ignore[arg-type]
    assert began == memory._replace(seen_s=2.0, disturbed_from_s=2.0)
    later = seen(began, 7.9, given=heat, **blip)  # type: ignore[arg-type]
    assert later == memory._replace(seen_s=7.9, disturbed_from_s=2.0)
    wiped = seen(began, 8.0, given=heat, **blip)  # type: ignore[arg-type]
    assert wiped == Memory(QUIET, 8.0, None, None, None, 0.0, 2.0, 8.0, memory.sample)
    well = seen(wiped, 9.0, given=heat)
    assert (well.disturbed_from_s, well.disturbed_s, well.full_heat_since_s) == (None, 8.0, 9.0)


def test_what_stood_before_a_door_was_open_stands_after_it() -> None:
    memory = seen(fresh_memory(), 0.0, 480.0, limit_c=485.0)
    memory = seen(seen(memory, 1.0, 470.0, door_ok=False), 8.0, 470.0, door_ok=False)
    assert (memory.coldest_unheated_c, memory.coldest_limit_c) == (480.0, 485.0)


def test_unbroken_heat_begins_anew_whenever_the_air_has_risen_by_three_kelvin() -> None:
    memory = seen(fresh_memory(), 0.0, 500.0, Given(granted=True, heated_s=1.0), limit_c=490.0)
    assert memory[2:6] == (None, 0.0, (500.0, 490.0), 1.0)
    assert seen(memory, 1.0, 502.9, Given(granted=True, heated_s=2.0))[2:6] == memory[2:6]
    risen = seen(memory, 1.0, 503.0, Given(granted=True, heated_s=2.0), limit_c=491.0)
    assert risen[2:6] == (None, 1.0, (503.0, 491.0), 2.0)


@pytest.mark.parametrize(("heated_s", "unbroken"), [(108.0, True), (107.9, False)])
def test_heat_is_unbroken_while_six_seconds_and_a_twentieth_are_missing_at_most(
    heated_s: float, unbroken: bool
) -> None:
    memory = Memory(QUIET, full_heat_since_s=0.0, full_heat_from_c=(500.0, 500.0), full_heat_had_s=10.0)
    after = seen(memory, 120.0, 500.0, Given(granted=False, heat_end_s=119.0, heated_s=10.0 + heated_s))
    assert (after.full_heat_since_s == 0.0) == unbroken


def test_the_coldest_air_is_that_since_the_elements_have_dimmed() -> None:
    off = Given(heat_end_s=0.0)
    memory = fresh_memory()._replace(coldest_unheated_c=400.0, coldest_limit_c=400.0)
    for now_s, given in ((1.0, Given(granted=True)), (179.9, off)):
        after = seen(memory, now_s, given=given)
        assert (after.coldest_unheated_c, after.coldest_limit_c) == (None, None)
    memory = seen(fresh_memory(), 180.0, 500.0, off)
    assert memory.coldest_unheated_c == 500.0
    assert seen(memory, 181.0, 501.0, off).coldest_unheated_c == 500.0
    assert seen(memory, 181.0, 499.0, off).coldest_unheated_c == 499.0


def test_the_limit_s_coldest_is_kept_as_well_and_a_reading_that_is_away_wipes_nothing() -> None:
    off = Given(heat_end_s=0.0)
    memory = seen(fresh_memory(), 180.0, 500.0, off, limit_c=None)
    assert memory.coldest_limit_c is None
    memory = seen(memory, 181.0, 500.0, off, limit_c=510.0)
    assert memory.coldest_limit_c == 510.0
    for limit_c, coldest_c in ((511.0, 510.0), (None, 510.0), (509.0, 509.0)):
        assert seen(memory, 182.0, 500.0, off, limit_c=limit_c).coldest_limit_c == coldest_c


@pytest.mark.parametrize(("ago_s", "colder"), [(599.9, False), (600.0, True)])
def test_air_that_comes_back_behind_a_door_is_not_measured_from_its_coldest(
    ago_s: float, colder: bool
) -> None:
    memory = Memory(QUIET, coldest_unheated_c=500.0, coldest_limit_c=500.0, disturbed_s=1000.0 - ago_s)
    after = seen(memory, 1000.0, 480.0)
    assert (after.coldest_unheated_c == 480.0) == (after.coldest_limit_c == 480.0) == colder
