"""Feed-forward: the heat that a known kiln needs, worked out backwards from where its air is to be.

The coming setpoint is known for a little while, so its corners are rounded before they come: the line
that the air is to follow (`Course`) is the setpoint averaged over `HALF` steps to either side. Where the
air is to be follows the thermocouple's lag backwards to what it must see, from there how hot the elements
and the chamber must be, and from there the power. The lining's deeper layers and the load are carried
along by the measured air. Everything is worked out once every `STEP_S`.

Plain numbers, given from outside; how they were found is not known here.
"""

from __future__ import annotations

from itertools import pairwise
from math import inf
from typing import NamedTuple

from controller.control.feedback import Tuning

STEP_S = 5.0
"""How often the feed-forward is worked out: well below any lag that matters."""

HALF = 6
"""Corners are rounded over so many steps to either side: half a minute. Sharper ones ask more of what is
known of the quick lags than a record tells. Chosen on the development kilns of the bench."""

HALF_UP, FIRST_HALF_UP = 3, 4
"""So many where the setpoint turns upwards, and of a kiln that nobody knows: the rounding there lifts a
hold's end off its temperature, by a sixth of the slope times half's seconds (0.35 K at 250 C/h and half a
minute). Chosen likewise."""

JUMP_K = 2.0
"""A setpoint that moves by so much more than its slope says has jumped."""

FOURTH = 5.670374419e-8
"""Stefan and Boltzmann's constant, W/(m2 K4), CODATA 2018."""

ZERO_K = 273.15

SAME_PART = 0.05
"""Slopes that differ by no more than this part are the same: ticks are never quite even."""

GRID_K = 25.0
"""Tunings are worked out beforehand for temperatures so far apart."""


class KnownKiln(NamedTuple):
    """What is known of a kiln, heat capacities in J/K, conductances in W/K, radiating areas in m2.

    The chamber is the lining's hot face with the air; `inner` and `outer` are the layers behind it.
    `tunings`: the feedback's, one for every `GRID_K` from 0 C on. `fitted`: these are this very kiln's
    numbers, good enough to be watched by (`observer`).
    """

    power_w: float
    elements_j_per_k: float
    elements_w_per_k: float
    elements_m2: float
    chamber_j_per_k: float
    vent_w_per_k: float
    face_w_per_k: float
    inner_j_per_k: float
    between_w_per_k: float
    outer_j_per_k: float
    room_w_per_k: float
    load_j_per_k: float
    load_w_per_k: float
    load_m2: float
    probe_s: float
    sees_elements: float
    dead_s: float
    room_c: float
    tunings: tuple[Tuning, ...]
    fitted: bool = False


class Course(NamedTuple):
    """The setpoint just past and to come. `slope` in K/s; after `corner_s` (s) it is `next_slope`."""

    setpoint_c: float
    slope: float
    next_slope: float
    corner_s: float


class Ahead(NamedTuple):
    """What feed-forward carries. `past_c`: the setpoints of the last steps, newest first.

    `duty`, and the rounded line: `course_c` at the last step, with its slope (K/s). `air_c`: as measured
    at the last step; `stored_j`, `lost_j`: what the kiln took up in it, by its numbers.
    """

    elements_c: float
    chamber_c: float
    inner_c: float
    outer_c: float
    load_c: float
    past_c: tuple[float, ...]
    duty: float
    course_c: float
    course_slope: float
    air_c: float
    stored_j: float = 0.0
    lost_j: float = 0.0


def begin(air_c: float, room_c: float) -> Ahead:
    """Return the state of a kiln of which only the air is known: cold through, if it is cold."""
    inner_c = room_c + 0.8 * (air_c - room_c)
    outer_c = room_c + 0.4 * (air_c - room_c)
    return Ahead(air_c, air_c, inner_c, outer_c, air_c, (), 0.0, air_c, 0.0, air_c)


def coast(state: Ahead, kiln: KnownKiln, air_c: float, dt_s: float) -> Ahead:
    """Carry the kiln over a step without heat: elements and chamber are where the air is."""
    inner_c, outer_c, load_c, _ = _behind(state, kiln, air_c, dt_s)
    return Ahead(air_c, air_c, inner_c, outer_c, load_c, (), 0.0, air_c, 0.0, air_c)


def ahead(
    state: Ahead,
    kiln: KnownKiln,
    course: Course,
    air_c: float,
    dt_s: float,
    stores: float = 1.0,
    loses: float = 1.0,
) -> Ahead:
    """Carry it over a step of `dt_s`, and work out the duty for the next one.

    `stores`, `loses`: factors on what it stores and what it loses, learnt on line.
    """
    course = _steadied(course, state.past_c, dt_s)
    past = _past(state.past_c, course, dt_s)
    lead_s = kiln.dead_s + dt_s
    at = [_at(course, past, lead_s + k * dt_s, dt_s) for k in range(-HALF, HALF + 1)]
    line_c, slope = _rounded(at, dt_s, HALF_UP if kiln.fitted else FIRST_HALF_UP)
    course_c = line_c - slope * lead_s
    sees_c = line_c + kiln.probe_s * slope
    elements_c, chamber_c, needs_w = _needs(state, kiln, sees_c, dt_s, stores, loses)
    duty = needs_w / kiln.power_w
    given = 0.0 if duty < 0.0 else 1.0 if duty > 1.0 else duty
    elements_c = _elements(elements_c, chamber_c, duty - given, kiln, dt_s)
    inner_c, outer_c, load_c, lost_j = _behind(state, kiln, chamber_c + air_c - course_c, dt_s)
    stored_j = (kiln.chamber_j_per_k + kiln.elements_j_per_k) * (air_c - state.air_c) + kiln.load_j_per_k * (
        load_c - state.load_c
    )
    return Ahead(
        elements_c, chamber_c, inner_c, outer_c, load_c, past, duty, course_c, slope, air_c, stored_j, lost_j
    )


def _rounded(at: list[float], dt_s: float, half_up: int) -> tuple[float, float]:
    """The line (C) and its slope (K/s) in the middle of setpoints at even times.

    Averages of averages: a triangle's weights for the line, a box's for its slope. A straight line stays what
    it is by any of them, so that it goes over from one to the other without a step.
    """
    half, weights = HALF, WEIGHTS[HALF]
    if at[0] + at[-1] > 2.0 * at[HALF]:
        at, half, weights = at[HALF - half_up : HALF + half_up + 1], half_up, WEIGHTS[half_up]
    line_c = sum(weight * c for weight, c in zip(weights, at, strict=True))
    before, after = sum(at[:half]), sum(at[half + 1 :])
    slope = (after + 0.5 * (at[half] - at[-1]) - before - 0.5 * (at[half] - at[0])) / (half * half * dt_s)
    return line_c, slope


def _weights(half: int) -> tuple[float, ...]:
    return tuple((half - abs(k)) / half**2 for k in range(-half, half + 1))


WEIGHTS = {half: _weights(half) for half in (HALF, HALF_UP, FIRST_HALF_UP)}


def _past(past: tuple[float, ...], course: Course, dt_s: float) -> tuple[float, ...]:
    """Add the setpoint to those just past; where it jumped, they jump with it."""
    if not past:
        return (course.setpoint_c,) * (HALF + 1)
    jump = course.setpoint_c - past[0]
    most = max(abs(course.slope), abs(past[0] - past[1]) / dt_s) * dt_s + JUMP_K
    if abs(jump) > most:
        return (course.setpoint_c, *(c + jump for c in past[:HALF]))
    return (course.setpoint_c, *past[:HALF])


def _steadied(course: Course, past: tuple[float, ...], dt_s: float) -> Course:
    """Return the course with its mean slope, where the setpoint stops and goes all the time.

    A ramp that waits for a load near its limit moves at one tick and stands at the next. Its slope of the
    moment, taken at its word, would ask for far too much heat and then for none, and there is no heat below
    none to make up for it. A corner, which turns once, is no such thing.
    """
    if not past:
        return course
    line = (course.setpoint_c, *past)
    slopes = [(after - before) / dt_s for after, before in pairwise(line)]
    most = max(map(abs, slopes))
    if most * dt_s > JUMP_K or _turns_once(slopes, SAME_PART * most):
        return course
    mean = (line[0] - line[-1]) / (len(slopes) * dt_s)
    return Course(course.setpoint_c, mean, mean, inf)


def _turns_once(slopes: list[float], same: float) -> bool:
    """Whether slopes only rise or only fall, but for differences that are `same` as none."""
    steps = [after - before for before, after in pairwise(slopes)]
    return all(step >= -same for step in steps) or all(step <= same for step in steps)


def _at(course: Course, past: tuple[float, ...], t_s: float, dt_s: float) -> float:
    """The setpoint (C) at a time from now, past or to come."""
    if t_s >= 0.0:
        if t_s <= course.corner_s:
            return course.setpoint_c + course.slope * t_s
        return (
            course.setpoint_c + course.slope * course.corner_s + course.next_slope * (t_s - course.corner_s)
        )
    place = -t_s / dt_s
    left = min(int(place), HALF - 1)
    return past[left] + (place - left) * (past[left + 1] - past[left])


def _needs(
    state: Ahead, kiln: KnownKiln, sees_c: float, dt_s: float, stores: float, loses: float
) -> tuple[float, float, float]:
    """Where elements and chamber must be a step on (C) so that the thermocouple sees `sees_c`, and the power.

    It sees the chamber and, by a part, the elements; so the chamber follows what it sees with a lag.
    """
    elements_c, chamber_c, part = state.elements_c, state.chamber_c, kiln.sees_elements
    passes = kiln.elements_w_per_k + radiates_w_per_k(kiln.elements_m2, elements_c, chamber_c)
    to_load = kiln.load_w_per_k + radiates_w_per_k(kiln.load_m2, chamber_c, state.load_c)
    through_w = kiln.face_w_per_k * (chamber_c - state.inner_c) + kiln.vent_w_per_k * (
        chamber_c - kiln.room_c
    )
    loses_w = loses * through_w + stores * to_load * (chamber_c - state.load_c)
    j_per_k, pulls = stores * kiln.chamber_j_per_k, dt_s * passes / part
    chamber_c = (j_per_k * chamber_c - dt_s * loses_w + pulls * sees_c) / (j_per_k + pulls)
    above_k = (sees_c - chamber_c) / part
    after_c = chamber_c + above_k
    return after_c, chamber_c, kiln.elements_j_per_k * (after_c - elements_c) / dt_s + passes * above_k


def _elements(wanted_c: float, chamber_c: float, lacks: float, kiln: KnownKiln, dt_s: float) -> float:
    """Where the elements (C) come to when the duty `lacks` (or, below zero, exceeds) what they needed.

    What is lacking is made up later, but not what no heat could do: they cannot be hotter than full heat
    keeps them, nor colder than the chamber.
    """
    if lacks == 0.0:
        return wanted_c
    reached_c = wanted_c - lacks * kiln.power_w * dt_s / kiln.elements_j_per_k
    passes = kiln.elements_w_per_k + radiates_w_per_k(kiln.elements_m2, wanted_c, chamber_c)
    if lacks > 0.0:
        return max(reached_c, min(wanted_c, chamber_c + kiln.power_w / passes))
    return min(reached_c, max(wanted_c, chamber_c))


def _behind(
    state: Ahead, kiln: KnownKiln, chamber_c: float, dt_s: float
) -> tuple[float, float, float, float]:
    """The lining's deeper layers and the load (C), a step on, behind a measured chamber; and its loss (J)."""
    face_w = kiln.face_w_per_k * (chamber_c - state.inner_c)
    between_w = kiln.between_w_per_k * (state.inner_c - state.outer_c)
    room_w = kiln.room_w_per_k * (state.outer_c - kiln.room_c)
    to_load = dt_s * (kiln.load_w_per_k + radiates_w_per_k(kiln.load_m2, chamber_c, state.load_c))
    return (
        state.inner_c + dt_s / kiln.inner_j_per_k * (face_w - between_w),
        state.outer_c + dt_s / kiln.outer_j_per_k * (between_w - room_w),
        (kiln.load_j_per_k * state.load_c + to_load * chamber_c) / (kiln.load_j_per_k + to_load),
        dt_s * (face_w + kiln.vent_w_per_k * (chamber_c - kiln.room_c)),
    )


def radiates_w_per_k(m2: float, hot_c: float, cold_c: float) -> float:
    """Return the conductance (W/K) by radiation between two temperatures (C)."""
    hot_k, cold_k = hot_c + ZERO_K, cold_c + ZERO_K
    return FOURTH * m2 * (hot_k * hot_k + cold_k * cold_k) * (hot_k + cold_k)
