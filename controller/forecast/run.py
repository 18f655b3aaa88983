"""A schedule run ahead on one kiln with one load: what happens when, and the curves."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from controller.forecast import kiln_ahead
from controller.forecast.follow import Place, begin, follow
from controller.forecast.kiln_ahead import Ahead
from controller.forecast.led_ahead import Asked, led_ahead
from controller.forecast.load import Load, reading_c
from controller.physics.grey import GreyKiln
from controller.schedule.leading import Led
from controller.schedule.model import Hold, Schedule

STEP_S, LONGEST_STEP_S = 30.0, 60.0
STEPS = 1440
"""A schedule of up to 12 h is run ahead in steps of 30 s, a longer one in as many longer ones."""

FINE_STEP_S = 10.0
SOON_S = STEPS * FINE_STEP_S
"""What ends within 4 h is run ahead in as many fine steps: a hold begins to count to the step."""

LATE_S = 36.0 * 3600.0
"""What has not ended so long after its plan is said never to end."""

NEVER_S = float("inf")


class Start(NamedTuple):
    """Where a run begins: at a firing's start, or inside one."""

    place: Place
    kiln: Ahead


@dataclass(slots=True)
class Run:
    """One run. Curves have a value every `step_s`, the first at the start; times are from there, in s."""

    step_s: float
    setpoint_c: list[float | None] = field(default_factory=list)
    """Of the air, also where the schedule's is the load's."""
    air_c: list[float] = field(default_factory=list)
    load_c: list[float] = field(default_factory=list)
    power_w: list[float] = field(default_factory=list)
    water_kg: list[float] = field(default_factory=list)
    stage: list[int] = field(default_factory=list)
    begins_s: dict[int, float] = field(default_factory=dict)
    """When each stage that was reached began."""
    ready_s: float = NEVER_S
    """When the pour's hold begins to count: the shell is ready."""
    end_s: float = NEVER_S

    @property
    def energy_j(self) -> float:
        """Return the energy of the whole run."""
        return sum(self.power_w) * self.step_s


def step_for(planned_s: float) -> float:
    """Return the step (s) for a schedule of this length."""
    if planned_s <= SOON_S:
        return FINE_STEP_S
    return min(LONGEST_STEP_S, max(STEP_S, planned_s / STEPS))


def pour_stage(schedule: Schedule) -> int | None:
    """Return the index of the stage that keeps the shell hot until it is poured: the last such hold."""
    found = [place for place, stage in enumerate(schedule.stages) if _is_pour(stage)]
    return found[-1] if found else None


def cold_start(schedule: Schedule, load: Load, room_c: float, full_rate_c_per_h: float) -> Start:
    """Return the start of a firing in a cold kiln."""
    return Start(begin(schedule, 0, room_c, room_c, full_rate_c_per_h), kiln_ahead.at_rest(room_c, load))


def run_ahead(
    schedule: Schedule,
    kiln: GreyKiln,
    load: Load,
    start: Start,
    full_rate_c_per_h: float,
    step_s: float,
    longest_s: float,
) -> Run:
    """Run a schedule to its end, or for `longest_s`."""
    place, state = start
    run = Run(step_s, begins_s={place.stage: 0.0})
    pour, last = pour_stage(schedule), len(schedule.stages)
    lead_k = [*(stage.lead_k for stage in schedule.stages), None]
    led: Led | None = None
    before: Asked | None = None
    for number in range(int(longest_s / step_s) + 1):
        t_s, air_c = number * step_s, kiln_ahead.air_c(state, kiln)
        load_c = reading_c(load, state.load_c)
        _note(run, place, state, air_c, load_c, place.setpoint_c if led is None else led.air_c)
        if place.stage >= last:
            run.end_s = t_s
            break
        if place.stage == pour and run.ready_s == NEVER_S and _in_band(schedule, place, load_c):
            begun_s = run.begins_s[pour]
            run.ready_s = begun_s if begun_s > t_s - step_s else t_s
        was = place.stage
        place = follow(schedule, place, air_c, load_c, step_s, full_rate_c_per_h)
        for begun in range(was + 1, min(place.stage, last - 1) + 1):
            run.begins_s[begun] = t_s + step_s - place.clock_s
        setpoint_c, margin_k = place.setpoint_c, lead_k[min(place.stage, last)]
        if margin_k is None:
            led = before = None
        else:
            now = Asked(setpoint_c, air_c, load_c)
            led = led_ahead(led, before or now, now, margin_k, full_rate_c_per_h, step_s)
            before = now
            setpoint_c = None if led is None else led.air_c
        state = kiln_ahead.step(state, kiln, load, setpoint_c, step_s)
    return run


def _note(
    run: Run, place: Place, state: Ahead, air_c: float, load_c: float, setpoint_c: float | None
) -> None:
    run.setpoint_c.append(setpoint_c)
    run.air_c.append(air_c)
    run.load_c.append(load_c)
    run.power_w.append(state.power_w)
    run.water_kg.append(state.water_kg)
    run.stage.append(place.stage)


def _in_band(schedule: Schedule, place: Place, load_c: float) -> bool:
    stage = schedule.stages[place.stage]
    assert isinstance(stage, Hold)
    return place.rejoin_c is None and (place.clock_s > 0.0 or abs(load_c - stage.at_c) <= stage.band_k)


def _is_pour(stage: object) -> bool:
    return isinstance(stage, Hold) and stage.for_s is None
