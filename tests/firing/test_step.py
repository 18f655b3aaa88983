"""A firing, tick by tick: what each stage does, what a person can do, what trips and cuts do to it."""

from dataclasses import replace

import pytest

from controller.firing import Cue, Firing, Inputs, Request, State, accepts, person_needed, step
from controller.firing.step import LOOK_TAKES_S
from controller.schedule.model import Then
from tests.firing.kiln_stand_in import (
    CHECK,
    COOL,
    HOLD,
    LET_FALL,
    POUR,
    RAMP,
    Run,
    schedule,
    started,
)


def at_checkpoint(**changes: object) -> Run:
    """Return a run that has just come to a checkpoint at 100 C, with more of the ramp's kind after it."""
    run = Run(started(RAMP, replace(CHECK, **changes), replace(RAMP, name="on", to_c=150.0)))  # type: ignore[arg-type]
    run.pass_time(80 * 60 + 1)
    assert run.firing.stage == 1
    return run


def test_a_ramp_moves_the_setpoint_at_its_rate_from_the_measured_air() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(1800)
    assert run.firing.setpoint_c == pytest.approx(50.0)
    assert run.firing.slope_c_per_h == 60.0


def test_a_ramp_ends_when_the_setpoint_is_there_and_the_next_stage_begins_at_once() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(80 * 60)
    assert run.firing.stage == 1
    assert run.firing.setpoint_c == 100.0


def test_time_that_a_stage_does_not_use_goes_to_the_next() -> None:
    run = Run(started(RAMP, HOLD))
    run.tick(80 * 60 + 200.0, air_c=100.0)
    assert run.firing.stage == 1
    assert run.firing.progress.clock_s == pytest.approx(200.0)


def test_a_ramp_stands_still_while_the_load_is_too_far_below() -> None:
    run = Run(started(replace(RAMP, wait_within_k=10.0), HOLD))
    run.pass_time(1800, load_c=20.0)
    assert run.firing.setpoint_c == pytest.approx(30.0, abs=0.1)
    assert run.firing.waiting == "load"
    run.pass_time(600, load_c=25.0)
    assert run.firing.setpoint_c == pytest.approx(35.0, abs=0.1)


def test_a_full_ramp_never_runs_more_than_its_lead_ahead_of_the_kiln() -> None:
    run = Run(started(replace(RAMP, rate_c_per_h=None, to_c=800.0), HOLD))
    run.pass_time(3 * 3600, air_c=20.0)
    assert run.firing.setpoint_c == pytest.approx(50.0, abs=0.2)


def test_a_ramp_begun_above_its_end_comes_down_at_its_rate() -> None:
    run = Run(started(RAMP, HOLD, air_c=130.0))
    run.pass_time(900)
    assert run.firing.setpoint_c == pytest.approx(115.0)


def test_the_hold_clock_counts_only_inside_the_band() -> None:
    run = Run(started(RAMP, HOLD, COOL))
    run.pass_time(80 * 60)
    run.pass_time(300, load_c=94.9)
    assert run.firing.progress.clock_s == 0.0
    assert run.firing.waiting == "band"
    run.pass_time(300, load_c=95.0)
    assert run.firing.progress.clock_s == pytest.approx(300.0)
    run.pass_time(300, load_c=105.1)
    assert run.firing.progress.clock_s == pytest.approx(300.0)
    run.pass_time(301, load_c=100.0)
    assert run.firing.stage == 2


def test_the_hold_clock_stands_without_a_reading() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(80 * 60)
    run.pass_time(60, air_c=None)
    assert run.firing.progress.clock_s == 0.0


def test_a_checkpoint_with_the_heat_off_asks_for_none_and_says_why() -> None:
    run = at_checkpoint()
    assert run.firing.setpoint_c is None
    assert person_needed(run.firing) == "Look at it."
    assert "checkpoint_reached" in run.kinds()


def test_a_checkpoint_with_the_heat_kept_keeps_the_temperature() -> None:
    run = at_checkpoint(heat="keep")
    run.pass_time(600)
    assert run.firing.setpoint_c == 100.0


def test_a_checkpoint_reminds_at_its_interval() -> None:
    run = at_checkpoint()
    run.pass_time(901)
    assert run.kinds().count("checkpoint_reminder") == 3


def test_a_released_checkpoint_goes_on_from_the_measured_air() -> None:
    run = at_checkpoint()
    run.pass_time(600, air_c=70.0)
    run.tick(1.0, Cue.RELEASE, air_c=70.0)
    assert run.firing.stage == 2
    assert run.firing.setpoint_c == pytest.approx(70.0, abs=0.1)


def test_a_checkpoint_is_not_released_without_a_reading_of_the_air() -> None:
    run = at_checkpoint()
    outputs = run.tick(1.0, Cue.RELEASE, air_c=None)
    assert not outputs.answers[0].taken
    assert run.firing.stage == 1


@pytest.mark.parametrize(
    ("then", "setpoint_c", "state", "stage"),
    [
        (Then("keep waiting"), None, State.RUNNING, 1),
        (Then("keep waiting", 60.0), 60.0, State.RUNNING, 1),
        (Then("stop"), None, State.STOPPING, 1),
    ],
)
def test_what_happens_when_nobody_comes(
    then: Then, setpoint_c: float | None, state: State, stage: int
) -> None:
    run = at_checkpoint(after_s=1200.0, then=then)
    run.pass_time(1100, air_c=50.0)
    assert run.firing.setpoint_c is None
    run.pass_time(1200, air_c=50.0)
    assert (run.firing.setpoint_c, run.firing.state, run.firing.stage) == (setpoint_c, state, stage)
    assert run.kinds().count("nobody_came") == 1


def test_a_forgotten_checkpoint_climbs_back_gently_to_where_it_waits() -> None:
    run = at_checkpoint(after_s=1200.0, then=Then("keep waiting", 90.0))
    run.pass_time(1200, air_c=30.0)
    before_c = run.firing.setpoint_c
    run.pass_time(360, air_c=30.0)
    assert run.firing.setpoint_c is not None
    assert run.firing.setpoint_c - (before_c or 30.0) == pytest.approx(10.0, abs=0.2)


def test_going_on_when_nobody_comes_begins_the_next_stage_at_the_air() -> None:
    run = at_checkpoint(after_s=1200.0, then=Then("go on"))
    run.pass_time(1201, air_c=55.0)
    assert run.firing.stage == 2
    assert run.firing.setpoint_c == pytest.approx(55.0, abs=0.1)


def test_cooling_at_a_rate_leads_the_setpoint_down_and_ends_when_the_air_is_there() -> None:
    run = Run(started(RAMP, COOL, replace(RAMP, name="again")))
    run.pass_time(80 * 60)
    run.pass_time(900, air_c=80.0)
    assert run.firing.setpoint_c == pytest.approx(70.0, abs=0.1)
    run.pass_time(1800, air_c=80.0)
    assert run.firing.stage == 1
    run.tick(1.0, air_c=44.0)
    assert run.firing.stage == 2


def test_cooling_with_the_heat_off_asks_for_none_until_the_air_is_there() -> None:
    run = Run(started(RAMP, LET_FALL))
    run.pass_time(80 * 60)
    run.pass_time(60, air_c=41.0)
    assert run.firing.setpoint_c is None
    assert run.firing.state is State.RUNNING
    run.tick(1.0, air_c=40.0)
    assert run.firing.state is State.COMPLETE


def test_a_pour_hold_says_once_that_it_is_ready_and_ends_when_released() -> None:
    run = Run(started(RAMP, POUR))
    run.pass_time(80 * 60 + 600)
    assert run.kinds().count("pour_ready") == 1
    assert person_needed(run.firing) == "Pour now."
    run.tick(1.0, Cue.RELEASE)
    assert run.firing.state is State.COMPLETE
    assert run.firing.setpoint_c is None


def test_a_pour_hold_ends_at_its_limit() -> None:
    run = Run(started(RAMP, POUR, LET_FALL))
    run.pass_time(80 * 60 + 3601, air_c=100.0)
    assert run.firing.stage == 2
    assert run.kinds().count("pour_limit") == 1


def test_a_ramp_cannot_be_released() -> None:
    outputs = Run(started(RAMP, HOLD)).tick(1.0, Cue.RELEASE)
    assert not outputs.answers[0].taken
    assert "does not wait" in outputs.answers[0].says


def test_holding_stops_the_clock_and_keeps_the_temperature_and_restarting_goes_on() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(1800)
    run.tick(1.0, Cue.HOLD)
    run.tick(1.0)
    kept_c = run.firing.setpoint_c
    assert run.firing.state is State.HELD
    run.pass_time(600)
    assert run.firing.setpoint_c == kept_c
    run.tick(1.0, Cue.RESTART)
    run.tick(1.0)
    assert run.firing.state is State.RUNNING
    run.pass_time(60)
    assert run.firing.setpoint_c == pytest.approx(kept_c + 1.0, abs=0.1)  # type: ignore[operator]


def test_a_restart_of_a_kiln_that_fell_behind_leads_it_back_at_the_stage_s_rate() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(3600)
    run.tick(1.0, Cue.HOLD)
    run.tick(1.0)
    run.tick(1.0, Cue.RESTART, air_c=50.0)
    assert run.firing.state is State.RESTARTING
    assert run.firing.setpoint_c == pytest.approx(50.0, abs=0.1)
    run.pass_time(600, air_c=50.0)
    assert run.firing.setpoint_c == pytest.approx(60.0, abs=0.2)
    run.pass_time(1260)
    assert run.firing.state is State.RUNNING


def test_walls_that_bring_the_kiln_back_sooner_are_followed() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(3600)
    run.tick(1.0, Cue.HOLD)
    run.tick(1.0)
    run.tick(1.0, Cue.RESTART, air_c=50.0)
    run.tick(1.0, air_c=75.0)
    assert run.firing.setpoint_c == pytest.approx(75.0, abs=0.1)


def test_while_the_guard_cuts_no_clock_counts_and_after_a_long_cut_the_kiln_is_led_back() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(3600)
    clock_s = run.firing.progress.clock_s
    run.pass_time(300, air_c=60.0, guard_cuts=True)
    assert run.firing.progress.clock_s == clock_s
    assert run.firing.waiting == "guard"
    run.tick(1.0, air_c=60.0)
    assert run.firing.rejoin_c == pytest.approx(80.0, abs=0.1)
    assert run.firing.setpoint_c == pytest.approx(60.0, abs=0.1)


def test_a_short_cut_does_not_move_the_setpoint() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(3600)
    run.pass_time(60, air_c=60.0, guard_cuts=True)
    run.tick(1.0, air_c=60.0)
    assert run.firing.rejoin_c is None
    assert run.firing.setpoint_c == pytest.approx(80.0, abs=0.1)


def test_while_the_guard_holds_the_setpoint_stands() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(1800)
    run.pass_time(300, guard_holds=True)
    assert run.firing.setpoint_c == pytest.approx(50.0, abs=0.1)


def test_a_trip_aborts_and_the_firing_is_aborted_when_the_heat_is_proven_off() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(60)
    run.tick(1.0, tripped=True)
    assert run.firing.state is State.ABORTING
    assert run.firing.setpoint_c is None
    run.tick(1.0, tripped=True)
    assert run.firing.state is State.ABORTING
    run.tick(1.0, tripped=True, heat_proven_off=True)
    assert run.firing.state is State.ABORTED


def test_a_trip_comes_before_a_restart_of_the_same_tick() -> None:
    run = Run(started(RAMP, HOLD))
    run.tick(1.0, Cue.HOLD)
    run.tick(1.0)
    outputs = run.tick(1.0, Cue.RESTART, tripped=True)
    assert not outputs.answers[0].taken
    assert outputs.setpoint_c is None


def test_nothing_starts_while_a_trip_stands_or_the_air_is_unknown_or_without_a_schedule() -> None:
    request = Request(Cue.START, schedule=schedule(RAMP))
    for inputs in (
        Inputs(1.0, 20.0, tripped=True, requests=(request,)),
        Inputs(1.0, None, requests=(request,)),
        Inputs(1.0, 20.0, requests=(Request(Cue.START),)),
    ):
        firing, outputs = step(Firing(), inputs)
        assert firing.state is State.IDLE
        assert not outputs.answers[0].taken


def test_stop_goes_by_way_of_stopping_to_stopped_and_reset_to_idle() -> None:
    run = Run(started(RAMP, HOLD))
    run.tick(1.0, Cue.STOP)
    assert run.firing.state is State.STOPPING
    run.tick(1.0, heat_proven_off=True)
    assert run.firing.state is State.STOPPED
    run.tick(1.0, Cue.RESET)
    assert run.firing == Firing()


def test_requests_are_answered_each_by_its_key_in_the_order_they_came() -> None:
    outputs = Run(started(RAMP, HOLD)).tick(1.0, Cue.RELEASE, Cue.HOLD, Cue.ABORT)
    assert [(answer.key, answer.taken) for answer in outputs.answers] == [(0, False), (1, True), (2, True)]


def test_what_a_person_may_ask_for_is_told() -> None:
    assert accepts(Firing()) == (Cue.START,)
    running = started(RAMP, HOLD)
    assert set(accepts(running)) == {Cue.HOLD, Cue.STOP, Cue.ABORT}
    run = at_checkpoint()
    run.pass_time(LOOK_TAKES_S)
    assert Cue.RELEASE in accepts(run.firing)


def test_a_button_pressed_twice_releases_one_checkpoint_and_not_the_next() -> None:
    run = Run(started(RAMP, CHECK, replace(CHECK, name="another"), replace(RAMP, name="on", to_c=150.0)))
    run.pass_time(80 * 60 + LOOK_TAKES_S)
    outputs = run.tick(1.0, Cue.RELEASE, Cue.RELEASE)
    assert [answer.taken for answer in outputs.answers] == [True, False]
    assert "look first" in outputs.answers[1].says
    for _ in range(3):  # nor a moment later, by a second phone
        assert not run.tick(1.0, Cue.RELEASE).answers[0].taken
        assert Cue.RELEASE not in accepts(run.firing)
    assert run.firing.stage == 2
    run.pass_time(LOOK_TAKES_S)
    assert run.tick(1.0, Cue.RELEASE).answers[0].taken
    assert run.firing.stage == 3


def test_elapsed_time_goes_on_whatever_the_clocks_do() -> None:
    run = Run(started(RAMP, HOLD))
    run.pass_time(60)
    run.tick(1.0, Cue.HOLD)
    run.pass_time(60)
    assert run.firing.elapsed_s == pytest.approx(121.0)
