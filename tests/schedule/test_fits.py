"""What a kiln cannot do is told with the stage's line, just above each limit, and not just below."""

from __future__ import annotations

from controller.schedule.fits import against_kiln
from controller.schedule.reader import read_schedule

TEXT = """title = "T"

[[stage]]
kind = "ramp"
name = "up"
to = "600 C"
rate = "300 C/h"
extraction = true

[[stage]]
kind = "hold"
name = "stay"
at = "600 C"
for = "1 h"

[[stage]]
kind = "ramp"
name = "on"
to = "650 C"
rate = "full"
"""
SCHEDULE = read_schedule(TEXT, "s.toml")


def test_a_kiln_that_can_do_it_all_just_so() -> None:
    longest_s = 580 / 300 * 3600 + 3600 + 600
    assert against_kiln(SCHEDULE, 660.0, 300.0, longest_s=longest_s) == []


def test_a_stage_within_ten_kelvin_of_the_kilns_ceiling() -> None:
    assert [str(problem) for problem in against_kiln(SCHEDULE, 659.0, 300.0)] == [
        's.toml:19: stage 3 "on", to: found 650 C, expected at most 649 C, 10 K below the kiln\'s ceiling'
    ]
    assert [problem.line for problem in against_kiln(SCHEDULE, 605.0, 300.0)] == [6, 13, 19]


def test_a_hold_exactly_ten_kelvin_below_the_ceiling_fits() -> None:
    assert [problem.line for problem in against_kiln(SCHEDULE, 610.0, 300.0)] == [19]


def test_a_ramp_faster_than_the_kiln() -> None:
    (problem,) = against_kiln(SCHEDULE, 700.0, 299.0)
    assert (problem.line, problem.where, problem.found) == (7, 'stage 1 "up", rate', "300 C/h")
    assert problem.expected == 'at most 299 C/h, the kiln\'s full rate, or "full"'


def test_a_plan_longer_than_the_kilns_longest_firing() -> None:
    assert [str(problem) for problem in against_kiln(SCHEDULE, 700.0, 300.0, longest_s=2 * 3600.0)] == [
        "s.toml:3: schedule: found a plan of 3 h 06 min, expected at most 2 h, the kiln's longest firing"
    ]


def test_extraction_on_a_kiln_that_cannot_prove_it() -> None:
    (problem,) = against_kiln(SCHEDULE, 700.0, 300.0, has_extraction=False)
    assert (problem.line, problem.where) == (8, 'stage 1 "up", extraction')


LED = read_schedule(
    TEXT.replace('rate = "300 C/h"\nextraction = true', 'rate = "300 C/h"\nfollow = "load"\nlead = "40 K"'),
    "s.toml",
)


def test_a_stage_that_asks_for_the_load_on_a_kiln_that_does_not_measure_it() -> None:
    (problem,) = against_kiln(LED, 700.0, 300.0, has_load=False)
    assert str(problem) == (
        's.toml:8: stage 1 "up", follow: found "load", expected a kiln with a load thermocouple; '
        "this one has none"
    )
    assert against_kiln(LED, 700.0, 300.0) == []


def test_the_air_that_is_led_above_the_load_stays_clear_of_the_ceiling_too() -> None:
    hot = read_schedule(LED.text.replace('"650 C"', '"610 C"'), "s.toml")
    assert against_kiln(hot, 650.0, 300.0) == []
    (problem,) = against_kiln(hot, 649.0, 300.0)
    assert (problem.line, problem.found) == (9, "40 K")
    assert problem.expected == "no more than leaves the air at most 639 C, 10 K below the kiln's ceiling"
