"""Control on a grey-box kiln, through a course of straight lines, without firing, guard or wire."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from controller.control import Control, Plan, control
from controller.physics.grey import GreyKiln, at_rest, step


class Seen(NamedTuple):
    """A row a second: time, setpoint (NaN: none), air, duty, heat."""

    t_s: np.ndarray
    setpoint_c: np.ndarray
    air_c: np.ndarray
    duty: np.ndarray
    heat: np.ndarray
    control: Control


def run(
    kiln: GreyKiln,
    plan: Plan,
    corners: list[tuple[float, float | None]],
    *,
    start_c: float = 20.0,
    noise_k: float = 0.0,
    refused: Callable[[float], bool] = lambda _t_s: False,
    loses_w: Callable[[float], float] = lambda _t_s: 0.0,
) -> Seen:
    """Run from corner to corner, each (s, C): straight between them; None: no setpoint until the next one.

    `refused`: when the guard grants nothing. `loses_w`: heat that the kiln loses besides (an open door).
    """
    state, carried, granted = at_rest(start_c), Control(), False
    lot = np.random.default_rng(5)
    rows = []
    place = 0
    for n in range(int(corners[-1][0])):
        t_s = float(n)
        while t_s >= corners[place + 1][0]:
            place += 1
        setpoint_c, slope, next_slope, corner_s = _course(corners, place, t_s)
        air_c = float(state.probe_c) + noise_k * float(lot.standard_normal())
        carried, wanted = control(carried, plan, setpoint_c, slope, air_c, granted, 1.0, next_slope, corner_s)
        granted = wanted and not refused(t_s)
        rows.append((t_s, np.nan if setpoint_c is None else setpoint_c, state.probe_c, carried.duty, granted))
        state = step(state, kiln, kiln.power_w * granted, 1.0, -loses_w(t_s))
    return Seen(*np.array(rows).T, carried)


def _course(
    corners: list[tuple[float, float | None]], place: int, t_s: float
) -> tuple[float | None, float, float, float]:
    """Setpoint, slope and next slope (C/h), and the time to the corner, between two corners."""
    (from_s, from_c), (to_s, to_c) = corners[place], corners[place + 1]
    if from_c is None or to_c is None:
        return None, 0.0, 0.0, to_s - t_s
    slope = (to_c - from_c) / (to_s - from_s)
    after = corners[place + 2] if place + 2 < len(corners) else None
    level = after is None or after[1] is None or after[0] == to_s  # a jump is not announced
    next_slope = 0.0 if level else (after[1] - to_c) / (after[0] - to_s)
    return from_c + slope * (t_s - from_s), slope * 3600.0, next_slope * 3600.0, to_s - t_s
