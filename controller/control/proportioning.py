"""Time-proportioning: a duty becomes on and off, and no energy is lost or gained in the long run.

What is owed to the kiln (seconds of heat) is carried from tick to tick: a duty adds, heat that was really
granted takes away. The sum of what is owed is bounded, so the average power is exact over time.

Time goes in rounds of a cycle, each begun with heat: as short as the relay can bear, so that the heat comes
in small portions, and even, since uneven ones swing a kiln further. Heat ends at the tick at which, by the
round's end, as much will be owed as is meant to be: half of what one round moves it by, so that over a round
nothing is owed in the mean. A round in which the shortest heat would give too much by more than none would
lack is left out; one with no time for the shortest pause is gone on from, with heat. The shortest on and
off times are kept besides, except that a refusal by the guard ends heat at once.
"""

from __future__ import annotations

from typing import NamedTuple


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
    meant_s = 0.5 * cycle_s * duty * off
    if on:
        left_s = max(cycle_s - for_s, shortest_off_s)
        more_s = owed_s + duty * (left_s - dt_s) - meant_s
        wanted = more_s >= 0.5 * dt_s or (for_s < shortest_on_s and duty > 0.0)
    else:
        more_s = owed_s + duty * (cycle_s - dt_s) - meant_s
        # A duty that jumped up in a round waits for its end only while nothing that is owed gets lost.
        begins = for_s >= shortest_off_s and (for_s + before_s >= cycle_s or owed_s >= most_s)
        wanted = begins and more_s >= 0.5 * max(shortest_on_s, dt_s)
    if wanted:
        owed_s -= dt_s
    if wanted == on:
        return Relay(owed_s, on, for_s + dt_s, before_s), wanted
    return Relay(owed_s, wanted, dt_s, for_s), wanted
