"""A plan is an unbroken line in rising time, at the schedule's own rates, from anywhere in a schedule."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage, Then
from controller.schedule.plan import PASSIVE_C_PER_H, ROOM_C, Plan, Point, Span, is_estimated, plan

FULL_C_PER_H = 300.0


def checkpoint(heat: str = "off", expect_s: float = 900.0) -> Checkpoint:
    return Checkpoint("look", "Look.", heat, 300.0, None, Then("keep waiting"), expect_s)  # type: ignore[arg-type]


WHOLE = Schedule(
    "T",
    (
        Ramp("dry", 80.0, 60.0),
        Hold("stay", 80.0, 1800.0, 10.0),
        Ramp("up", 380.0, None),
        checkpoint(),
        Ramp("on", 400.0, 100.0),
        checkpoint("keep"),
        Hold("pour", 400.0, None, 10.0, 14400.0, 1200.0),
        Cool("slowly", 300.0, 50.0),
        Cool("by itself", 240.0, None),
    ),
)


def test_a_whole_plan_reckoned_by_hand() -> None:
    assert plan(WHOLE, 20.0, FULL_C_PER_H) == Plan(
        points=(
            Point(0.0, 20.0),
            Point(3600.0, 80.0),  # 60 K at 60 C/h
            Point(5400.0, 80.0),
            Point(9000.0, 380.0),  # 300 K at the full rate
            Point(9900.0, 365.0),  # a quarter of an hour at 60 C/h, heat off
            Point(11160.0, 400.0),  # 35 K at 100 C/h
            Point(12060.0, 400.0),
            Point(13260.0, 400.0),
            Point(20460.0, 300.0),  # 100 K at 50 C/h
            Point(24060.0, 240.0),  # 60 K at 60 C/h, heat off
        ),
        spans=(
            Span(0, "dry", "ramp", 0.0, 3600.0, 20.0, 80.0, False),
            Span(1, "stay", "hold", 3600.0, 5400.0, 80.0, 80.0, False),
            Span(2, "up", "ramp", 5400.0, 9000.0, 80.0, 380.0, False),
            Span(3, "look", "checkpoint", 9000.0, 9900.0, 380.0, 365.0, True),
            Span(4, "on", "ramp", 9900.0, 11160.0, 365.0, 400.0, False),
            Span(5, "look", "checkpoint", 11160.0, 12060.0, 400.0, 400.0, True),
            Span(6, "pour", "hold", 12060.0, 13260.0, 400.0, 400.0, True),
            Span(7, "slowly", "cool", 13260.0, 20460.0, 400.0, 300.0, False),
            Span(8, "by itself", "cool", 20460.0, 24060.0, 300.0, 240.0, True),
        ),
    )
    assert plan(WHOLE, 20.0, FULL_C_PER_H).total_s == 24060.0


def test_what_is_to_come_from_inside_a_ramp_follows_from_the_temperature() -> None:
    rest = plan(WHOLE, 50.0, FULL_C_PER_H, from_stage=0, elapsed_s=99999.0)
    assert rest.spans[0] == Span(0, "dry", "ramp", 0.0, 1800.0, 50.0, 80.0, False)


def test_what_is_to_come_from_inside_a_hold_follows_from_its_clock() -> None:
    rest = plan(WHOLE, 80.0, FULL_C_PER_H, from_stage=1, elapsed_s=600.0)
    assert rest.spans[0] == Span(1, "stay", "hold", 0.0, 1200.0, 80.0, 80.0, False)
    assert rest.spans[-1].index == 8
    assert rest.total_s == pytest.approx(24060.0 - 3600.0 - 600.0)


@pytest.mark.parametrize("stage", [3, 5, 6])
def test_who_comes_later_than_expected_is_expected_now(stage: int) -> None:
    rest = plan(WHOLE, 400.0, FULL_C_PER_H, from_stage=stage, elapsed_s=90000.0)
    assert rest.spans[0].end_s == 0.0
    assert rest.spans[1].start_s == 0.0


def test_elapsed_time_counts_only_for_the_stage_in_hand() -> None:
    rest = plan(WHOLE, 20.0, FULL_C_PER_H, from_stage=0, elapsed_s=1800.0)
    assert rest.spans[1].end_s - rest.spans[1].start_s == 1800.0


def test_a_cold_kiln_does_not_fall_below_the_room() -> None:
    waiting = Schedule("T", (checkpoint(expect_s=7200.0),))
    assert plan(waiting, ROOM_C - 5, FULL_C_PER_H).points[-1] == Point(7200.0, ROOM_C - 5)
    assert plan(waiting, ROOM_C + 30, FULL_C_PER_H).points[1:] == (
        Point(1800.0, ROOM_C),
        Point(7200.0, ROOM_C),
    )


def test_a_cooling_that_is_there_already_takes_no_time() -> None:
    down = Schedule("T", (Cool("down", 100.0, 50.0),))
    assert plan(down, 90.0, FULL_C_PER_H).points == (Point(0.0, 90.0),)


def test_a_hold_after_heat_off_is_led_back_at_the_last_ramps_rate() -> None:
    stages = (Ramp("up", 200.0, 120.0), checkpoint(), Hold("stay", 200.0, 3600.0, 10.0))
    spans = plan(Schedule("T", stages), 80.0, FULL_C_PER_H).spans
    assert spans[2].end_s - spans[2].start_s == pytest.approx(15.0 / 120.0 * 3600.0 + 3600.0)
    first = plan(Schedule("T", stages[2:]), 50.0, FULL_C_PER_H).spans[0]
    assert first.end_s == pytest.approx(1800.0 + 3600.0)  # no ramp before it: 150 K at the full rate


def test_the_temperature_at_any_time_lies_on_the_line() -> None:
    whole = plan(WHOLE, 20.0, FULL_C_PER_H)
    assert whole.at_c(-5.0) == 20.0
    assert whole.at_c(0.0) == 20.0
    assert whole.at_c(1800.0) == pytest.approx(50.0)
    assert whole.at_c(3600.0) == 80.0
    assert whole.at_c(22260.0) == pytest.approx(270.0)
    assert whole.at_c(1e9) == 240.0


@pytest.mark.parametrize("rate", [0.0, -1.0, float("nan")])
def test_a_full_rate_that_is_none_is_refused(rate: float) -> None:
    with pytest.raises(ValueError, match="full_rate_c_per_h"):
        plan(WHOLE, 20.0, rate)


temperatures = st.floats(40.0, 1200.0)
rates = st.none() | st.floats(1.0, 600.0)
times = st.floats(1.0, 1e5)
stages = st.lists(
    st.one_of(
        st.builds(Ramp, st.just("r"), temperatures, rates),
        st.builds(Hold, st.just("h"), temperatures, st.none() | times, st.just(10.0), st.just(1e5), times),
        st.builds(checkpoint, st.sampled_from(["off", "keep"]), times),
        st.builds(Cool, st.just("c"), temperatures, rates),
    ),
    min_size=1,
    max_size=8,
)


def fastest(stage: Stage, before: list[Stage]) -> float:
    """The steepest slope (C/h) that a stage's part of the plan may have."""
    if isinstance(stage, Checkpoint):
        return PASSIVE_C_PER_H if stage.heat == "off" else 0.0
    if isinstance(stage, Cool):
        return stage.rate_c_per_h or PASSIVE_C_PER_H
    ramps = [ramp for ramp in [*before, stage] if isinstance(ramp, Ramp)]
    return (ramps[-1].rate_c_per_h if ramps else None) or FULL_C_PER_H


@given(stages, st.floats(0.0, 1200.0), st.floats(0.0, 1e5), st.data())
def test_any_plan_is_unbroken_rises_in_time_and_keeps_to_its_rates(
    stages: list[Stage], start_c: float, elapsed_s: float, data: st.DataObject
) -> None:
    first = data.draw(st.integers(0, len(stages) - 1))
    planned = plan(Schedule("T", tuple(stages)), start_c, FULL_C_PER_H, from_stage=first, elapsed_s=elapsed_s)
    assert planned.points[0] == Point(0.0, start_c)
    assert [span.index for span in planned.spans] == list(range(first, len(stages)))
    ends = [planned.spans[0], *planned.spans]
    assert (ends[0].start_s, ends[0].start_c) == (0.0, start_c)
    for left, right in pairwise(planned.spans):
        assert (left.end_s, left.end_c) == (right.start_s, right.start_c)
    assert (planned.spans[-1].end_s, planned.spans[-1].end_c) == planned.points[-1]
    for left_point, right_point in pairwise(planned.points):
        assert right_point.t_s > left_point.t_s
    for span in planned.spans:
        stage = stages[span.index]
        inside = [point for point in planned.points if span.start_s <= point.t_s <= span.end_s]
        limit = fastest(stage, stages[: span.index])
        for a, b in pairwise(inside):
            assert abs(b.c - a.c) <= limit * (b.t_s - a.t_s) / 3600.0 + 1e-6
        assert planned.at_c(span.end_s) == pytest.approx(span.end_c, abs=1e-6)
        assert span.estimated == is_estimated(stage)


@given(stages, st.floats(0.0, 1200.0))
def test_the_same_schedule_gives_the_same_plan(stages: list[Stage], start_c: float) -> None:
    schedule = Schedule("T", tuple(stages))
    assert plan(schedule, start_c, FULL_C_PER_H) == plan(schedule, start_c, FULL_C_PER_H)


@given(stages, st.floats(0.0, 1200.0), st.data())
def test_what_is_to_come_is_the_rest_of_the_whole(
    stages: list[Stage], start_c: float, data: st.DataObject
) -> None:
    whole = plan(Schedule("T", tuple(stages)), start_c, FULL_C_PER_H)
    index = data.draw(st.integers(0, len(stages) - 1))
    rest = plan(Schedule("T", tuple(stages)), whole.spans[index].start_c, FULL_C_PER_H, from_stage=index)
    assert rest.total_s == pytest.approx(whole.total_s - whole.spans[index].start_s, abs=1e-3)
