"""Time-proportioning: a duty becomes on and off, and no energy is lost or gained in the long run.

What is owed to the kiln (seconds of heat) is carried from tick to tick: a duty adds, heat that was really
granted takes away. The sum of what is owed is bounded, so the average power is exact over time.

Time goes in rounds of heat and pause, no shorter than the relay's cycle: as short as it can bear, so that
the heat comes in small portions, and even, since uneven ones swing a kiln further. The shorter of the two,
heat or pause, is a whole number of ticks; the other lasts until as much is owed, or given ahead, as half of
what the shorter moves it by. So over a round nothing is owed in the mean, and a round is as long as its heat
makes it: rounds of one length would be by turns a tick too hot and too cold. The shortest on and off times
are kept besides, except that a refusal by the guard ends heat at once.
"""

from __future__ import annotations

from math import ceil
from typing import NamedTuple

SHORTER = 0.4
"""A whole number of ticks is taken where it is short of what makes just a cycle by so much of a tick or less;
now and then it is made up for by a tick more. More ticks always would make longer rounds, which swing a kiln
further. Chosen on the bench's development kilns: 0.2 to 0.4 differ little, 0 and 0.5 are worse."""


class Switching(NamedTuple):
    """`cycle_s`: the shortest full cycle. `shortest_on_s`, `shortest_off_s`: what the relay can bear."""

    cycle_s: float
    shortest_on_s: float
    shortest_off_s: float


class Relay(NamedTuple):
    """`owed_s`: heat owed (s). `on`, `for_s`: the relay's state and for how long it has lasted.

    `before_s`: how long the state before it had lasted.
    """

    owed_s: float = 0.0
    on: bool = False
    for_s: float = float("inf")
    before_s: float = float("inf")


def proportion(
    relay: Relay, switching: Switching, duty: float, was_granted: bool, dt_s: float
) -> tuple[Relay, bool]:
    """Return the relay's next state and whether heat is wanted for the coming tick of `dt_s`.

    `was_granted`: whether the heat that was wanted last was granted by the guard; `relay` is brought to
    what really happened before anything is decided.
    """
    owed_s, on, for_s, before_s = relay
    cycle_s, shortest_on_s, shortest_off_s = switching
    if on and not was_granted:
        owed_s, on, for_s, before_s = owed_s + dt_s, False, 0.0, for_s
    off = 1.0 - duty
    band_s = max(cycle_s * duty * off, shortest_on_s * off, shortest_off_s * duty)
    owed_s += duty * dt_s
    # More than switching alone can leave owed was refused by the guard: it is not given in one burst later.
    most_s = 2.0 * (band_s + dt_s)
    owed_s = most_s if owed_s > most_s else -most_s if owed_s < -most_s else owed_s
    # A duty that jumped high up in a pause may owe so much before the round's end that heat would get lost; a
    # low one cannot. (With none at all only what was refused can be owed.)
    jumped = owed_s >= most_s and (duty > 0.5 or duty == 0.0)
    if not on and (for_s < shortest_off_s or (for_s + before_s < cycle_s and not jumped)):
        wanted = False
    elif duty <= 0.5:
        wanted = _heats_briefly(on, for_s, owed_s, switching, duty, dt_s)
    else:
        wanted = _pauses_briefly(on, for_s, owed_s, most_s, switching, duty, dt_s)
    if wanted:
        owed_s -= dt_s
    if wanted == on:
        return Relay(owed_s, on, for_s + dt_s, before_s), wanted
    return Relay(owed_s, wanted, dt_s, for_s), wanted


def _heats_briefly(
    on: bool, for_s: float, owed_s: float, switching: Switching, duty: float, dt_s: float
) -> bool:
    """Whether to heat, below half duty: a heat of a set length, and a pause until enough is owed again."""
    heat_s = _whole(duty * switching.cycle_s, switching.shortest_on_s, dt_s)
    owed_s -= 0.5 * duty * dt_s  # in the middle of the coming tick, if it is a pause
    half_s = 0.5 * heat_s * (1.0 - duty)
    if on:
        return (for_s < heat_s and duty > 0.0) or owed_s > 0.5 * dt_s - half_s
    return owed_s >= half_s


def _pauses_briefly(
    on: bool, for_s: float, owed_s: float, most_s: float, switching: Switching, duty: float, dt_s: float
) -> bool:
    """Whether to heat, above half duty: a pause of a set length, and heat until enough is given ahead."""
    off = 1.0 - duty
    pause_s = _whole(off * switching.cycle_s, switching.shortest_off_s, dt_s)
    ahead_s = dt_s - owed_s - 0.5 * off * dt_s  # in the middle of the coming tick, if it is heat
    half_s = 0.5 * pause_s * duty
    if on:
        short = for_s < switching.cycle_s - pause_s and ahead_s < most_s
        return short or for_s < switching.shortest_on_s or ahead_s < half_s
    return for_s >= pause_s and ahead_s <= 0.5 * dt_s - half_s


def _whole(exact_s: float, shortest_s: float, dt_s: float) -> float:
    """The whole ticks of the shorter of heat and pause; in no time there are none to count."""
    if dt_s <= 0.0:
        return max(exact_s, shortest_s)
    return dt_s * ceil(max(exact_s / dt_s - SHORTER, shortest_s / dt_s))
