"""What each interlock looks for: one small function a row, true to what is measured.

A function gets one look at what is seen, done and remembered, and returns what it found in a few words, or
None when all is well.
"""

from __future__ import annotations

from controller.guard.look import Look

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


def too_hot(look: Look) -> Found:
    """Any thermocouple at or above the lower of the kiln's and the stage's ceiling."""
    ceiling_c, stage_c = look.limits.ceiling_c, look.stage_ceiling_c
    if stage_c is not None and stage_c < ceiling_c:
        ceiling_c = stage_c
    if look.hottest_c < ceiling_c:
        return None
    return f"{look.hottest_role}: {look.hottest_c:.1f} C, ceiling {ceiling_c:.0f} C"


def bad_sensor(look: Look) -> Found:
    """A thermocouple without a good reading."""
    if look.bad is None:
        return None
    role, reading = look.bad
    if reading.value_c is None:
        return f"{role}: {reading.fault}"
    return f"{role}: {reading.value_c} is no temperature"


def stale(look: Look) -> Found:
    """A reading that was not renewed for too long."""
    age_s = look.now_s - look.oldest_s
    return f"{look.oldest_role}: {age_s:.0f} s old" if age_s > look.limits.stale_s else None


def frozen(look: Look) -> Found:
    """A reading that does not move to the bit, while others do or while there is nothing but heat.

    Where the reader may be a coarse one, only air and limit count as others: a load moves while they stand.
    """
    sample = look.sample
    if sample is None or sample.longest_still_s < look.limits.frozen_s:
        return None
    coarse = all(one.value_c is None or (one.value_c / COARSE_K).is_integer() for one in sample.still)
    for place, still in enumerate(sample.still):
        lasted_s = sample.at_s - still.since_s
        if lasted_s < look.limits.frozen_s or still.value_c is None:
            continue
        heated_s = sample.heated_s - still.heated_s
        moved_k = max(
            (
                abs(other.value_c - then_c)
                for role, other, then_c in zip(_roles(look), sample.still, still.others_c, strict=True)
                if other.value_c is not None and then_c is not None and (role in LEADING or not coarse)
            ),
            default=0.0,
        )
        if moved_k >= look.limits.frozen_other_k or heated_s >= 0.95 * lasted_s:
            return f"{_roles(look)[place]}: {still.value_c:.1f} C to the bit for {lasted_s / 60.0:.0f} min"
    return None


def all_still(look: Look) -> Found:
    """No reading at all moves to the bit, and there was heat: the reader may only be repeating itself."""
    sample = look.sample
    if sample is None or sample.shortest_still_s < look.limits.frozen_s:
        return None
    if sample.heated_s <= max(still.heated_s for still in sample.still):
        return None
    return f"no reading has moved for {sample.shortest_still_s / 60.0:.0f} min, with heat"


def falls(look: Look) -> Found:
    """The air goes down in unbroken heat: to where no kiln is, or while the limit thermocouple goes up.

    A kiln whose element or breaker has failed falls as well, but only towards the room, and limit with it.
    """
    from_c, air_c, limit_c = look.full_heat_from_c, look.air_c, look.limit_c
    if look.full_heat_since_s is None or air_c is None or from_c is None:
        return None
    down_k = from_c[0] - air_c
    if down_k < look.limits.falls_k:
        return None
    up = limit_c is not None and from_c[1] is not None and limit_c > from_c[1] + RISES_K
    up = up and look.now_s - look.full_heat_since_s >= FALLS_AFTER_S
    return f"air down {down_k:.0f} K in unbroken heat" if up or air_c < COLDEST_C else None


def differ(look: Look) -> Found:
    """Air and limit thermocouples that do not agree, or a load that is hotter than both while heat is given.

    What is heated in a kiln does not become hotter than what heats it: those two then agree and are low.
    """
    air_c, limit_c, sample = look.air_c, look.limit_c, look.sample
    if air_c is None:
        return None
    if limit_c is not None and abs(air_c - limit_c) >= look.limits.differ_k:
        return f"air {air_c:.0f} C, limit {limit_c:.0f} C"
    hotter_c = air_c if limit_c is None or limit_c < air_c else limit_c
    if look.hottest_c - hotter_c < look.limits.differ_k:
        return None
    if sample is None or sample.heat_share < HEATED_SHARE:
        return None
    if look.now_s - look.disturbed_s < look.limits.surge_settle_s:
        return None  # behind a door that was open the air is the last to be warm again
    return f"{look.hottest_role} {look.hottest_c:.0f} C, air {air_c:.0f} C, in heat"


def heat_unasked(look: Look) -> Found:
    """The heater reads back on, and holds no lease."""
    if look.heat_on and look.now_s > look.lease_end_s:
        return "the heater reads back on without a lease"
    return None


def rises_unheated(look: Look) -> Found:
    """The air, or a limit thermocouple that is the hotter one, rises though no heat was granted for a while.

    A limit that lags behind its air rises towards it by itself; one that is hotter than the air has nothing
    to be warmed by. It is the witness where the air's reading is false, and low.
    """
    coldest_c, air_c, limit_c = look.coldest_unheated_c, look.air_c, look.limit_c
    if coldest_c is None or air_c is None:
        return None
    if air_c - coldest_c >= look.limits.unheated_rise_k:
        return f"air up {air_c - coldest_c:.1f} K with the heat off"
    coldest_c = look.coldest_limit_c
    if limit_c is None or coldest_c is None or limit_c <= air_c:
        return None
    rise_k = limit_c - coldest_c
    return f"limit up {rise_k:.1f} K with the heat off" if rise_k >= look.limits.unheated_rise_k else None


def no_rise(look: Look) -> Found:
    """Unbroken heat, and the air does not rise."""
    if look.full_heat_since_s is None:
        return None
    lasted_s = look.now_s - look.full_heat_since_s
    if lasted_s < look.limits.no_rise_after_s:
        return None
    return f"{lasted_s / 60.0:.0f} min of full heat, air up less than {look.limits.no_rise_k:.0f} K"


def surge(look: Look) -> Found:
    """The air rises faster than the heat that was granted can explain."""
    sample = look.sample
    if sample is None or look.now_s - look.disturbed_s < look.limits.surge_settle_s:
        return None
    rise_k_per_min = sample.slope_k_per_s * 60.0
    most = look.limits.fastest_rise_k_per_min * sample.heat_share + look.limits.surge_k_per_min
    if rise_k_per_min < most:
        return None
    return f"{rise_k_per_min:.0f} K/min with {sample.heat_share:.0%} heat"


def not_followed(look: Look) -> Found:
    """The heater or the main contactor does not read back what it was told."""
    if look.granted and look.now_s <= look.lease_end_s:
        if look.heat_on is False:
            return "heat was granted, the heater reads back off"
        if look.main_on is False:
            return "heat was granted, the main contactor reads back open"
    if look.main_opened and look.main_on:
        return "the main contactor was opened, it reads back closed"
    return None


def not_answering(look: Look) -> Found:
    """The heater takes no command, or gives no read-back."""
    if look.write_failed:
        return f"the heater does not take a command: {look.write_failed}"
    if look.reads_back and look.heat_on is None:
        return "the heater gives no read-back"
    return "the main contactor gives no read-back" if look.reads_main_back and look.main_on is None else None


def refusing(look: Look) -> Found:
    """The heater has not taken an order to heat for too long, though it may take others."""
    if look.refused_since_s is None or look.now_s - look.refused_at_s > REFUSAL_LASTS_S:
        return None
    lasted_s = look.now_s - look.refused_since_s
    return f"no order to heat taken for {lasted_s:.0f} s" if lasted_s >= look.limits.sensor_trip_s else None


def contact_unknown(look: Look) -> Found:
    """A contact that cannot be read."""
    if (
        look.door_ok is not None
        and look.emergency_stop_ok is not None
        and look.key_ok is not None
        and look.extraction_ok is not None
    ):
        return None
    named = (
        ("door", look.door_ok),
        ("emergency stop", look.emergency_stop_ok),
        ("key", look.key_ok),
        ("extraction", look.extraction_ok),
    )
    return ", ".join(name for name, ok in named if ok is None)


def door_open(look: Look) -> Found:
    """The door is open."""
    return "open" if look.door_ok is False else None


def stopped_by_hand(look: Look) -> Found:
    """The emergency stop is pressed, or the key is out."""
    if look.emergency_stop_ok is False:
        return "pressed"
    return "key removed" if look.key_ok is False else None


def no_extraction(look: Look) -> Found:
    """The stage needs extraction, and it does not run."""
    return "not running" if look.extraction_needed and look.extraction_ok is False else None


def too_long(look: Look) -> Found:
    """A firing that has lasted longer than any should, by what is told of it or by the main contactor."""
    since_s, told_s = look.armed_since_s, look.firing_since_s
    if since_s is None or (told_s is not None and told_s < since_s):
        since_s = told_s
    if since_s is None:
        return None
    lasted_s = look.now_s - since_s
    return f"{lasted_s / 3600.0:.0f} h" if lasted_s >= look.limits.longest_firing_s else None


def enclosure_warm(look: Look) -> Found:
    """The electronics are warmer than they should be."""
    enclosure_c = look.enclosure_c
    return (
        f"{enclosure_c:.0f} C"
        if enclosure_c is not None and enclosure_c >= look.limits.enclosure_warm_c
        else None
    )


def enclosure_hot(look: Look) -> Found:
    """The electronics are too hot to be trusted."""
    enclosure_c = look.enclosure_c
    return (
        f"{enclosure_c:.0f} C"
        if enclosure_c is not None and enclosure_c >= look.limits.enclosure_hot_c
        else None
    )


def late(look: Look) -> Found:
    """This tick came late."""
    return f"the tick came {look.late_s:.1f} s late" if look.late_s > 0.0 else None


def clock_stepped(look: Look) -> Found:
    """Somebody set the clock."""
    step_s = look.clock_step_s
    return (
        f"by {step_s:+.0f} s"
        if step_s >= look.limits.clock_step_s or -step_s >= look.limits.clock_step_s
        else None
    )


def unrecorded(look: Look) -> Found:
    """The record cannot be written."""
    return look.record_trouble or None


def _roles(look: Look) -> list[str]:
    """The readings' roles in a sample's order, the air's first."""
    return ["air", *(role for role, _ in look.readings if role != "air")]
