"""When a record is too little to learn a kiln from, and when a fit is too bad to be used, in words."""

from __future__ import annotations

import numpy as np

from controller.forecast.models import FittedKiln
from controller.record.curve import Curve

SHORTEST_H, LEAST_RISE_K = 1.0, 150.0
WORST_RMS_K, WORST_HELD_OUT_K, WORST_SPREAD = 6.0, 8.0, 0.35
"""Limits of a fit that is used: what is left (K), and how uncertain the chamber's heat capacity may be."""
MOST_UNKNOWN = 0.10
"""Heat of unknown course (RMS) while no plastic can burn, as a part of full power: wet shells take 1 to 2 %,
and the heaviest and wettest in a weak kiln took 9 %. Of a record whose heat was another's it was 22 %."""
MOST_FIRE_PART = 0.10
"""The same while plastic can burn, as a part of all the heat that was given: on drawn kilns with 0.1 to 1 kg
of plastic it was 5 % at most; a record that says the contrary of what was done needs 12 %."""


def too_little(curve: Curve) -> str:
    """Say what the record lacks; empty when it is enough."""
    if len(curve) < 2 or curve.t_s[-1] < SHORTEST_H * 3600.0:
        return f"found less than {SHORTEST_H:g} h of record, expected more to learn a kiln from"
    air_c = curve.air_c[~np.isnan(curve.air_c)]
    if len(air_c) < len(curve) / 2:
        return "found no reading of the air for half of it, expected a thermocouple that works"
    rise_k = float(air_c.max() - air_c[0])
    if rise_k < LEAST_RISE_K:
        return f"found a rise of {rise_k:.0f} K, expected at least {LEAST_RISE_K:g} K to learn a kiln from"
    if not curve.heat_on.any():
        return "found no heat, expected a firing that heated"
    return ""


def why_refused(fitted: FittedKiln) -> str:
    """Say why a fit is not to be used; empty when it is."""
    if not fitted.rms_k <= WORST_RMS_K:
        return f"it misses the air by {fitted.rms_k:.1f} K (RMS), more than {WORST_RMS_K:g} K"
    if fitted.held_out_rms_k > WORST_HELD_OUT_K:
        missed = f"{fitted.held_out_rms_k:.1f} K (RMS), more than {WORST_HELD_OUT_K:g} K"
        return f"it misses what it was not fitted on by {missed}"
    unknown = fitted.unknown_w / fitted.kiln.power_w
    if unknown > MOST_UNKNOWN:
        most = f"{100 * MOST_UNKNOWN:g} % of its power"
        return f"{fitted.unknown_w:.0f} W (RMS) of heat is not the kiln's, more than {most}"
    if fitted.fire_part > MOST_FIRE_PART:
        part = f"{100 * fitted.fire_part:.0f} % of the heat that was given"
        return f"burning plastic would have to account for {part}, more than {100 * MOST_FIRE_PART:g} %"
    spread = fitted.spread("chamber_j_per_k")
    if spread > WORST_SPREAD:
        return f"the record leaves the chamber's heat capacity uncertain by {100 * spread:.0f} %"
    return ""
