"""Learning on line: by how much a kiln stores more, and loses more, than it is thought to.

While a kiln that nobody knows is fired for the first time, what a typical kiln of its power would store
and lose is held against the heat that was really given, once in `WINDOW_S`; two factors, one for each,
follow by recursive least squares. They begin at one and are believed as little as `START_SPREAD` says.
Nothing is learnt while heat is off or refused, or at its limit for want of a course.
"""

from __future__ import annotations

from typing import NamedTuple

WINDOW_S = 120.0
"""Long against the relay's cycle and the elements' lag."""
START_SPREAD = 0.5
"""A kiln's factor, one standard deviation. Chosen: half the kilns are within about a third of the typical."""
OTHER_PART = 0.05
"""Heat that is no kiln's (water, plastic, draughts), as a part of full power: of 6.5 kW, 0.5 kg/h boil."""
DRIFT = 0.01
"""How far the factors drift in a window, one standard deviation: what is learnt cold is not all true hot."""
LEAST, MOST = 0.3, 3.0


class Learned(NamedTuple):
    """Factors on what is stored and on what is lost, and their covariance."""

    stores: float = 1.0
    loses: float = 1.0
    stores_2: float = START_SPREAD**2
    both: float = 0.0
    loses_2: float = START_SPREAD**2


class Window(NamedTuple):
    """What is being added up: seconds, and joules stored and lost (as a typical kiln would) and given."""

    s: float = 0.0
    stores_j: float = 0.0
    loses_j: float = 0.0
    given_j: float = 0.0


def learn(learned: Learned, window: Window, power_w: float) -> Learned:
    """Take a window into account."""
    a, b = window.stores_j / window.s / power_w, window.loses_j / window.s / power_w
    stores_2, both, loses_2 = learned.stores_2 + DRIFT**2, learned.both, learned.loses_2 + DRIFT**2
    pa, pb = stores_2 * a + both * b, both * a + loses_2 * b
    total = a * pa + b * pb + OTHER_PART**2
    miss = window.given_j / window.s / power_w - learned.stores * a - learned.loses * b
    return Learned(
        min(MOST, max(LEAST, learned.stores + pa / total * miss)),
        min(MOST, max(LEAST, learned.loses + pb / total * miss)),
        stores_2 - pa * pa / total,
        both - pa * pb / total,
        loses_2 - pb * pb / total,
    )
