"""From a fitted kiln to what control wants to know: its numbers, and tunings by SIMC over the temperature.

Here, because control knows nothing of physics and forecast nothing of control.
"""

from __future__ import annotations

from controller.control import GRID_K, KnownKiln, Lags, Tuning, tuning
from controller.physics.grey import GreyKiln, linear, typical

HIGHEST_C = 1400.0
CLOSED_S = 40.0
"""The wanted closed-loop lag. SIMC's tight one, the dead time, would be quicker; but then the relay follows
the thermocouple's noise. Chosen on the development kilns of the bench."""
LONGEST_DERIVATIVE = 0.65
"""As a part of the wanted closed-loop lag. The second lag is the difference of two that a record tells badly
(the elements', and how soon the thermocouple sees them). A derivative that believes in one too long shakes
the kiln; one too short only makes the loop a little slower. Chosen on the development kilns likewise."""
SURE_PART = 0.35
"""But so much of a long second lag is sure: cold elements take minutes, and a loop that reckons with half a
minute of it swings. Only where the relay is quick: a contactor's ripple is steep, and the derivative would
answer to it. Chosen likewise: an eighth less error, and less overshoot."""
QUICK_RELAY_S = 5.0
"""A relay with a cycle no longer than this leaves no ripple to speak of."""
FIRST_CLOSED_S = 60.0
"""The same for a kiln that nobody knows: it may be quicker than is thought. Chosen likewise."""
FILTER_S = 20.0


def known_kiln(kiln: GreyKiln, cycle_s: float) -> KnownKiln:
    """Return what control knows of a kiln that was fitted; `cycle_s`: the relay's shortest cycle."""
    return _known(kiln, CLOSED_S, SURE_PART if cycle_s <= QUICK_RELAY_S else 0.0)


def unknown_kiln(power_w: float) -> KnownKiln:
    """Return what to begin with where nothing but the power is known: a typical kiln, and a calm loop."""
    return _known(typical(power_w), FIRST_CLOSED_S, 0.0)


def _known(kiln: GreyKiln, closed_s: float, sure_part: float) -> KnownKiln:
    """`closed_s`: the wanted closed-loop lag."""
    places = range(int(HIGHEST_C / GRID_K) + 1)
    tunings = tuple(_tuning(kiln, (place + 0.5) * GRID_K, closed_s, sure_part) for place in places)
    return KnownKiln(*kiln, tunings)


def _tuning(kiln: GreyKiln, at_c: float, closed_s: float, sure_part: float) -> Tuning:
    lags = Lags(*linear(kiln, at_c))
    longest_s = max(LONGEST_DERIVATIVE * closed_s, sure_part * lags.second_s)
    lags = lags._replace(second_s=min(lags.second_s, longest_s))
    return tuning(lags, max(closed_s, lags.dead_s), FILTER_S)
