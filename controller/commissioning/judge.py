"""The judgements of bring-up: pure functions from what was polled, or typed, to checks.

Each takes plain readings in the order in which they came and says what was expected, what was seen and
whether that passes. None means that there was no good reading, and no reading never passes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median

from controller.commissioning import limits
from controller.commissioning.result import Check
from controller.commissioning.table import LIMIT_SENTENCE

Readings = Sequence[float | None]


def found(role: str, readings: Readings, fault: str = "") -> Check:
    """A sensor that is left alone: good, steady, and at a temperature at which one can touch a kiln."""
    lowest_c, highest_c = limits.COLDEST_C, limits.WARMEST_C
    expected = f"steady within {limits.STEADY_K:g} K, between {lowest_c:g} and {highest_c:g} C"
    good = [c for c in readings if c is not None]
    if not good or len(good) < len(readings):
        return Check(f"{role}: found", expected, f"no good reading: {fault or 'none came'}", False)
    spread_k = max(good) - min(good)
    saw = f"{median(good):.1f} C, spread {spread_k:.1f} K"
    fine = spread_k <= limits.STEADY_K and lowest_c <= min(good) and max(good) <= highest_c
    return Check(f"{role}: found", expected, saw, fine)


def warmed(role: str, before_c: float, readings: Readings) -> tuple[Check, Check]:
    """A sensor that is warmed by hand: it rises, and it does not fall."""
    good = [c for c in readings if c is not None]
    highest_k = max(good, default=before_c) - before_c
    lowest_k = min(good, default=before_c) - before_c
    broken = "" if len(good) == len(readings) and good else "; readings were lost"
    rises = Check(
        f"{role}: warmed by hand",
        f"up at least {limits.RISES_K:g} K, every reading good",
        f"up {highest_k:.1f} K{broken}",
        highest_k >= limits.RISES_K and not broken,
    )
    turned = Check(
        f"{role}: polarity",
        f"never down by more than {limits.FALLS_K:g} K",
        f"down {-lowest_k:.1f} K: its leads may be exchanged"
        if lowest_k < -limits.FALLS_K
        else "it did not fall",
        bool(good) and lowest_k >= -limits.FALLS_K,
    )
    return rises, turned


def the_right_one(role: str, rises_k: Mapping[str, float]) -> Check:
    """Of all thermocouples, the one that was warmed rose the most, and by far."""
    mine_k = rises_k.get(role, 0.0)
    others = {other: k for other, k in rises_k.items() if other != role}
    most = max(others, key=lambda other: others[other], default="")
    most_k = others.get(most, 0.0)
    saw = f"{most} up {most_k:.1f} K" if most and most_k > 0.0 else "no other rose"
    fine = most_k <= max(limits.OTHERS_SHARE * mine_k, limits.FALLS_K)
    return Check(
        f"{role}: the right one", f"others rise by at most {limits.OTHERS_SHARE:.0%} of it", saw, fine
    )


def enclosure(readings: Readings, warm_c: float, fault: str = "") -> Check:
    """The electronics' own temperature."""
    expected = f"good readings between {limits.COLDEST_C:g} and {warm_c:g} C"
    good = [c for c in readings if c is not None]
    if not good or len(good) < len(readings):
        return Check("enclosure", expected, f"no good reading: {fault or 'none came'}", False)
    fine = min(good) >= limits.COLDEST_C and max(good) < warm_c
    return Check("enclosure", expected, f"{median(good):.1f} C", fine)


def agreement(
    readings: Mapping[str, Readings], room_c: float | None, allowed_k: float = limits.AGREE_K
) -> tuple[Check, ...]:
    """All thermocouples at rest, against one another and against a thermometer.

    `room_c`: what it says (C), None when none was read. `allowed_k`: how far the thermocouples may be apart.
    """
    rest_c = {role: _rest_c(values) for role, values in readings.items()}
    good = {role: c for role, c in rest_c.items() if c is not None}
    told = ", ".join(f"{role} {'no reading' if c is None else f'{c:.1f} C'}" for role, c in rest_c.items())
    whole = len(good) == len(rest_c) and bool(good)
    spread_k = max(good.values(), default=0.0) - min(good.values(), default=0.0)
    among = Check(
        "agreement among thermocouples",
        f"within {allowed_k:g} K",
        f"{told}: {spread_k:.1f} K apart",
        whole and spread_k <= allowed_k,
    )
    if room_c is None:
        beside = Check(
            "agreement with a thermometer", "a temperature, with its unit", "none was typed", False
        )
        return among, beside
    off_k = max((abs(c - room_c) for c in good.values()), default=0.0)
    expected = f"within {limits.THERMOMETER_K:g} K of {room_c:.1f} C"
    beside = Check(
        "agreement with a thermometer",
        expected,
        f"{off_k:.1f} K off",
        whole and off_k <= limits.THERMOMETER_K,
    )
    return among, beside


def contact(role: str, well: bool | None, opened: bool | None, again: bool | None) -> tuple[Check, ...]:
    """A contact at rest, opened and closed again: what it last read each time; None is unknown."""
    words = {True: "well", False: "not well", None: "unknown"}
    wanted = (("at rest", True, well), ("opened", False, opened), ("closed again", True, again))
    return tuple(
        Check(f"{role}: {when}", words[expected], words[saw], saw is expected)
        for when, expected, saw in wanted
    )


def follows(what: str, expected: str, on: bool | None, wanted: bool, after_s: float) -> Check:
    """A switch that reads back, or was heard to, what it was told, within the time it may take."""
    state = {True: "on", False: "off", None: "unknown"}[on]
    return Check(what, expected, f"{state} after {after_s:.1f} s", on is wanted)


def lease_end(lease_s: float, tick_s: float, lasted_s: float | None, every_s: float) -> Check:
    """How long the relay stayed on after the last lease. `every_s`: how often it was looked at.

    None: it did not drop at all. A relay that drops before a tick has passed would flutter in use.
    """
    latest_s = lease_s + limits.LEASE_LATE_S
    expected = f"off after {tick_s:g} to {latest_s:g} s"
    if lasted_s is None:
        return Check(
            "the lease ends by itself", expected, f"still on after {latest_s + every_s:.1f} s", False
        )
    fine = tick_s - every_s <= lasted_s <= latest_s + every_s
    return Check("the lease ends by itself", expected, f"off after {lasted_s:.1f} s", fine)


def tripped(rows: Sequence[str]) -> Check:
    """The trips that stand after the ceiling was put below the air's temperature."""
    return Check("the guard trips", "ceiling", ", ".join(rows) or "no trip", tuple(rows) == ("ceiling",))


def typed_limit(text: str) -> Check:
    """The person's own word that the independent limit works, typed in full."""
    same = " ".join(text.lower().strip(" .").split()) == LIMIT_SENTENCE
    return Check("the independent limit", LIMIT_SENTENCE, "typed" if same else f"typed {text[:60]!r}", same)


def low_heat(from_c: float | None, hottest_c: float | None, trips: Sequence[str]) -> tuple[Check, Check]:
    """The rise of the short low heat, and that nothing tripped."""
    rise_k = hottest_c - from_c if from_c is not None and hottest_c is not None else 0.0
    rises = Check(
        "the air rises",
        f"up at least {limits.LOW_HEAT_K:g} K",
        f"up {rise_k:.1f} K",
        rise_k >= limits.LOW_HEAT_K,
    )
    return rises, Check("no trip", "none", ", ".join(trips) or "none", not trips)


def model(figures: Mapping[str, float]) -> tuple[Check, ...]:
    """The first model, from the low heat's figures, held against what a kiln can be."""
    rise_k_per_s, dead_s = figures.get("rise_k_per_s"), figures.get("dead_s")
    slowest, fastest = limits.SLOWEST_K_PER_MIN, limits.FASTEST_K_PER_MIN
    wanted = f"{slowest:g} to {fastest:g} K/min"
    if rise_k_per_s is None or dead_s is None:
        return (Check("rise at full heat", wanted, "the low heat gave no line to draw", False),)
    rise = rise_k_per_s * 60.0
    return (
        Check("rise at full heat", wanted, f"{rise:.1f} K/min", slowest <= rise <= fastest),
        Check(
            "dead time",
            f"at most {limits.LONGEST_DEAD_S:.0f} s",
            f"{dead_s:.0f} s",
            0.0 <= dead_s <= limits.LONGEST_DEAD_S,
        ),
    )


def _rest_c(values: Readings) -> float | None:
    good = [c for c in values if c is not None]
    return median(good) if good and len(good) == len(values) else None
