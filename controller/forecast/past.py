"""What was measured of a firing, at even times, and a kiln led along it."""

from __future__ import annotations

from math import isnan
from typing import NamedTuple

import numpy as np

from controller.forecast import kiln_ahead
from controller.forecast.ensemble import Floats
from controller.forecast.kiln_ahead import Ahead
from controller.forecast.load import Load, shown_by
from controller.physics.grey import GreyKiln
from controller.record.curve import Bools, Curve, Ints
from controller.schedule.plan import ROOM_C

EVERY_S = 60.0
"""The past is taken every so many seconds: what is left of it is in slow walls."""

MOST = 2.0
"""Led along, a kiln may be given so many times its power: what it takes to be where it was seen to be."""


class Seen(NamedTuple):
    """What was measured since the firing's start, every `EVERY_S`, the last now; NaN where nothing was."""

    air_c: Floats
    load_c: Floats
    heat: Floats | None = None
    """Part of the time, in the `EVERY_S` before, for which the heat was on; None where nobody kept it."""


def seen_of(curve: Curve) -> Seen:
    """Return what a record's ticks say, at even times."""
    return seen_at(curve.t_s, curve.air_c, curve.load_c, curve.heat_on)


def seen_at(ticks_s: Floats, air_c: Floats, load_c: Floats, heat_on: Bools | Floats | None = None) -> Seen:
    """Return what was measured at even times that end with the last tick. `ticks_s`: from the first, rising.

    What is over at the beginning (less than `EVERY_S`, in a cold kiln) is left out, so that nothing is at
    the end.
    """
    if not len(ticks_s):
        return Seen(np.empty(0), np.empty(0))
    last_s = float(ticks_s[-1])
    t_s = np.arange(last_s % EVERY_S, last_s + 1e-6, EVERY_S)
    place = np.minimum(np.searchsorted(ticks_s, t_s - 1e-6), len(ticks_s) - 1)
    return Seen(air_c[place], load_c[place], None if heat_on is None else _parts(heat_on, place))


def _parts(heat_on: Bools | Floats, place: Ints) -> Floats:
    """Return the part of the ticks up to each place, from the one before on, in which the heat was on."""
    sums = np.concatenate(([0.0], np.cumsum(heat_on, dtype=np.float64)))
    first = np.concatenate(([-1], place[:-1]))
    return np.asarray((sums[place + 1] - sums[first + 1]) / np.maximum(1, place - first))


def cold_c(seen: Seen) -> float:
    """Return the air at the start; a room's where nothing was measured."""
    known_c = seen.air_c[~np.isnan(seen.air_c)]
    return float(known_c[0]) if len(known_c) else ROOM_C


def led_along(kiln: GreyKiln, load: Load, seen: Seen, *, pinned: bool) -> list[Ahead]:
    """Return the states of a kiln whose air goes as it was measured; `pinned`: and its load, where it was.

    `power_w` of each is the mean of the `EVERY_S` that led there.
    """
    air_c = cold_c(seen)
    state, kiln = kiln_ahead.at_rest(air_c, load), kiln_ahead.calm(kiln, load, EVERY_S / 2.0)
    states = [state]
    for measured_c, load_c in zip(seen.air_c[1:].tolist(), seen.load_c[1:].tolist(), strict=True):
        was_c, air_c = air_c, air_c if isnan(measured_c) else measured_c
        half = kiln_ahead.step(state, kiln, load, 0.5 * (was_c + air_c), EVERY_S / 2.0, MOST * kiln.power_w)
        state = kiln_ahead.step(half, kiln, load, air_c, EVERY_S / 2.0, MOST * kiln.power_w)
        state = state._replace(power_w=0.5 * (half.power_w + state.power_w))
        if pinned and not isnan(load_c):
            state = state._replace(load_c=shown_by(load, load_c))
        states.append(state)
    return states
