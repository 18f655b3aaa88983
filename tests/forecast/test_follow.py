"""The schedule led along ahead goes as the firing itself does, on the same temperatures."""

from __future__ import annotations

import pytest

from controller.firing import Cue, Firing, Inputs, Request, State
from controller.firing import step as firing_step
from controller.forecast.follow import begin, follow
from controller.schedule.index import find, names
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Then
from controller.schedule.reader import load_schedule

RATE = 300.0


def schedule(*stages: Ramp | Hold | Checkpoint | Cool) -> Schedule:
    return Schedule("one", stages)


def lasts_s(
    of: Schedule, load_lag_k: float = 0.0, longest_s: float = 400000.0, dt_s: float = 10.0
) -> list[float]:
    """When each stage begins, and the end, with a kiln that is always where it is asked to be."""
    place, t_s, air_c = begin(of, 0, 20.0, 20.0, RATE), 0.0, 20.0
    begins = [0.0]
    while place.stage < len(of.stages) and t_s < longest_s:
        place = follow(of, place, air_c, air_c - load_lag_k, dt_s, RATE)
        t_s += dt_s
        air_c = place.setpoint_c if place.setpoint_c is not None else air_c - 100.0 * dt_s / 3600.0
        begins += [t_s] * (place.stage - len(begins) + 1)
    return begins


def firing_lasts_s(of: Schedule, dt_s: float = 10.0) -> list[float]:
    """The same by the firing itself; whoever is expected comes."""
    firing, air_c, t_s, begins = Firing(full_rate_c_per_h=RATE), 20.0, 0.0, [0.0]
    requests: tuple[Request, ...] = (Request(Cue.START, schedule=of),)
    while True:
        firing, _ = firing_step(firing, Inputs(dt_s, air_c, air_c, requests=requests))
        begins += [t_s] * (firing.stage - len(begins) + 1)
        if firing.state is State.COMPLETE:
            return begins
        requests = ()
        stage = of.stages[firing.stage]
        if firing.waiting in ("person", "pour") and firing.progress.clock_s >= getattr(
            stage, "expect_s", 0.0
        ):
            requests = (Request(Cue.RELEASE),)
        t_s += dt_s
        air_c = firing.setpoint_c if firing.setpoint_c is not None else air_c - 100.0 * dt_s / 3600.0


@pytest.mark.parametrize("name", names())
def test_every_profile_goes_as_the_firing_itself_goes(name: str) -> None:
    of = load_schedule(find(name))
    ours, theirs = lasts_s(of), firing_lasts_s(of)
    assert len(ours) == len(theirs) == len(of.stages) + 1
    for one, other in zip(ours, theirs, strict=True):
        assert abs(one - other) <= 60.0 + 0.002 * other


def test_a_ramp_waits_for_a_load_that_is_too_far_behind_and_for_no_other() -> None:
    free = schedule(Ramp("up", 120.0, 100.0))
    waits = schedule(Ramp("up", 120.0, 100.0, wait_within_k=25.0))
    assert lasts_s(free, load_lag_k=30.0)[-1] == pytest.approx(3600.0, abs=10.0)
    assert lasts_s(waits, load_lag_k=20.0)[-1] == pytest.approx(3600.0, abs=10.0)
    assert len(lasts_s(waits, load_lag_k=30.0, longest_s=9000.0)) == 1


def test_a_full_rate_ramp_waits_for_a_load_that_is_thirty_kelvin_behind() -> None:
    full = schedule(Ramp("up", 320.0, None))
    assert lasts_s(full, load_lag_k=29.0)[-1] == pytest.approx(3600.0, abs=10.0)
    assert len(lasts_s(full, load_lag_k=31.0, longest_s=9000.0)) == 1


def test_a_hold_counts_only_within_its_band() -> None:
    of = schedule(Ramp("up", 50.0, 300.0), Hold("hold", 50.0, 600.0, 10.0))
    assert lasts_s(of, load_lag_k=9.0)[-1] == pytest.approx(360.0 + 600.0, abs=10.0)
    assert len(lasts_s(of, load_lag_k=11.0, longest_s=5000.0)) == 2


def test_a_checkpoint_takes_as_long_as_was_expected_and_a_kept_one_keeps_its_heat() -> None:
    stop = Checkpoint("look", "look", "keep", None, None, Then("keep waiting"), 900.0)
    of = schedule(Ramp("up", 120.0, 100.0), stop)
    assert lasts_s(of)[-1] == pytest.approx(3600.0 + 900.0, abs=10.0)
    assert begin(of, 1, 120.0, 118.0, RATE).setpoint_c == 120.0


def test_after_a_stop_with_the_heat_off_a_hold_is_led_back_to_at_the_last_ramp_s_rate() -> None:
    stop = Checkpoint("look", "look", "off", None, None, Then("keep waiting"), 900.0)
    of = schedule(Ramp("up", 220.0, 100.0), stop, Hold("hold", 220.0, 600.0, 10.0))
    # A quarter of an hour off is 25 K; back at 100 C/h is another, and the hold counts from 10 K below.
    assert lasts_s(of)[-1] == pytest.approx(7200.0 + 900.0 + 900.0 + 600.0, abs=30.0)


def test_a_cooling_that_is_slower_than_asked_ends_when_the_air_is_there() -> None:
    place = begin(schedule(Cool("down", 400.0, 100.0)), 0, 500.0, 500.0, RATE)
    of = schedule(Cool("down", 400.0, 100.0))
    for n in range(400):
        place = follow(of, place, 500.0 - 0.5 * n, 500.0, 30.0, RATE)
        if place.stage:
            break
    assert 190 <= n <= 192
