"""After an outage: what the rule decides, and how a firing is taken up again."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from controller.firing import Cue, State
from controller.firing.recovery import decide, in_words, kept, taken_up
from controller.schedule.model import Checkpoint, Ramp, Recovery, Schedule, Stage
from tests.firing.kiln_stand_in import CHECK, COOL, HOLD, RAMP, Run, schedule, started

BOTH = Recovery(1200.0, 60.0)


@pytest.mark.parametrize(
    ("rule", "outage_s", "fall_k", "what", "why"),
    [
        (Recovery(), 1.0, 0.0, "wait", "no rule"),
        (Recovery(otherwise="stop"), 1.0, 0.0, "stop", "no rule"),
        (BOTH, 1200.0, 60.0, "resume", "allows"),
        (BOTH, 1200.1, 0.0, "wait", "20 min"),
        (BOTH, 10.0, 60.1, "wait", "60 K"),
        (BOTH, None, 0.0, "wait", "not known how long"),
        (BOTH, 10.0, None, "wait", "not known how far"),
        (BOTH._replace(otherwise="stop"), 1201.0, 0.0, "stop", "20 min"),
        (Recovery(1200.0), 10.0, None, "resume", "allows"),
        (Recovery(None, 60.0), None, 10.0, "resume", "allows"),
        (Recovery(None, 60.0), None, -5.0, "resume", "allows"),
    ],
)
def test_the_rule_decides_by_outage_and_fall_and_says_why(
    rule: Recovery, outage_s: float | None, fall_k: float | None, what: str, why: str
) -> None:
    decision = decide(rule, RAMP, outage_s, fall_k)
    assert decision.what == what
    assert why in decision.why


@pytest.mark.parametrize("own", ["resume", "wait", "stop"])
def test_a_stage_s_own_word_goes_before_the_rule(own: str) -> None:
    stage = replace(RAMP, after_outage=own)  # type: ignore[arg-type]
    assert decide(BOTH, stage, 10.0, 0.0).what == own
    assert decide(BOTH, stage, 1e6, 500.0).what == own
    assert "up" in decide(BOTH, stage, 10.0, 0.0).why


def test_times_are_said_as_a_person_would() -> None:
    assert [in_words(s) for s in (None, 0.4, 119.0, 121.0, 7199.0, 7260.0)] == [
        "an unknown time",
        "0 s",
        "119 s",
        "2 min",
        "2 h 00 min",
        "2 h 01 min",
    ]


def cut(run: Run, outage_s: float = 600.0) -> Run:
    """Return the run as another program takes it up, from what was kept as text."""
    was = run.firing
    assert was.schedule is not None
    text = json.dumps(kept(was))
    firing = taken_up(was.schedule, 300.0, was.state, was.stage, was.setpoint_c, json.loads(text), outage_s)
    return Run(firing)


def after(seconds: float, *stages: Stage, **inputs: object) -> Run:
    run = Run(started(*stages))
    run.pass_time(seconds, **inputs)
    return run


def test_power_up_is_off_whatever_the_firing_was_doing() -> None:
    run = cut(after(1800, RAMP, HOLD))
    assert run.firing.state is State.HELD
    assert run.firing.setpoint_c is None
    run.pass_time(600, air_c=45.0)
    assert run.outputs is not None
    assert run.outputs.setpoint_c is None
    assert run.firing.progress.clock_s == pytest.approx(1800.0)


def test_a_resumed_ramp_is_led_back_from_where_the_kiln_is_and_its_clock_stands_until_then() -> None:
    run = cut(after(1800, RAMP, HOLD))  # the setpoint was at 50 C
    outputs = run.tick(1.0, Cue.RESTART, air_c=30.0)
    assert outputs.answers[0].taken
    assert run.firing.setpoint_c == pytest.approx(30.0, abs=0.1)
    clock_s = run.firing.progress.clock_s
    run.pass_time(600)  # ten minutes at 60 C/h are 10 K
    assert run.firing.setpoint_c == pytest.approx(40.0, abs=0.1)
    assert run.firing.progress.clock_s == clock_s
    run.pass_time(660)
    assert run.firing.state is State.RUNNING
    assert run.firing.setpoint_c == pytest.approx(51.0, abs=0.2)


def test_a_hold_s_clock_is_kept_and_nothing_is_counted_twice() -> None:
    run = after(80 * 60 + 300, RAMP, HOLD, COOL)
    clock_s = run.firing.progress.clock_s
    assert clock_s == pytest.approx(300.0, abs=2.0)
    run = cut(run)
    run.tick(1.0, Cue.RESTART, air_c=100.0)
    assert run.firing.progress.clock_s == pytest.approx(clock_s + 1.0)
    run.pass_time(600.0 - clock_s + 1.0)
    assert run.firing.stage == 2


def test_the_outage_counts_as_elapsed_once() -> None:
    run = cut(after(1800, RAMP, HOLD), outage_s=600.0)
    assert run.firing.elapsed_s == pytest.approx(2400.0)
    run.pass_time(10)
    assert run.firing.elapsed_s == pytest.approx(2410.0)


@pytest.mark.parametrize("heat", ["off", "keep"])
def test_a_checkpoint_is_never_skipped(heat: str) -> None:
    stages = (RAMP, replace(CHECK, heat=heat), replace(RAMP, name="on", to_c=150.0))  # type: ignore[arg-type]
    run = cut(after(80 * 60 + 400, *stages))
    run.tick(1.0, Cue.RESTART, air_c=60.0)
    run.pass_time(3 * 3600)
    assert run.firing.stage == 1
    assert run.firing.waiting == "person"
    assert "checkpoint_reached" not in run.kinds()  # it was told before
    assert run.kinds().count("checkpoint_reminder") >= 25  # the clock stands on the way back


def test_reminders_and_a_person_who_did_not_come_are_not_told_twice() -> None:
    check: Checkpoint = replace(CHECK, after_s=700.0)
    run = after(80 * 60 + 900, RAMP, check)
    assert run.kinds().count("nobody_came") == 1
    run = cut(run)
    run.tick(1.0, Cue.RESTART, air_c=60.0)
    run.pass_time(100)
    assert run.kinds().count("nobody_came") == 0
    assert run.kinds().count("checkpoint_reminder") == 0


def test_a_cooling_that_got_ahead_is_not_heated_up_again() -> None:
    down = replace(COOL, rate_c_per_h=60.0)
    run = after(80 * 60 + 600 + 300, RAMP, HOLD, down)
    assert run.firing.stage == 2
    run = cut(run)
    run.tick(1.0, Cue.RESTART, air_c=60.0)
    assert run.firing.setpoint_c == pytest.approx(60.0, abs=0.1)
    run.pass_time(600)
    assert run.firing.setpoint_c == pytest.approx(50.0, abs=0.2)


def test_an_outage_within_an_outage_leads_back_to_where_it_was_at_first() -> None:
    run = cut(after(1800, RAMP, HOLD))
    run.tick(1.0, Cue.RESTART, air_c=30.0)
    run.pass_time(300)
    run = cut(run)
    run.tick(1.0, Cue.RESTART, air_c=25.0)
    assert run.firing.rejoin_c == pytest.approx(50.0)
    run.pass_time(26 * 60)
    assert run.firing.state is State.RUNNING
    assert run.firing.setpoint_c == pytest.approx(51.0, abs=0.5)


def test_a_hold_on_the_way_back_still_leads_back_to_where_it_was() -> None:
    run = cut(after(1800, RAMP, HOLD))
    run.tick(1.0, Cue.RESTART, air_c=20.0)
    run.pass_time(1200)  # on the way, at 40 C
    run.tick(1.0, Cue.HOLD)
    run.pass_time(5, air_c=20.0)
    run.tick(1.0, Cue.RESTART, air_c=20.0)
    assert run.firing.rejoin_c == pytest.approx(50.0)


def test_what_cannot_be_measured_is_not_restarted() -> None:
    run = cut(after(1800, RAMP, HOLD))
    outputs = run.tick(1.0, Cue.RESTART, air_c=None)
    assert not outputs.answers[0].taken
    assert run.firing.state is State.HELD


def test_a_firing_that_was_being_stopped_goes_on_being_stopped() -> None:
    run = after(1800, RAMP, HOLD)
    run.tick(1.0, Cue.STOP)
    assert run.firing.state is State.STOPPING
    run = cut(run)
    run.tick(1.0, heat_proven_off=True)
    assert run.firing.state is State.STOPPED


def test_a_trip_that_stands_ends_a_firing_that_is_taken_up() -> None:
    run = cut(after(1800, RAMP, HOLD))
    outputs = run.tick(1.0, Cue.RESTART, air_c=50.0, tripped=True)
    assert not outputs.answers[0].taken
    assert run.firing.state is State.ABORTING


def test_what_is_kept_is_enough_to_the_bit() -> None:
    plan: Schedule = schedule(Ramp("up", 97.3, 61.7), HOLD)
    whole = Run(started(*plan.stages))
    whole.pass_time(1234.5)
    again = cut(whole, outage_s=0.0)
    assert again.firing.progress == whole.firing.progress
    assert again.firing.elapsed_s == whole.firing.elapsed_s
    assert again.firing.rejoin_c == whole.firing.setpoint_c
