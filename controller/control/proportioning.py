"""Time-proportioning: a duty becomes on and off, and no energy is lost or gained in the long run.

What is owed to the kiln (seconds of heat) is carried from tick to tick: a duty adds, heat that was really
granted takes away. The relay goes on when enough is owed for a run worth a switch, and off when enough has
been given in advance; the sum of what is owed is bounded, so the average power is exact over time.

The band between going on and going off is what makes one round last a cycle at the duty in hand,
cycle x duty x (1 - duty), and a tick, because a switch can only be at a tick: so the heat comes in portions
as small as the relay can bear. The shortest on and off times are kept besides,
except that a refusal by the guard ends heat at once.
"""

from __future__ import annotations

from typing import NamedTuple


class Switching(NamedTuple):
    """`cycle_s`: the shortest full cycle. `shortest_on_s`, `shortest_off_s`: what the relay can bear."""

    cycle_s: float
    shortest_on_s: float
    shortest_off_s: float


class Relay(NamedTuple):
    """`owed_s`: heat owed (s). `on`, `for_s`: the relay's state and for how long it has lasted."""

    owed_s: float = 0.0
    on: bool = False
    for_s: float = float("inf")


def proportion(
    relay: Relay, switching: Switching, duty: float, was_granted: bool, dt_s: float
) -> tuple[Relay, bool]:
    """Return the relay's next state and whether heat is wanted for the coming tick of `dt_s`.

    `was_granted`: whether the heat that was wanted last was granted by the guard; `relay` is brought to
    what really happened before anything is decided.
    """
    owed_s, on, for_s = relay
    if on and not was_granted:
        owed_s, on, for_s = owed_s + dt_s, False, 0.0
    off = 1.0 - duty
    band_s = max(
        switching.cycle_s * duty * off + dt_s,
        switching.shortest_on_s * off,
        switching.shortest_off_s * duty,
        dt_s,
    )
    owed_s += duty * dt_s
    # More than switching alone can leave owed was refused by the guard: it is not given in one burst later.
    most_s = 2.0 * band_s + dt_s
    owed_s = most_s if owed_s > most_s else -most_s if owed_s < -most_s else owed_s
    if on:
        wanted = owed_s >= dt_s - band_s / 2.0 or (for_s < switching.shortest_on_s and duty > 0.0)
    else:
        wanted = owed_s >= band_s / 2.0 and for_s >= switching.shortest_off_s
    if wanted:
        owed_s -= dt_s
    return Relay(owed_s, wanted, for_s + dt_s if wanted == on else dt_s), wanted
