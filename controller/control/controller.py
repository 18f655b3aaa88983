"""How much heat: feed-forward, feedback and time-proportioning together, one pure step a tick."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import NamedTuple

from controller.control.ahead import GRID_K, STEP_S, Ahead, Course, KnownKiln, ahead, begin, coast
from controller.control.feedback import Feedback, Tuning, feedback, without_integral
from controller.control.learning import WINDOW_S, Learned, Window, learn
from controller.control.observer import Observed, first_seen, observe
from controller.control.proportioning import Relay, Switching, proportion


@dataclass(frozen=True, slots=True)
class Plan:
    """What control knows of one kiln.

    `power_w`: at full heat. `heat_capacity_j_per_k`: what has to be warmed on a ramp (0: not known).
    `loss_w_per_k`: what a kelvin above the room costs (0: not known; the integral finds it).
    `kiln`: the kiln as its firings showed it; where it is given, it stands for all of these but the power.
    `learns`: that kiln is only a typical one, and is corrected on line. `known_by`: whence all that is, in
    words.
    """

    tuning: Tuning
    switching: Switching
    power_w: float
    heat_capacity_j_per_k: float = 0.0
    loss_w_per_k: float = 0.0
    room_c: float = 20.0
    kiln: KnownKiln | None = None
    learns: bool = False
    known_by: str = ""


class Control(NamedTuple):
    """What control carries from tick to tick. `duty` is the last one.

    `refused`: heat was wanted, and has not been granted since.
    `ahead`: of a known kiln; `since_s`: how long ago it was worked out; `air_k_s`, `on_s`: the air's
    and the heat's sums since. `learned`, `window`: of a kiln that is learnt on line. `observed`: of one that
    was fitted.
    """

    feedback: Feedback = Feedback()
    relay: Relay = Relay()
    duty: float = 0.0
    refused: bool = False
    ahead: Ahead | None = None
    since_s: float = 0.0
    air_k_s: float = 0.0
    on_s: float = 0.0
    learned: Learned = Learned()
    window: Window = Window()
    observed: Observed | None = None


def anew(state: Control) -> Control:
    """Return what another plan begins with: how warm the kiln is through stays, what was tuned goes."""
    return Control(relay=state.relay, ahead=state.ahead)


def control(
    state: Control,
    plan: Plan,
    setpoint_c: float | None,
    slope_c_per_h: float,
    air_c: float | None,
    was_granted: bool,
    dt_s: float,
    next_slope_c_per_h: float | None = None,
    corner_s: float = inf,
) -> tuple[Control, bool]:
    """Return the next state and whether heat is proposed for the coming tick.

    `setpoint_c` or `air_c` None: no heat, and the integral waits as it is. `was_granted`: whether the
    last tick's heat was granted. In `corner_s` the setpoint's slope will be `next_slope_c_per_h`.
    """
    if plan.kiln is not None and air_c is not None:
        next_slope = slope_c_per_h if next_slope_c_per_h is None else next_slope_c_per_h
        course = (
            None
            if setpoint_c is None
            else Course(setpoint_c, slope_c_per_h / 3600.0, next_slope / 3600.0, corner_s)
        )
        return _known(state, plan, plan.kiln, course, air_c, was_granted, dt_s)
    if setpoint_c is None or air_c is None:
        after, _ = _no_heat(state, plan, was_granted, dt_s)
        return after._replace(observed=_watched(state, plan, state.ahead, None, was_granted, dt_s)), False
    ahead_w = plan.heat_capacity_j_per_k * slope_c_per_h / 3600.0 + plan.loss_w_per_k * (
        setpoint_c - plan.room_c
    )
    refused = _refused(state, was_granted)
    next_feedback, duty = _feedback(
        state, plan.tuning, setpoint_c, air_c, ahead_w / plan.power_w, refused, dt_s
    )
    relay, wanted = proportion(state.relay, plan.switching, duty, was_granted, dt_s)
    return Control(next_feedback, relay, duty, refused), wanted


def _refused(state: Control, was_granted: bool) -> bool:
    """Whether heat that was wanted was refused, and none has been granted since."""
    return not was_granted and (state.refused or state.relay.on)


def _no_heat(state: Control, plan: Plan, was_granted: bool, dt_s: float) -> tuple[Control, bool]:
    relay, _ = proportion(state.relay, plan.switching, 0.0, was_granted, dt_s)
    return state._replace(
        feedback=Feedback(state.feedback.integral), relay=relay._replace(on=False), duty=0.0, refused=False
    ), False


def _feedback(
    state: Control,
    tuning: Tuning,
    setpoint_c: float,
    air_c: float,
    ahead: float,
    refused: bool,
    dt_s: float,
) -> tuple[Feedback, float]:
    """Feedback, which learns nothing upwards from heat that is being refused."""
    carried = state.feedback
    after, duty = feedback(carried, tuning, setpoint_c, air_c, ahead, dt_s)
    if refused and after.integral > carried.integral:
        after = after._replace(integral=carried.integral)
    return after, duty


def _watched(
    state: Control, plan: Plan, behind: Ahead | None, air_c: float | None, was_granted: bool, dt_s: float
) -> Observed | None:
    """What is observed of a fitted kiln, a tick on; `air_c` None: without a reading. None: nothing is."""
    kiln, relay, observed = plan.kiln, state.relay, state.observed
    if kiln is None or not kiln.fitted or behind is None:
        return None
    owed_s = (
        relay.owed_s + dt_s if relay.on and not was_granted else relay.owed_s
    )  # what was refused included
    if observed is None:
        if air_c is None:
            return None
        observed = first_seen(air_c, owed_s)
    return observe(observed, kiln, behind, plan.switching.cycle_s, air_c, was_granted, owed_s, dt_s)


def _known(
    state: Control,
    plan: Plan,
    kiln: KnownKiln,
    course: Course | None,
    air_c: float,
    was_granted: bool,
    dt_s: float,
) -> tuple[Control, bool]:
    """The same for a known kiln: feed-forward every `STEP_S`, feedback about it at every tick."""
    carried = state.ahead
    if carried is None:
        carried = begin(air_c, kiln.room_c)
    observed = _watched(state, plan, carried, air_c, was_granted, dt_s)
    since_s = state.since_s + dt_s
    air_k_s = state.air_k_s + air_c * dt_s
    on_s = state.on_s + dt_s if was_granted else state.on_s
    refused = _refused(state, was_granted)
    learned, window = state.learned, Window() if refused else state.window
    if since_s >= STEP_S or (course is not None and not carried.past_c):
        mean_c = air_k_s / since_s
        carried = (
            coast(carried, kiln, mean_c, since_s)
            if course is None
            else ahead(carried, kiln, course, mean_c, since_s, learned.stores, learned.loses)
        )
        if plan.learns and course is not None:
            learned, window = _learn(learned, window, carried, kiln.power_w, since_s, on_s)
        since_s = air_k_s = on_s = 0.0
    if course is None:
        after, _ = _no_heat(state, plan, was_granted, dt_s)
        return after._replace(
            ahead=carried,
            since_s=since_s,
            air_k_s=air_k_s,
            on_s=on_s,
            window=Window(),
            observed=observed,
        ), False
    tuning = kiln.tunings[min(max(int(air_c / GRID_K), 0), len(kiln.tunings) - 1)]
    # Feedback sees how far the air is off its course: so its derivative does not brake a ramp.
    course_c = carried.course_c + carried.course_slope * since_s
    if observed is None:
        next_feedback, duty = _feedback(state, tuning, 0.0, air_c - course_c, carried.duty, refused, dt_s)
    else:
        ahead_duty = carried.duty - observed.unknown
        rise_k_per_s = observed.rise_k_per_s(kiln, dt_s) - carried.course_slope
        next_feedback = state.feedback
        duty = without_integral(tuning, observed.air_c - course_c, rise_k_per_s, ahead_duty)
    relay, wanted = proportion(state.relay, plan.switching, duty, was_granted, dt_s)
    return Control(
        next_feedback, relay, duty, refused, carried, since_s, air_k_s, on_s, learned, window, observed
    ), wanted


def _learn(
    learned: Learned, window: Window, carried: Ahead, power_w: float, step_s: float, on_s: float
) -> tuple[Learned, Window]:
    """Add a step to the window; once it is full, learn from it and begin another."""
    window = Window(
        window.s + step_s,
        window.stores_j + carried.stored_j,
        window.loses_j + carried.lost_j,
        window.given_j + power_w * on_s,
    )
    if window.s < WINDOW_S:
        return learned, window
    return learn(learned, window, power_w), Window()
