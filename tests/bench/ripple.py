"""How near a relay can hold at all: a contactor that may switch once in 30 s lets a light kiln swing.

Heat in even rounds of just the relay's cycle, as much as held the kiln, repeated until the swing stays the
same: half of it, from lowest to highest, is an error that no control with this relay can avoid. Rounds that
are longer or uneven swing a kiln further. The plant is linear about its own state, as for the limit.
"""

from __future__ import annotations

import numpy as np

from controller.control import Switching
from controller.record.curve import Floats
from controller.review.switching import settled
from controller.schedule.model import Hold, Schedule
from tests.bench.firings import SCHEDULE, Fired
from tests.bench.kilns import DrawnKiln
from tests.bench.limit import plant_steps, response

ROUNDS = 40
"""After so many the swing stays the same: the elements' lag is a few rounds. The last one is measured."""


def ripple_k(drawn: DrawnKiln, fired: Fired, schedule: Schedule = SCHEDULE) -> float:
    """Return the worst of all holds: half of what even rounds swing the true air by, K."""
    curve, found = fired.curve, 0.0
    for place, stage in enumerate(schedule.stages):
        if not isinstance(stage, Hold):
            continue
        during = np.flatnonzero(curve.stage == place)
        held = during[settled(curve.rows(during), stage)]
        if not len(held):
            continue
        duty = float(curve.heat_on[held].mean())
        state = fired.states[held[len(held) // 2]]
        steps = plant_steps(drawn, state[None, :], np.array([duty]))
        found = max(found, swing_k(steps, drawn.switching, duty))
    return found


def swing_k(steps: Floats, switching: Switching, duty: float) -> float:
    """Return half of what even rounds at a duty swing the air by, K. `steps`: the plant's, of a second."""
    if not 0.0 < duty < 1.0:
        return 0.0
    cycle_s, on_s, off_s = switching
    round_s = max(cycle_s, on_s / duty, off_s / (1.0 - duty))
    t_s = np.arange(int(ROUNDS * round_s) + 1)
    rounds = np.floor(t_s / round_s)
    given_s = rounds * duty * round_s + np.minimum(t_s - rounds * round_s, duty * round_s)
    swings_k = response(steps, np.diff(given_s) - duty)
    return float(0.5 * np.ptp(swings_k[-int(round_s) - 1 :]))
