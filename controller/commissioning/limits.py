"""The numbers of bring-up, once: the table's words and the judgements are both made from them.

Where the reason is not said here, it stands beside the step in `table.py`.
"""

from __future__ import annotations

RISES_K = 2.0
FALLS_K = 1.0
"""A thermocouple that falls by more than this while it is warmed is reversed: beyond noise and draughts."""
STEADY_K = 2.0
"""Readings of a sensor left alone for a few seconds lie within this of each other."""
OTHERS_SHARE = 0.5
"""Another thermocouple may rise by at most this share of the one that is warmed."""
COLDEST_C, WARMEST_C = -10.0, 50.0
"""A room in which someone brings a kiln up, and a kiln that can be touched (common practice, no source)."""

AGEING_K = 4.0
"""Beside the tolerance class: type K moves by ordering at 200 to 600 C (Kollie and others, ORNL-TM-4862,
1975), and no two stand in the same place."""
CLASS_2_K = 2.5
"""Class 2 of types K, N, E and J at room temperature (IEC 60584-1, by secondary pages)."""
AGREE_K = CLASS_2_K + AGEING_K
THERMOMETER_K = 10.0

LEASE_LATE_S = 1.0
"""A relay drops in a tenth of a second; the rest is the wire and how often it is asked."""
FOLLOWS_S = 5.0
"""Longer than a contactor takes to move and its contact to be read; the guard uses the same."""

LOW_HEAT_C = 60.0
LOW_HEAT_K = 10.0
LOW_HEAT_S = 900.0
SETPOINT_ABOVE_K = 20.0
"""The setpoint lies this far above the end of the low heat, so that it is reached at more than a trickle."""
CEILING_ABOVE_K = 40.0
"""The guard trips this far above the end of the low heat."""
AFTER_S = 60.0
"""For so long the kiln is watched with the heat off again."""

SLOWEST_K_PER_MIN, FASTEST_K_PER_MIN = 0.2, 60.0
LONGEST_DEAD_S = 600.0
