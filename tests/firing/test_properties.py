"""Properties of the setpoint, over schedules and tick lengths that nobody thought of."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.firing import Cue, Firing, Inputs, Request, State, step
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage, Then

RATES = st.floats(5.0, 600.0)


@st.composite
def schedules(draw: st.DrawFn, *, kept_only: bool = False) -> Schedule:
    """Schedules that a reader would take: ramps up, cools down, holds where they are."""
    at_c, stages = 20.0, list[Stage]()
    for place in range(draw(st.integers(1, 6))):
        kind = draw(st.sampled_from(("ramp", "hold", "cool", "checkpoint")))
        if kind == "cool" and at_c < 60.0:
            kind = "ramp"
        if kind == "ramp":
            at_c += draw(st.floats(1.0, 300.0))
            stages.append(Ramp(f"s{place}", at_c, draw(RATES)))
        elif kind == "hold":
            stages.append(Hold(f"s{place}", at_c, draw(st.floats(0.0, 7200.0)), 10.0))
        elif kind == "cool":
            at_c -= draw(st.floats(1.0, at_c - 25.0))
            stages.append(Cool(f"s{place}", at_c, draw(RATES)))
        else:
            heat = "keep" if kept_only else draw(st.sampled_from(("keep", "off")))
            stages.append(Checkpoint(f"s{place}", "look", heat, 60.0, 600.0, Then("go on"), 0.0))  # type: ignore[arg-type]
    return Schedule("drawn", tuple(stages))


def trace(schedule: Schedule, ticks_s: list[float]) -> list[Firing]:
    """Run a schedule on a kiln that follows its setpoint at once; return the firing after every tick."""
    firing, _ = step(Firing(), Inputs(0.0, 20.0, requests=(Request(Cue.START, schedule=schedule),)))
    states = [firing]
    for dt_s in ticks_s:
        air_c = firing.setpoint_c if firing.setpoint_c is not None else states[-1].progress.from_c
        firing, _ = step(firing, Inputs(dt_s, air_c))
        states.append(firing)
    return states


@given(schedules(), st.lists(st.floats(0.1, 300.0), min_size=20, max_size=120))
@settings(max_examples=150, deadline=None)
def test_the_setpoint_is_continuous_and_keeps_the_rate_and_the_ceiling(
    schedule: Schedule, ticks_s: list[float]
) -> None:
    states = trace(schedule, ticks_s)
    fastest = max([s.rate_c_per_h or 0.0 for s in schedule.stages if isinstance(s, Ramp | Cool)], default=0.0)
    hottest_c = max([20.0, *(s.to_c for s in schedule.stages if isinstance(s, Ramp))])
    for before, after, dt_s in zip(states, states[1:], ticks_s, strict=False):
        if after.setpoint_c is None:
            continue
        assert after.setpoint_c <= hottest_c + 1e-9
        if before.setpoint_c is not None:
            moved_k = abs(after.setpoint_c - before.setpoint_c)
            assert moved_k <= fastest * dt_s / 3600.0 + 1e-6


@given(schedules(kept_only=True), st.integers(1, 12))
@settings(max_examples=150, deadline=None)
def test_the_setpoint_does_not_depend_on_how_time_is_cut_into_ticks(schedule: Schedule, parts: int) -> None:
    # Readings are the same in both, so only the cutting differs: the load is where the plan is.
    coarse, fine = Firing(), Firing()
    start = (Request(Cue.START, schedule=schedule),)
    coarse, _ = step(coarse, Inputs(0.0, 20.0, requests=start))
    fine, _ = step(fine, Inputs(0.0, 20.0, requests=start))
    for _ in range(40):
        load_c = coarse.setpoint_c
        coarse, _ = step(coarse, Inputs(240.0, load_c))
        for _ in range(parts):
            fine, _ = step(fine, Inputs(240.0 / parts, load_c))
        if coarse.waiting or fine.waiting:
            return  # a hold clock that waits for its band starts at a reading, and readings come in ticks
        assert coarse.stage == fine.stage or abs((coarse.setpoint_c or 0) - (fine.setpoint_c or 0)) < 1e-5
        if coarse.setpoint_c is not None and fine.setpoint_c is not None:
            assert abs(coarse.setpoint_c - fine.setpoint_c) < 1e-5


@given(schedules(), st.lists(st.floats(0.1, 300.0), min_size=5, max_size=60))
@settings(max_examples=60, deadline=None)
def test_the_same_inputs_give_the_same_firing_to_the_bit(schedule: Schedule, ticks_s: list[float]) -> None:
    assert [repr(s) for s in trace(schedule, ticks_s)] == [repr(s) for s in trace(schedule, ticks_s)]


CUES = st.sampled_from([Cue.START, Cue.HOLD, Cue.RESTART, Cue.RELEASE, Cue.STOP, Cue.ABORT, Cue.RESET])


@given(
    schedules(),
    st.lists(
        st.tuples(
            st.floats(0.1, 600.0),
            st.one_of(st.none(), st.floats(-20.0, 1000.0)),
            st.one_of(st.none(), st.floats(-20.0, 1000.0)),
            st.booleans(),
            st.booleans(),
            st.sampled_from([False, False, False, True]),
            st.booleans(),
            st.lists(CUES, max_size=2),
        ),
        max_size=60,
    ),
)
@settings(max_examples=200, deadline=None)
def test_whatever_comes_in_no_heat_is_asked_for_outside_a_firing_or_above_its_schedule(
    schedule: Schedule,
    ticks: list[tuple[float, float | None, float | None, bool, bool, bool, bool, list[Cue]]],
) -> None:
    hottest_c = max([20.0, *(s.to_c for s in schedule.stages if isinstance(s, Ramp))])
    started_c = 20.0
    firing, _ = step(Firing(), Inputs(0.0, 20.0, requests=(Request(Cue.START, schedule=schedule),)))
    for dt_s, air_c, load_c, holds, cuts, trips, off, cues in ticks:
        requests = tuple(Request(cue, key, schedule) for key, cue in enumerate(cues))
        if Cue.START in cues and air_c is not None:
            started_c = max(started_c, air_c)
        firing, out = step(firing, Inputs(dt_s, air_c, load_c, holds, cuts, trips, off, requests))
        assert len(out.answers) == len(requests)
        if firing.state not in (State.RUNNING, State.HOLDING, State.HELD, State.RESTARTING):
            assert out.setpoint_c is None
        if trips:
            assert out.setpoint_c is None
        if out.setpoint_c is not None:
            # A stage that begins with the heat off begins at the measured air, and only comes down from it.
            assert out.setpoint_c <= max(hottest_c, started_c, air_c or -273.0, firing.progress.from_c) + 1e-6
