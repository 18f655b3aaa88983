"""Heat that is not the kiln's: when in a firing there may be some, how much, and how quickly it may change.

Water takes heat while the shell dries, plastic takes it while it melts and gives it when it burns. None of
that is known while a kiln is fitted, so it is let in as a line between points. Once the plastic must be gone,
nothing but the kiln can be at work, and next to none is believed: else what a kiln fitted wrongly leaves over
would be called unknown, and it would stay wrong.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

POINTS_S, FIRE_POINTS_S = 2400.0, 600.0
"""Points are so far apart: water takes an hour to boil off; a fire flares up and is out in half an hour."""
WET_PART, FIRE_PART, AFTER_PART = 0.03, 0.15, 0.01
"""How much heat, as a part of full power, one standard deviation: 200 W of 6.5 kW for water; a kilowatt for a
fire, which gets as much as the vent's air lets burn; and what a kiln of six lumps leaves out, after it."""
FIRE_C = (200.0, 560.0)
"""While the air first passes through these, plastic may go and burn, char included. Chosen, wide: the shell
lags behind the air, and the plastics that are printed go between 250 and 450 C."""

MOST_PART, MELT_PART = 0.5, 0.06
"""No more than so much is let in; and while plastic melts and burns, no more than so much is taken: melting
takes a hundredth of what burning gives. Chosen."""


class UnknownHeat(NamedTuple):
    """The points' times, what is believed of each (a part of full power), and the line between them."""

    at_s: Floats
    believed: Floats
    most_taken: Floats
    """The most heat that may be taken at each point, as a part of full power."""
    line: Floats
    """A row a time of the record, a column a point: what of each counts there."""
    fire: Bools
    """Whether a fire may be burning at each time of the record."""


def unknown_heat(t_s: Floats, air_c: Floats) -> UnknownHeat:
    """Return where in a record heat may be at work that is not the kiln's. `t_s`: at even steps."""
    so_far_c = np.maximum.accumulate(np.nan_to_num(air_c, nan=-273.15))
    fire = (so_far_c >= FIRE_C[0]) & (so_far_c < FIRE_C[1])
    last_s = float(t_s[-1]) if len(t_s) else 0.0
    grid_s = np.arange(0.0, last_s + 2.0 * POINTS_S, FIRE_POINTS_S)
    near = np.interp(grid_s[:, None] + np.array([-1.0, 0.0, 1.0]) * FIRE_POINTS_S, t_s, fire) > 0.0
    at_s = grid_s[(grid_s % POINTS_S == 0.0) | (near.any(axis=1) & (grid_s <= last_s + FIRE_POINTS_S))]
    so_far_at = np.interp(at_s, t_s, so_far_c)
    believed = np.where(
        so_far_at < FIRE_C[0], WET_PART, np.where(so_far_at < FIRE_C[1], FIRE_PART, AFTER_PART)
    )
    taken = np.where(believed == FIRE_PART, MELT_PART, MOST_PART)
    line = np.column_stack([np.interp(t_s, at_s, one) for one in np.eye(len(at_s))])
    return UnknownHeat(at_s, believed, taken, line, fire)
