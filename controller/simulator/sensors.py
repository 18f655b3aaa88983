"""The three thermocouples as the reader sees them: noise, and what each fault makes of a true value."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import lru_cache

CONVERSIONS_PER_S = 2.0
"""The reader renews its values twice a second; asked again sooner it says the same."""

NOISE_COUNT = 3 * 5461
"""So many noise values are drawn beforehand: quick, and the same for the same seed at the same kiln time.
Each thermocouple starts a third further on; they repeat after 2.3 h."""

LOWEST_C = -200.0
"""Below this the reader takes the input for broken and sends its code. Chosen."""

LOW_PART = 0.85
"""A thermocouple that reads low shows this part of what it is above the enclosure: a type N read as a K
shows 698 C at 815 C, by the ITS-90 functions."""

Way = Callable[[float, float, float], float | None]
"""(true C, enclosure C, C at which it was frozen) -> what the reader makes of it; None: its fault code."""


@lru_cache(maxsize=16)  # many kilns of a campaign share a seed
def noise(seed: int, sigma_k: float) -> tuple[float, ...]:
    """Return `NOISE_COUNT` normal deviates of standard deviation `sigma_k`, the same for the same seed."""
    source = random.Random(seed)
    return tuple(source.gauss(0.0, sigma_k) for _ in range(NOISE_COUNT))


def _reversed(true_c: float, enclosure_c: float, _frozen_c: float) -> float | None:
    """Exchanged leads, in the straight-line approximation of a thermocouple."""
    shown_c = 2.0 * enclosure_c - true_c
    return shown_c if shown_c > LOWEST_C else None


WAYS: dict[str, Way] = {
    "open": lambda _true_c, _enclosure_c, _frozen_c: None,
    "short": lambda _true_c, _enclosure_c, _frozen_c: None,
    "short_unseen": lambda _true_c, enclosure_c, _frozen_c: enclosure_c,
    "frozen": lambda _true_c, _enclosure_c, frozen_c: frozen_c,
    "reversed": _reversed,
    "reads_low": lambda true_c, enclosure_c, _frozen_c: enclosure_c + LOW_PART * (true_c - enclosure_c),
}
"""The ways in which a thermocouple fails; where several stand, the first of them rules."""
