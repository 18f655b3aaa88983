"""From a fitted kiln to what control wants to know: its numbers, and tunings by SIMC over the temperature.

Here, because control knows nothing of physics and forecast nothing of control.
"""

from __future__ import annotations

from math import inf

from controller.control import GRID_K, KnownKiln, Lags, Tuning, tuning
from controller.physics.grey import GreyKiln, linear, typical

HIGHEST_C = 1400.0
CLOSED_S = 18.0
"""The wanted closed-loop lag of a fitted kiln. SIMC's tight one, the dead time, would be quicker; but then
the relay follows what the observer leaves of the thermocouple's noise. Chosen on the development kilns of
the bench, where 12 to 30 s differ by a twentieth."""
FIRST_CLOSED_S = 60.0
"""The same for a kiln that nobody knows: it may be quicker than is thought. Chosen likewise."""
LONGEST_DERIVATIVE = 0.65
"""Of a kiln that nobody knows, as a part of the wanted closed-loop lag. The second lag is the difference of
two (the elements', and how soon the thermocouple sees them); a derivative that believes in one too long
shakes the kiln, one too short only makes the loop a little slower. Chosen likewise."""
FILTER_S = 20.0


def known_kiln(kiln: GreyKiln) -> KnownKiln:
    """Return what control knows of a kiln that was fitted."""
    return KnownKiln(*kiln, _tunings(kiln, CLOSED_S, inf), fitted=True)


def unknown_kiln(power_w: float) -> KnownKiln:
    """Return what to begin with where nothing but the power is known: a typical kiln, and a calm loop."""
    kiln = typical(power_w)
    return KnownKiln(*kiln, _tunings(kiln, FIRST_CLOSED_S, LONGEST_DERIVATIVE * FIRST_CLOSED_S))


def _tunings(kiln: GreyKiln, closed_s: float, longest_s: float) -> tuple[Tuning, ...]:
    """`closed_s`: the wanted closed-loop lag. `longest_s`: of the second lag, what is believed at most."""
    places = range(int(HIGHEST_C / GRID_K) + 1)
    return tuple(_tuning(kiln, (place + 0.5) * GRID_K, closed_s, longest_s) for place in places)


def _tuning(kiln: GreyKiln, at_c: float, closed_s: float, longest_s: float) -> Tuning:
    lags = Lags(*linear(kiln, at_c))
    lags = lags._replace(second_s=min(lags.second_s, longest_s))
    return tuning(lags, max(closed_s, lags.dead_s), FILTER_S)
