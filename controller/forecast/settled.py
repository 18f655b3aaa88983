"""What a firing itself tells of its kiln: the heat that it took so far, against what the model says it takes.

A model learnt from another firing, or a typical one, is off by some part of what has to be warmed and of what
is lost. A kiln that is led along the air as it was measured says which power that takes; the relay says which
it took. What is between them, minute by minute, is shared out between heat that follows the rise (a capacity)
and heat that follows the temperature (a loss), each held near the model by what may be believed of it. A
renewed forecast goes on from there, so that most of a model's error is gone long before the pour.

Not taken: minutes in which water or plastic takes or gives heat that no model of a kiln knows well.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from controller.forecast.ensemble import Floats
from controller.forecast.kiln_ahead import Ahead
from controller.forecast.past import EVERY_S, Seen
from controller.physics.grey import GreyKiln, holding_power_w

DRY_C = 130.0
"""A load above this has lost its water (`load_fit`)."""

BURNS_C = (280.0, 520.0)
"""Between these the plastic goes and burns: PLA from about 280 C on, its char until about 520 C. Chosen."""

CAPACITY_PART, LOSS_PART = 0.3, 0.15
"""How far the model may be off, one standard deviation, as a part of its heat capacity and of its loss."""

NOISE_PART, ALIKE_S = 0.05, 600.0
"""What is left besides, as a part of the full power; so long it is alike, and counts once. Chosen."""

FORGETS_S = 2.0 * 3600.0
"""What was longer ago says less of what comes: other walls were being warmed. Chosen."""

HOT_C = 800.0
LEAST_PART = 0.5
"""Nothing of the model is taken below this part of itself."""


def settled(kiln: GreyKiln, led: Sequence[Ahead], seen: Seen, *, plastic: bool) -> GreyKiln:
    """Return the kiln as the firing shows it; as it was where nothing was measured that tells.

    `led`: the kiln's own states, led along `seen` (`past.led_along`). `plastic`: some was in the shell.
    """
    if seen.heat is None or len(seen.air_c) < 2:
        return kiln
    air_c, load_c = seen.air_c[1:], seen.load_c[1:]
    rise = np.diff(seen.air_c) / EVERY_S
    over_k = air_c - kiln.room_c
    missing_w = seen.heat[1:] * kiln.power_w - np.array([state.power_w for state in led[1:]])
    weight = _weight(air_c, load_c, missing_w + rise, plastic=plastic) / (NOISE_PART * kiln.power_w) ** 2
    capacity = CAPACITY_PART * (kiln.chamber_j_per_k + kiln.elements_j_per_k + kiln.load_j_per_k)
    loss = LOSS_PART * holding_power_w(kiln, HOT_C) / (HOT_C - kiln.room_c)
    rise, over_k, missing_w = (np.nan_to_num(values) for values in (rise, over_k, missing_w))
    columns = np.column_stack([rise * capacity, over_k * loss])
    normal = columns.T @ (columns * weight[:, None]) + np.eye(2)
    more = np.linalg.solve(normal, columns.T @ (missing_w * weight))
    return kiln._replace(
        chamber_j_per_k=max(LEAST_PART * kiln.chamber_j_per_k, kiln.chamber_j_per_k + capacity * more[0]),
        vent_w_per_k=max(0.0, kiln.vent_w_per_k + loss * more[1]),
    )


def _weight(air_c: Floats, load_c: Floats, known: Floats, *, plastic: bool) -> Floats:
    """Return how much each minute counts: not at all where it tells nothing."""
    low_c, high_c = BURNS_C
    tells = np.isfinite(known) & ((load_c > DRY_C) | (np.isnan(load_c) & (air_c > high_c)))
    if plastic:
        tells &= (air_c < low_c) | (air_c > high_c)
    age_s = EVERY_S * np.arange(len(air_c))[::-1]
    return np.where(tells, EVERY_S / ALIKE_S * np.exp(-age_s / FORGETS_S), 0.0)
