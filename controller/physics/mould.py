"""What each kind of mould can bear: limits never passed, ranges crossed gently. One table.

Theory of operation. `findings` walks a curve of (s, C) points with straight lines between them and holds
it to the rows of the mould's kind. A range is crossed too fast where any line inside it is steeper than
the row allows, up or down as the row says. Nothing is judged that the mould does not have: quartz is in
plaster and in clay, not in fused silica.

Estimates never reach the guard: a gypsum-bonded mould's ceiling is kept by its schedule's `ceiling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

from controller.physics.finding import Finding, Weight

Way = Literal["up", "down", "both"]
Points = Sequence[tuple[float, float]]

MOULDS = ("silica shell", "gypsum-bonded", "kiln lining", "none")
REHEATED = "reheated silica shell"
"""A silica shell that was fired before, cooled, and is heated again."""


class Limit(NamedTuple):
    """A temperature that a mould never reaches."""

    key: str
    c: float
    weight: Weight
    why: str
    remedy: str


class Crossing(NamedTuple):
    """A range that is crossed no faster than `c_per_h`."""

    key: str
    low_c: float
    high_c: float
    c_per_h: float
    way: Way
    weight: Weight
    why: str


GYPSUM_LIMIT = Limit(
    "gypsum",
    730.0,
    "stop",
    "calcium sulphate with carbon about breaks down from 700 to 760 C and gives off sulphur oxides",
    "Use a schedule for gypsum-bonded moulds, which stays at or below 720 C.",
)
"""Two pages agree on 700 to 760 C; 730 C caps the class."""

DEVITRIFIES = Limit(
    "devitrification",
    1150.0,
    "warn",
    "fused silica turns to cristobalite when kept this hot, and cracks when it cools",
    "Stay below 1150 C, or pour without letting the shell cool.",
)
"""From memory: the turn is slow below some 1150 to 1200 C."""

QUARTZ = Crossing(
    "quartz", 555.0, 590.0, 75.0, "both", "warn", "quartz turns at 573 C and grows by 0.45 % of its length"
)
"""75 C/h: common practice, no source; hence weak."""

CRISTOBALITE = Crossing(
    "cristobalite",
    220.0,
    270.0,
    100.0,
    "both",
    "warn",
    "cristobalite changes near 220 to 270 C by about 5 % of its volume",
)
"""The change: Salomon, Doles, Batllo, ICI paper 2016. 100 C/h: common practice, no source; hence weak."""

DAMP = Crossing("damp patches", 90.0, 120.0, 120.0, "up", "warn", "washed cavities and patches hold water")
"""120 C/h: common practice, no source."""

QUENCH = Crossing(
    "quench", 220.0, 700.0, 400.0, "down", "warn", "a fired shell that cools fast cracks where it is thick"
)
"""400 C/h: common practice, no source."""

LIMITS: dict[str, tuple[Limit, ...]] = {
    "gypsum-bonded": (GYPSUM_LIMIT,),
    "silica shell": (DEVITRIFIES,),
    REHEATED: (DEVITRIFIES,),
    "kiln lining": (),
    "none": (),
}

CROSSINGS: dict[str, tuple[Crossing, ...]] = {
    "gypsum-bonded": (QUARTZ, CRISTOBALITE),
    "silica shell": (),
    REHEATED: (DAMP, CRISTOBALITE, QUENCH),
    "kiln lining": (QUARTZ, DAMP),
    "none": (),
}

SPENT_CARBON_C = 700.0
"""In a gypsum-bonded mould the carbon must be gone below this: it is what breaks the sulphate down."""

_A_LITTLE_C_PER_H = 0.5  # rounding of a rate that was read from a file


def findings(points: Points, mould: str, *, reheated: bool = False) -> tuple[Finding, ...]:
    """Return what a mould of this kind cannot bear in a curve of (s, C) points that go on in time.

    `reheated`: the silica shell was fired before. Raises KeyError on a kind that is not in `MOULDS`.
    """
    kind = REHEATED if reheated and mould == "silica shell" else mould
    hot = [found for limit in LIMITS[kind] if (found := _too_hot(points, limit))]
    fast = [found for crossing in CROSSINGS[kind] if (found := _too_fast(points, crossing))]
    return (*hot, *fast)


def carbon_finding(carbon_kg: float, c: float, mould: str) -> Finding | None:
    """Return what is wrong with so much carbon left in a mould at `c`, if anything."""
    if mould != "gypsum-bonded" or c < SPENT_CARBON_C or carbon_kg < 1e-4:
        return None
    return Finding(
        "carbon in gypsum",
        "stop",
        f"About {carbon_kg * 1000.0:.1f} g of carbon is left at {c:.0f} C in a gypsum-bonded mould.",
        f"Hold below {SPENT_CARBON_C:.0f} C, with air passing, until it is burnt.",
        carbon_kg * 1000.0,
        0.1,
        "g",
    )


def _too_hot(points: Points, limit: Limit) -> Finding | None:
    at_s, hottest_c = max(points, key=lambda point: point[1], default=(0.0, limit.c - 1.0))
    if hottest_c < limit.c:
        return None
    says = f"The schedule reaches {hottest_c:.0f} C, and the limit is {limit.c:.0f} C: {limit.why}."
    return Finding(limit.key, limit.weight, says, limit.remedy, hottest_c, limit.c, "C", at_s)


def _too_fast(points: Points, crossing: Crossing) -> Finding | None:
    at_s, fastest = steepest(points, crossing)
    if fastest <= crossing.c_per_h + _A_LITTLE_C_PER_H:
        return None
    within = f"{crossing.low_c:.0f} to {crossing.high_c:.0f} C"
    says = (
        f"{within} is crossed at {fastest:.0f} C/h, and {crossing.c_per_h:.0f} C/h is gentle: {crossing.why}."
    )
    remedy = f"Cross {within} at {crossing.c_per_h:.0f} C/h or slower."
    return Finding(crossing.key, crossing.weight, says, remedy, fastest, crossing.c_per_h, "C/h", at_s)


def steepest(points: Points, crossing: Crossing) -> tuple[float, float]:
    """Return when a curve is steepest within a range, and how steep, C/h; (0, 0) if it is never in it.

    A jump in no time is infinitely steep.
    """
    at_s, fastest = 0.0, 0.0
    for (t0_s, c0), (t1_s, c1) in pairwise(points):
        low, high = min(c0, c1), max(c0, c1)
        counts = crossing.way == "both" or (crossing.way == "up") == (c1 > c0)
        if low == high or high <= crossing.low_c or low >= crossing.high_c or not counts:
            continue
        rate = (high - low) * 3600.0 / (t1_s - t0_s) if t1_s > t0_s else float("inf")
        if rate > fastest:
            at_s, fastest = t0_s, rate
    return at_s, fastest
