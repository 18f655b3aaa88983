"""What was measured of a firing, at even times, and a kiln led along it."""

from __future__ import annotations

from math import isnan
from typing import NamedTuple

import numpy as np

from controller.forecast import kiln_ahead
from controller.forecast.ensemble import Floats
from controller.forecast.kiln_ahead import Ahead
from controller.forecast.load import Load
from controller.physics.grey import GreyKiln
from controller.record.curve import Curve
from controller.schedule.plan import ROOM_C

EVERY_S = 60.0
"""The past is taken every so many seconds: what is left of it is in slow walls."""

MOST = 2.0
"""Led along, a kiln may be given so many times its power: what it takes to be where it was seen to be."""


class Seen(NamedTuple):
    """What was measured since the firing's start, every `EVERY_S`, the last now; NaN where nothing was."""

    air_c: Floats
    load_c: Floats


def seen_of(curve: Curve) -> Seen:
    """Return what a record's ticks say, at even times."""
    return seen_at(curve.t_s, curve.air_c, curve.load_c)


def seen_at(ticks_s: Floats, air_c: Floats, load_c: Floats) -> Seen:
    """Return what was measured at even times that end with the last tick. `ticks_s`: from the first, rising.

    What is over at the beginning (less than `EVERY_S`, in a cold kiln) is left out, so that nothing is at
    the end.
    """
    if not len(ticks_s):
        return Seen(np.empty(0), np.empty(0))
    last_s = float(ticks_s[-1])
    t_s = np.arange(last_s % EVERY_S, last_s + 1e-6, EVERY_S)
    place = np.minimum(np.searchsorted(ticks_s, t_s - 1e-6), len(ticks_s) - 1)
    return Seen(air_c[place], load_c[place])


def cold_c(seen: Seen) -> float:
    """Return the air at the start; a room's where nothing was measured."""
    known_c = seen.air_c[~np.isnan(seen.air_c)]
    return float(known_c[0]) if len(known_c) else ROOM_C


def led_along(kiln: GreyKiln, load: Load, seen: Seen, *, pinned: bool) -> list[Ahead]:
    """Return the states of a kiln whose air goes as it was measured; `pinned`: and its load, where it was."""
    air_c = cold_c(seen)
    state = kiln_ahead.at_rest(air_c, load)
    states = [state]
    for measured_c, load_c in zip(seen.air_c[1:].tolist(), seen.load_c[1:].tolist(), strict=True):
        was_c, air_c = air_c, air_c if isnan(measured_c) else measured_c
        for setpoint_c in (0.5 * (was_c + air_c), air_c):
            state = kiln_ahead.step(state, kiln, load, setpoint_c, EVERY_S / 2.0, MOST * kiln.power_w)
        if pinned and not isnan(load_c):
            state = state._replace(load_c=load_c)
        states.append(state)
    return states
