"""The air led above the load: what the air is asked, so that the load goes where the schedule asks it to.

A shell follows the air as a lag does: its rate is the difference of the two over its time constant. That is
estimated from what the two thermocouples show, and turned round: the air is asked to stand as far above the
load as the wanted rate takes. It is never asked to stand further above the load, or above what the load is
asked, than the stage's margin; while water boils off the load stands still, and the margin is what holds.

A load that cannot be read leads nothing upwards. Pure.
"""

from __future__ import annotations

from math import exp
from typing import NamedTuple

SMOOTH_S = 60.0
"""The load's noise is smoothed over so long, far less than any load's lag."""
RATE_S = 300.0
"""And its rate over so long."""
REMEMBERS_S = 900.0
"""The load's lag is estimated from about so much of what was just seen: it falls as the kiln gets hot."""
TYPICAL_S, TYPICAL_K_PER_S = 900.0, 10.0 / 3600.0
"""A load's lag before anything was seen of it, and the rate of rise that is believed as much as that guess:
a shell of a few kilograms at 300 C; common practice, no source."""
SHORTEST_S, LONGEST_S = 60.0, 7200.0
CLOSES_S, CLOSES_PART = 300.0, 1.0 / 3.0
"""What the load lacks is made up for in so long, or in this part of its lag: quicker only follows noise."""
LEVELS_S = 1200.0
"""A difference between the two thermocouples that stays is found over so long, once the load is asked to
stay, and within `NEAR_K`."""
NEAR_K = 2.0


class Led(NamedTuple):
    """What leading carries. `air_c`: what the air is asked, with its slope (K/s).

    `smooth_c`, `rate_k_per_s`: the load, smoothed. `xy`, `yy`: sums for its lag. `apart_k`: by how much the
    air's thermocouple shows more than the load's when both stand still.
    """

    air_c: float
    slope_k_per_s: float
    smooth_c: float
    rate_k_per_s: float = 0.0
    xy: float = 0.0
    yy: float = 0.0
    apart_k: float = 0.0


def lag_s(led: Led) -> float:
    """Return the load's lag (s), as far as it is known."""
    prior = TYPICAL_K_PER_S**2
    return min(LONGEST_S, max(SHORTEST_S, (led.xy + TYPICAL_S * prior) / (led.yy + prior)))


def lead(
    led: Led | None,
    asked_c: float,
    slope_c_per_h: float,
    margin_k: float,
    air_c: float | None,
    load_c: float | None,
    fastest_c_per_h: float,
    dt_s: float,
) -> Led:
    """Carry the leading over a tick.

    `asked_c`, `slope_c_per_h`: of the load. `fastest_c_per_h`: as fast as the air may be led.
    """
    if air_c is None or load_c is None:
        if led is None:
            return Led(asked_c, 0.0, asked_c)
        return led._replace(air_c=min(led.air_c, asked_c), slope_k_per_s=0.0)
    if led is None:
        led = Led(min(air_c, load_c + margin_k), 0.0, load_c)
    led = _seen(led, air_c, load_c, dt_s)
    lags_s, lacks_k = lag_s(led), asked_c - led.smooth_c
    wanted_k_per_s = slope_c_per_h / 3600.0 + lacks_k / max(CLOSES_S, CLOSES_PART * lags_s)
    apart_k = led.apart_k
    if slope_c_per_h == 0.0 and abs(lacks_k) < NEAR_K:
        apart_k = min(margin_k, max(-margin_k, apart_k + lacks_k * dt_s / LEVELS_S))
    most_c = min(led.smooth_c, load_c, asked_c) + margin_k
    goal_c = min(most_c, max(asked_c - margin_k, led.smooth_c + lags_s * wanted_k_per_s + apart_k))
    most_k = fastest_c_per_h / 3600.0 * dt_s
    moved_k = min(most_k, max(-most_k, goal_c - led.air_c))
    to_c = min(led.air_c + moved_k, most_c)
    share = 1.0 - exp(-dt_s / SMOOTH_S)
    slope = led.slope_k_per_s + share * ((to_c - led.air_c) / dt_s - led.slope_k_per_s) if dt_s > 0.0 else 0.0
    return led._replace(air_c=to_c, slope_k_per_s=slope, apart_k=apart_k)


def _seen(led: Led, air_c: float, load_c: float, dt_s: float) -> Led:
    """Take in what the two thermocouples show."""
    gap_k = load_c - led.smooth_c
    rate = led.rate_k_per_s + (1.0 - exp(-dt_s / RATE_S)) * (gap_k / SMOOTH_S - led.rate_k_per_s)
    forgets = 1.0 - exp(-dt_s / REMEMBERS_S)
    return led._replace(
        smooth_c=led.smooth_c + (1.0 - exp(-dt_s / SMOOTH_S)) * gap_k,
        rate_k_per_s=rate,
        xy=led.xy + forgets * ((air_c - led.apart_k - load_c) * rate - led.xy),
        yy=led.yy + forgets * (rate * rate - led.yy),
    )
