"""When full heat does not do: the kiln falls behind its setpoint, and a person should be told, once a stage.

Nothing is decided here. The integral does not wind up meanwhile (`feedback`), and the feed-forward does not
make up for what no heat could have done (`ahead`).
"""

from __future__ import annotations

from typing import NamedTuple

FULL = 0.99
"""A duty from here on is full heat."""
BEHIND_K = 5.0
"""So far below its setpoint a kiln has fallen behind: far more than any tuning leaves. Chosen."""
LASTS_S = 120.0
"""For so long both must last: a setpoint that has just jumped is not told of. Chosen."""


class Behind(NamedTuple):
    """`for_s`: for how long the kiln has been behind at full heat; what is not full wears it away again.

    `told`: the stage (its index) of which a person has been told. `by_k`: how far it is behind; 0: it is not.
    """

    for_s: float = 0.0
    told: int = -1
    by_k: float = 0.0


ON_TIME = Behind()


def behind(
    state: Behind,
    stage: int,
    setpoint_c: float | None,
    air_c: float | None,
    duty: float,
    heat: bool,
    dt_s: float,
) -> tuple[Behind, bool]:
    """Return the next state, and whether it is to be told now. `heat`: whether heat was granted."""
    if setpoint_c is None or air_c is None:
        return (ON_TIME if state.told == -1 else Behind(told=state.told)), False
    by_k = setpoint_c - air_c
    if not (heat and duty >= FULL and by_k >= BEHIND_K):
        if state.for_s == 0.0:
            return state, False
        return Behind(max(0.0, state.for_s - dt_s), state.told), False
    for_s = min(state.for_s + dt_s, LASTS_S)
    if for_s < LASTS_S:
        return Behind(for_s, state.told), False
    return Behind(for_s, stage, by_k), stage != state.told
