"""How a schedule is reckoned to go: when each stage begins and ends, and the line that it draws.

A plan is an expectation, not a promise. Ramps and timed holds follow from the schedule itself. What
waits for a person, and a kiln that cools by itself, are guesses, and their spans are `estimated`. A
ramp that waits for the load, and a hold clock that waits for its band, are not foreseen here.

Pure: the same schedule and the same numbers give the same plan.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import NamedTuple

from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage

PASSIVE_C_PER_H = 60.0  # a kiln with its heat off, door shut; common practice, no source
ASSUMED_FULL_C_PER_H = 300.0  # where no kiln is named; a small electric kiln; common practice, no source
ROOM_C = 20.0  # below this a kiln with its heat off is not reckoned to fall; common practice, no source


class Point(NamedTuple):
    """A corner of the planned line: seconds from the plan's beginning, degrees Celsius."""

    t_s: float
    c: float


@dataclass(frozen=True, slots=True)
class Span:
    """One stage on the plan. `index` is its place in the schedule; `estimated`: its length is a guess."""

    index: int
    name: str
    kind: str
    start_s: float
    end_s: float
    start_c: float
    end_c: float
    estimated: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """The line through `points` (straight between them), and the stages' spans, end to end."""

    points: tuple[Point, ...]
    spans: tuple[Span, ...]

    @property
    def total_s(self) -> float:
        """Seconds from the plan's beginning to the end of its last stage."""
        return self.points[-1].t_s

    def at_c(self, t_s: float) -> float:
        """Return the planned temperature (C) at a time; level before its beginning and after its end."""
        after = bisect_right(self.points, t_s, key=lambda point: point.t_s)
        if after == 0 or after == len(self.points):
            return self.points[max(0, after - 1)].c
        left, right = self.points[after - 1], self.points[after]
        return left.c + (right.c - left.c) * (t_s - left.t_s) / (right.t_s - left.t_s)


class _Leg(NamedTuple):
    """A straight piece of the line: how long it lasts and where it ends."""

    lasts_s: float
    to_c: float


def plan(
    schedule: Schedule,
    start_c: float,
    full_rate_c_per_h: float,
    *,
    from_stage: int = 0,
    elapsed_s: float = 0.0,
) -> Plan:
    """Return the plan from the beginning, or of what is to come from inside a stage.

    `start_c` is the temperature now (the setpoint, where there is one). `full_rate_c_per_h` stands for
    the rate "full" and must be above zero. `from_stage` is the stage in hand (its index), `elapsed_s`
    how long it has been a hold (by its hold clock) or a checkpoint; a ramp's rest follows from `start_c`.
    """
    if not full_rate_c_per_h > 0:
        raise ValueError(f"full_rate_c_per_h must be above zero, not {full_rate_c_per_h}")
    points = [Point(0.0, start_c)]
    spans = []
    for index, stage in enumerate(schedule.stages[from_stage:], start=from_stage):
        first = points[-1]
        rate = _rate(schedule.stages[: index + 1], full_rate_c_per_h)
        for leg in _legs(stage, first.c, rate, elapsed_s if index == from_stage else 0.0):
            corner = Point(points[-1].t_s + leg.lasts_s, leg.to_c)
            if corner.t_s > points[-1].t_s:  # else it is too short to be told from no time at all
                points.append(corner)
        last = points[-1]
        spans.append(
            Span(index, stage.name, stage.kind, first.t_s, last.t_s, first.c, last.c, is_estimated(stage))
        )
    return Plan(tuple(points), tuple(spans))


def is_estimated(stage: Stage) -> bool:
    """Tell whether a stage's length is a guess: it waits for a person, or for a kiln with its heat off."""
    return (
        isinstance(stage, Checkpoint)
        or (isinstance(stage, Hold) and stage.for_s is None)
        or (isinstance(stage, Cool) and stage.rate_c_per_h is None)
    )


def _rate(stages: tuple[Stage, ...], full_rate_c_per_h: float) -> float:
    """The rate (C/h) of the last ramp: a hold after a checkpoint with the heat off is led back at it."""
    for stage in reversed(stages):
        if isinstance(stage, Ramp):
            return stage.rate_c_per_h or full_rate_c_per_h
    return full_rate_c_per_h


def _legs(stage: Stage, c: float, rate: float, elapsed_s: float) -> list[_Leg]:
    match stage:
        case Ramp():
            return [_move(c, stage.to_c, rate)]
        case Hold():
            expected_s = stage.expect_s if stage.for_s is None else stage.for_s
            return [_move(c, stage.at_c, rate), _Leg(max(0.0, expected_s - elapsed_s), stage.at_c)]
        case Checkpoint():
            return _waits(c, max(0.0, stage.expect_s - elapsed_s), stage.heat == "off")
        case Cool():
            return [_move(c, min(c, stage.to_c), stage.rate_c_per_h or PASSIVE_C_PER_H)]


def _move(from_c: float, to_c: float, rate_c_per_h: float) -> _Leg:
    return _Leg(abs(to_c - from_c) / rate_c_per_h * 3600.0, to_c)


def _waits(c: float, lasts_s: float, heat_off: bool) -> list[_Leg]:
    """A checkpoint: level with the heat kept; else it falls, at most to the temperature of the room."""
    if not heat_off or c <= ROOM_C:
        return [_Leg(lasts_s, c)]
    falling_s = min(lasts_s, _move(c, ROOM_C, PASSIVE_C_PER_H).lasts_s)
    reached_c = c - PASSIVE_C_PER_H * falling_s / 3600.0
    return [_Leg(falling_s, reached_c), _Leg(lasts_s - falling_s, reached_c)]
