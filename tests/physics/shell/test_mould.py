"""What a mould can bear: findings with a number and a remedy, just above; quiet just below."""

from __future__ import annotations

import pytest

from controller.physics.mould import (
    CRISTOBALITE,
    CROSSINGS,
    LIMITS,
    MOULDS,
    QUARTZ,
    carbon_finding,
    findings,
    steepest,
)
from controller.schedule import keys
from controller.schedule.index import find, names
from controller.schedule.plan import plan
from controller.schedule.reader import load_schedule


def line(*points: tuple[float, float]) -> list[tuple[float, float]]:
    """Return (h, C) points as (s, C)."""
    return [(hours * 3600.0, c) for hours, c in points]


def found(points: list[tuple[float, float]], mould: str, *, reheated: bool = False) -> set[str]:
    return {finding.key for finding in findings(points, mould, reheated=reheated)}


def test_the_kinds_of_mould_are_those_of_a_schedule() -> None:
    assert keys.MOULDS == MOULDS
    assert set(MOULDS) < set(LIMITS)
    assert set(LIMITS) == set(CROSSINGS)


@pytest.mark.parametrize("mould", MOULDS)
@pytest.mark.parametrize("reheated", [False, True])
def test_a_gentle_curve_and_an_empty_one_offend_no_mould(mould: str, reheated: bool) -> None:
    assert found(line((0, 20), (14, 720), (28, 20)), mould, reheated=reheated) == set()
    assert found([], mould, reheated=reheated) == set()
    assert found(line((0, 815)), "silica shell", reheated=reheated) == set()


def test_gypsum_at_its_limit_is_stopped_and_just_below_it_is_not() -> None:
    assert found(line((0, 20), (14, 730), (20, 730)), "gypsum-bonded") == {"gypsum"}
    assert found(line((0, 20), (14, 729.9)), "gypsum-bonded") == set()
    (finding,) = findings(line((0, 20), (14, 740), (20, 730)), "gypsum-bonded")
    assert (finding.weight, finding.found, finding.limit, finding.at_s) == ("stop", 740.0, 730.0, 14 * 3600.0)
    assert "740 C" in str(finding)
    assert "720 C" in finding.remedy


def test_a_silica_shells_schedule_is_never_accepted_for_gypsum() -> None:
    schedule = load_schedule(find("printed-pla-silica-shell"))
    points = plan(schedule, 20.0, 600.0).points
    assert found(points, "silica shell") == set()
    assert {"gypsum", "quartz"} <= found(points, "gypsum-bonded")


@pytest.mark.parametrize("name", names())
def test_the_shipped_schedules_do_not_offend_their_own_mould(name: str) -> None:
    schedule = load_schedule(find(name))
    reheated = name == "empty-shell-reheat"
    assert found(plan(schedule, 20.0, 600.0).points, schedule.mould, reheated=reheated) == set()


def test_quartz_is_crossed_gently_both_ways() -> None:
    gentle, fast = QUARTZ.c_per_h, QUARTZ.c_per_h * 1.2
    for start, end in ((540.0, 600.0), (600.0, 540.0)):
        assert found(line((0, start), (60.0 / gentle, end)), "gypsum-bonded") == set()
        assert found(line((0, start), (60.0 / fast, end)), "gypsum-bonded") == {"quartz"}
    assert found(line((0, 100), (1, 500)), "kiln lining") == {"damp patches"}


def test_a_reheated_shell_may_not_do_what_a_fresh_one_may() -> None:
    quick = line((0, 20), (1, 620))
    assert found(quick, "silica shell") == set()
    assert found(quick, "silica shell", reheated=True) == {"damp patches", "cristobalite"}
    plunge = line((0, 815), (1, 20))
    assert found(plunge, "silica shell", reheated=True) == {"cristobalite", "quench"}


def test_a_shell_kept_too_hot_is_warned_of() -> None:
    assert found(line((0, 20), (4, 1150)), "silica shell") == {"devitrification"}
    assert found(line((0, 20), (4, 1149)), "silica shell") == set()


def test_a_jump_is_infinitely_steep_and_a_pass_elsewhere_is_not_seen() -> None:
    assert steepest(line((0, 200), (0, 300)), CRISTOBALITE)[1] == float("inf")
    assert steepest(line((0, 300), (0, 900)), CRISTOBALITE) == (0.0, 0.0)
    assert steepest(line((0, 250), (5, 250)), CRISTOBALITE) == (0.0, 0.0)
    assert steepest(line((0, 0), (1, 60), (2, 260)), CRISTOBALITE) == (3600.0, 200.0)


def test_carbon_in_hot_gypsum_is_stopped_and_elsewhere_is_not() -> None:
    assert carbon_finding(0.002, 700.0, "gypsum-bonded") is not None
    assert carbon_finding(0.002, 699.0, "gypsum-bonded") is None
    assert carbon_finding(0.00005, 720.0, "gypsum-bonded") is None
    assert carbon_finding(0.002, 815.0, "silica shell") is None
