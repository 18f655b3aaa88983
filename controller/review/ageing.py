"""The kiln's own ageing: the power that a temperature needed, firing by firing, and its relay's cycles. Pure.

Elements grow old and walls crack: the same temperature then needs more of the time with the heat on. Only
steady holds near one temperature are laid side by side; what was in the kiln, the vent and the room differ
from firing to firing too, so a single firing says little and a trend over many says something.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from statistics import median
from typing import NamedTuple

from controller.review.switching import SteadyHold

USUAL_C = 815.0  # 1500 F, the usual firing, is 815.6 C
NEAR_K = 15.0  # a band's width: at 815 C it changes the power by about 3 %
ENDS = 10  # so many firings at either end of the trend, in one median


class Needed(NamedTuple):
    """What a hold needed in one firing. `power_w` None: the kiln's file does not say its elements' power."""

    firing: int
    utc_s: float
    air_c: float
    duty: float
    power_w: float | None


class Fired(NamedTuple):
    """A firing's part in the kiln's ageing."""

    firing: int
    utc_s: float
    power_w: float | None
    holds: tuple[SteadyHold, ...]
    switchings: int


def near_c(fired: Iterable[Fired]) -> float | None:
    """Return the temperature that can be compared: 815 C if any hold was near it, else the usual hold's."""
    holds_c = [hold.air_c for each in fired for hold in each.holds]
    if not holds_c:
        return None
    if any(abs(c - USUAL_C) <= NEAR_K for c in holds_c):
        return USUAL_C
    hottest_c = [max(hold.air_c for hold in each.holds) for each in fired if each.holds]
    return round(median(hottest_c or holds_c))


def needed(fired: Sequence[Fired], at_c: float) -> list[Needed]:
    """Return what that temperature needed in each firing that held it steadily, oldest first."""
    found = []
    for each in sorted(fired, key=lambda each: each.utc_s):
        near = [hold for hold in each.holds if abs(hold.air_c - at_c) <= NEAR_K]
        if near:
            hold = max(near, key=lambda hold: hold.h)
            power_w = None if each.power_w is None else hold.duty * each.power_w
            found.append(Needed(each.firing, each.utc_s, hold.air_c, hold.duty, power_w))
    return found


def change(points: Sequence[Needed]) -> float | None:
    """Return by which part more duty the newest ten firings needed than the oldest ten; None: too few."""
    if len(points) < 2 * ENDS:
        return None
    then, now = (median(point.duty for point in part) for part in (points[:ENDS], points[-ENDS:]))
    return now / then - 1 if then > 0 else None
