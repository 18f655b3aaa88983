"""What each interlock looks for: one small function a row, true to what is measured.

A function gets the sight, the guard's own deeds, its memory and its limits, and returns what it found in
a few words, or None when all is well.
"""

from __future__ import annotations

from math import isfinite

from controller.guard.memory import Memory
from controller.guard.sight import Given, Limits, Sight

Found = str | None

# No workshop is colder than this while a kiln in it is heated (common practice, no source).
COLDEST_C = 5.0
# A reading that drops at once is no reversed one: unbroken heat must have had time to show in it.
FALLS_AFTER_S = 120.0
# Readings that are all multiples of this may be a coarse reader's: in a good hold its air and limit stand
# still to the bit for many minutes, while a load that soaks rises on (measured in simulation: whole degrees).
COARSE_K = 0.25
LEADING = ("air", "limit")
# Another reading that has gone up by so much goes up: beyond noise.
RISES_K = 3.0
# A kiln that gets less than this share of its heat cools: its load may be hotter than its air.
HEATED_SHARE = 0.1
# A refusal that was not repeated for so long is over: nothing was asked for since, or it was granted.
REFUSAL_LASTS_S = 60.0


def too_hot(sight: Sight, _given: Given, _memory: Memory, limits: Limits) -> Found:
    """Any thermocouple at or above the lower of the kiln's and the stage's ceiling."""
    ceiling_c = limits.ceiling_c
    if sight.stage_ceiling_c is not None and sight.stage_ceiling_c < ceiling_c:
        ceiling_c = sight.stage_ceiling_c
    for role, reading in sight.readings:
        if reading.value_c is not None and reading.value_c >= ceiling_c:
            return f"{role}: {reading.value_c:.1f} C, ceiling {ceiling_c:.0f} C"
    return None


def bad_sensor(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """A thermocouple without a good reading."""
    for role, reading in sight.readings:
        if reading.value_c is None:
            return f"{role}: {reading.fault}"
        if not isfinite(reading.value_c):
            return f"{role}: {reading.value_c} is no temperature"
    return None


def stale(sight: Sight, _given: Given, _memory: Memory, limits: Limits) -> Found:
    """A reading that was not renewed for too long."""
    oldest_s = sight.now_s - limits.stale_s
    for role, reading in sight.readings:
        if reading.at_s < oldest_s:
            return f"{role}: {sight.now_s - reading.at_s:.0f} s old"
    return None


def frozen(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """A reading that does not move to the bit, while others do or while there is nothing but heat.

    Where the reader may be a coarse one, only air and limit count as others: a load moves while they stand.
    """
    sample = memory.sample
    if sample is None:
        return None
    coarse = all(one.value_c is None or (one.value_c / COARSE_K).is_integer() for one in sample.still)
    for place, still in enumerate(sample.still):
        lasted_s = sample.at_s - still.since_s
        if lasted_s < limits.frozen_s or still.value_c is None:
            continue
        heated_s = sample.heated_s - still.heated_s
        moved_k = max(
            (
                abs(other.value_c - then_c)
                for role, other, then_c in zip(_roles(sight), sample.still, still.others_c, strict=True)
                if other.value_c is not None and then_c is not None and (role in LEADING or not coarse)
            ),
            default=0.0,
        )
        if moved_k >= limits.frozen_other_k or heated_s >= 0.95 * lasted_s:
            return f"{_roles(sight)[place]}: {still.value_c:.1f} C to the bit for {lasted_s / 60.0:.0f} min"
    return None


def all_still(_sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """No reading at all moves to the bit, and there was heat: the reader may only be repeating itself."""
    sample = memory.sample
    if sample is None:
        return None
    since_s = max(still.since_s for still in sample.still)
    heated_s = sample.heated_s - max(still.heated_s for still in sample.still)
    lasted_s = sample.at_s - since_s
    if lasted_s < limits.frozen_s or heated_s <= 0.0:
        return None
    return f"no reading has moved for {lasted_s / 60.0:.0f} min, with heat"


def falls(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """The air goes down in unbroken heat: to where no kiln is, or while the limit thermocouple goes up.

    A kiln whose element or breaker has failed falls as well, but only towards the room, and limit with it.
    """
    from_c, air_c, limit_c = memory.full_heat_from_c, sight.air_c, sight.limit_c
    if memory.full_heat_since_s is None or air_c is None or from_c is None:
        return None
    down_k = from_c[0] - air_c
    if down_k < limits.falls_k:
        return None
    up = limit_c is not None and from_c[1] is not None and limit_c > from_c[1] + RISES_K
    up = up and sight.now_s - memory.full_heat_since_s >= FALLS_AFTER_S
    return f"air down {down_k:.0f} K in unbroken heat" if up or air_c < COLDEST_C else None


def differ(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """Air and limit thermocouples that do not agree, or a load that is hotter than both while heat is given.

    What is heated in a kiln does not become hotter than what heats it: those two then agree and are low.
    """
    air_c, limit_c, sample = sight.air_c, sight.limit_c, memory.sample
    if air_c is None:
        return None
    if limit_c is not None and abs(air_c - limit_c) >= limits.differ_k:
        return f"air {air_c:.0f} C, limit {limit_c:.0f} C"
    hotter_c = air_c if limit_c is None or limit_c < air_c else limit_c
    for role, reading in sight.readings:
        if reading.value_c is None or reading.value_c - hotter_c < limits.differ_k:
            continue
        if sample is None or sample.heat_share < HEATED_SHARE:
            continue
        if sight.now_s - memory.disturbed_s < limits.surge_settle_s:
            continue  # behind a door that was open the air is the last to be warm again
        return f"{role} {reading.value_c:.0f} C, air {air_c:.0f} C, in heat"
    return None


def heat_unasked(sight: Sight, given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The heater reads back on, and holds no lease."""
    if sight.heat_on and sight.now_s > given.lease_end_s:
        return "the heater reads back on without a lease"
    return None


def rises_unheated(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """The air, or a limit thermocouple that is the hotter one, rises though no heat was granted for a while.

    A limit that lags behind its air rises towards it by itself; one that is hotter than the air has nothing
    to be warmed by. It is the witness where the air's reading is false, and low.
    """
    coldest_c, air_c, limit_c = memory.coldest_unheated_c, sight.air_c, sight.limit_c
    if coldest_c is None or air_c is None:
        return None
    if air_c - coldest_c >= limits.unheated_rise_k:
        return f"air up {air_c - coldest_c:.1f} K with the heat off"
    coldest_c = memory.coldest_limit_c
    if limit_c is None or coldest_c is None or limit_c <= air_c:
        return None
    rise_k = limit_c - coldest_c
    return f"limit up {rise_k:.1f} K with the heat off" if rise_k >= limits.unheated_rise_k else None


def no_rise(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """Unbroken heat, and the air does not rise."""
    if memory.full_heat_since_s is None:
        return None
    lasted_s = sight.now_s - memory.full_heat_since_s
    if lasted_s < limits.no_rise_after_s:
        return None
    return f"{lasted_s / 60.0:.0f} min of full heat, air up less than {limits.no_rise_k:.0f} K"


def surge(sight: Sight, _given: Given, memory: Memory, limits: Limits) -> Found:
    """The air rises faster than the heat that was granted can explain."""
    sample = memory.sample
    if sample is None or sight.now_s - memory.disturbed_s < limits.surge_settle_s:
        return None
    rise_k_per_min = sample.slope_k_per_s * 60.0
    most = limits.fastest_rise_k_per_min * sample.heat_share + limits.surge_k_per_min
    if rise_k_per_min < most:
        return None
    return f"{rise_k_per_min:.0f} K/min with {sample.heat_share:.0%} heat"


def not_followed(sight: Sight, given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The heater or the main contactor does not read back what it was told."""
    if given.granted and sight.now_s <= given.lease_end_s:
        if sight.heat_on is False:
            return "heat was granted, the heater reads back off"
        if sight.main_on is False:
            return "heat was granted, the main contactor reads back open"
    if given.main_opened and sight.main_on:
        return "the main contactor was opened, it reads back closed"
    return None


def not_answering(sight: Sight, given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The heater takes no command, or gives no read-back."""
    if given.write_failed:
        return f"the heater does not take a command: {given.write_failed}"
    if sight.reads_back and sight.heat_on is None:
        return "the heater gives no read-back"
    return (
        "the main contactor gives no read-back" if sight.reads_main_back and sight.main_on is None else None
    )


def refusing(sight: Sight, given: Given, _memory: Memory, limits: Limits) -> Found:
    """The heater has not taken an order to heat for too long, though it may take others."""
    if given.refused_since_s is None or sight.now_s - given.refused_at_s > REFUSAL_LASTS_S:
        return None
    lasted_s = sight.now_s - given.refused_since_s
    return f"no order to heat taken for {lasted_s:.0f} s" if lasted_s >= limits.sensor_trip_s else None


def contact_unknown(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """A contact that cannot be read."""
    if (
        sight.door_ok is not None
        and sight.emergency_stop_ok is not None
        and sight.key_ok is not None
        and sight.extraction_ok is not None
    ):
        return None
    named = (
        ("door", sight.door_ok),
        ("emergency stop", sight.emergency_stop_ok),
        ("key", sight.key_ok),
        ("extraction", sight.extraction_ok),
    )
    return ", ".join(name for name, ok in named if ok is None)


def door_open(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The door is open."""
    return "open" if sight.door_ok is False else None


def stopped_by_hand(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The emergency stop is pressed, or the key is out."""
    if sight.emergency_stop_ok is False:
        return "pressed"
    return "key removed" if sight.key_ok is False else None


def no_extraction(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The stage needs extraction, and it does not run."""
    return "not running" if sight.extraction_needed and sight.extraction_ok is False else None


def too_long(sight: Sight, given: Given, _memory: Memory, limits: Limits) -> Found:
    """A firing that has lasted longer than any should, by what is told of it or by the main contactor."""
    since_s, told_s = given.armed_since_s, sight.firing_since_s
    if since_s is None or (told_s is not None and told_s < since_s):
        since_s = told_s
    if since_s is None:
        return None
    lasted_s = sight.now_s - since_s
    return f"{lasted_s / 3600.0:.0f} h" if lasted_s >= limits.longest_firing_s else None


def enclosure_warm(sight: Sight, _given: Given, _memory: Memory, limits: Limits) -> Found:
    """The electronics are warmer than they should be."""
    enclosure_c = sight.enclosure_c
    return (
        f"{enclosure_c:.0f} C" if enclosure_c is not None and enclosure_c >= limits.enclosure_warm_c else None
    )


def enclosure_hot(sight: Sight, _given: Given, _memory: Memory, limits: Limits) -> Found:
    """The electronics are too hot to be trusted."""
    enclosure_c = sight.enclosure_c
    return (
        f"{enclosure_c:.0f} C" if enclosure_c is not None and enclosure_c >= limits.enclosure_hot_c else None
    )


def late(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """This tick came late."""
    return f"the tick came {sight.late_s:.1f} s late" if sight.late_s > 0.0 else None


def clock_stepped(sight: Sight, _given: Given, _memory: Memory, limits: Limits) -> Found:
    """Somebody set the clock."""
    step_s = sight.clock_step_s
    return f"by {step_s:+.0f} s" if step_s >= limits.clock_step_s or -step_s >= limits.clock_step_s else None


def unrecorded(sight: Sight, _given: Given, _memory: Memory, _limits: Limits) -> Found:
    """The record cannot be written."""
    return sight.record_trouble or None


def _roles(sight: Sight) -> list[str]:
    """The readings' roles in a sample's order, the air's first."""
    return ["air", *(role for role, _ in sight.readings if role != "air")]
