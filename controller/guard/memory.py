"""What the guard remembers of what it saw: pure, a few numbers, brought up to date once a tick.

Slopes and standing readings are looked at every `SAMPLE_S` only: ten seconds are short against anything
that a kiln does, and long against the noise of a reading.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.guard.look import Look

SAMPLE_S = 10.0
# Slope and heat share are smoothed over this: longer than a slow contactor's cycle of 20 to 30 s.
SMOOTH_S = 60.0
# A door or a reading that is away for less is a flicker: nobody opens a kiln so quickly, and nothing in it
# changes so fast (common practice, no source). Heat that misses so much, and this share besides, is unbroken:
# a late tick now and then must not hide an element that has failed.
FLICKER_S = 6.0
GAPS = 0.05

Values = tuple[float | None, ...]
_new_tuple = tuple.__new__  # a NamedTuple's own constructor costs several times as much


class Still(NamedTuple):
    """A reading that has shown the same value to the bit since `since_s`.

    `others_c`: what every reading showed then. `heated_s`: the heat granted by then.
    """

    value_c: float | None
    since_s: float
    others_c: Values
    heated_s: float


class Sample(NamedTuple):
    """The last sample: when, the air, the heat granted by then, and what follows from the ones before.

    `longest_still_s`, `shortest_still_s`: for how long the stillest and the liveliest reading have stood.
    """

    at_s: float
    air_c: float
    heated_s: float
    slope_k_per_s: float
    heat_share: float
    still: tuple[Still, ...]
    longest_still_s: float
    shortest_still_s: float


class Memory(NamedTuple):
    """What is carried from tick to tick.

    `lasted_s`: by row, for how long its finding has lasted (see `judge`). `seen_s`: the tick before.
    `coldest_unheated_c`: the coldest air since heat has been off long enough for the elements to dim;
    `coldest_limit_c`: the coldest that the limit thermocouple has shown since then.
    `full_heat_since_s`, `full_heat_from_c`, `full_heat_had_s`: since when heat has been granted with
    hardly a gap, air and limit then, and the heat granted by then; they move on whenever the air has risen
    enough. `disturbed_from_s`: since when the door has been open or the air unknown, None when all is
    well. `disturbed_s`: when that was last so, for longer than a flicker.
    """

    lasted_s: tuple[float, ...]
    seen_s: float | None = None
    coldest_unheated_c: float | None = None
    full_heat_since_s: float | None = None
    full_heat_from_c: tuple[float, float | None] | None = None
    full_heat_had_s: float = 0.0
    disturbed_from_s: float | None = None
    disturbed_s: float = float("-inf")
    sample: Sample | None = None
    coldest_limit_c: float | None = None


def remember(memory: Memory, look: Look) -> Memory:
    """Bring the memory up to date with what is seen and done at one tick. One bad tick wipes nothing."""
    lasted_s, _, coldest_c, full_since_s, full_from_c, full_had_s, from_s, disturbed_s, sample, limit_c = (
        memory
    )
    air_c, now_s, limits = look.air_c, look.now_s, look.limits
    if air_c is None or not look.door_ok:
        from_s = now_s if from_s is None else from_s
        if now_s - from_s < FLICKER_S:
            return memory._replace(seen_s=now_s, disturbed_from_s=from_s)
        # What the kiln does meanwhile explains nothing afterwards; what stood before still stands.
        return Memory(lasted_s, now_s, coldest_c, None, None, 0.0, from_s, now_s, sample, limit_c)
    if look.granted:
        coldest_c = limit_c = None
        if full_since_s is None or full_from_c is None or air_c >= full_from_c[0] + limits.no_rise_k:
            full_since_s, full_from_c, full_had_s = now_s, (air_c, look.limit_c), look.heated_s
    elif now_s - look.heat_end_s < limits.unheated_settle_s:
        coldest_c = limit_c = None
    elif now_s - disturbed_s >= limits.surge_settle_s:
        # Behind a door that was open the air comes back by itself: that is not measured from its coldest.
        coldest_c, limit_c = _colder(coldest_c, air_c), _colder(limit_c, look.limit_c)
    if full_since_s is not None:
        lasted = now_s - full_since_s
        if lasted - (look.heated_s - full_had_s) > FLICKER_S + GAPS * lasted:
            full_since_s = None
    if sample is None or now_s - sample.at_s >= SAMPLE_S:
        sample = _sampled(sample, look, air_c)
    fields = (
        lasted_s, now_s, coldest_c, full_since_s, full_from_c, full_had_s, None, disturbed_s, sample, limit_c,
    )  # fmt: skip
    return _new_tuple(Memory, fields)


def _colder(was_c: float | None, now_c: float | None) -> float | None:
    """The colder of two; one that is unknown says nothing."""
    if was_c is None or now_c is None:
        return now_c if was_c is None else was_c
    return min(was_c, now_c)


def _values(look: Look) -> Values:
    """Every reading's value, the air's first."""
    return (look.air_c, *(reading.value_c for role, reading in look.readings if role != "air"))


def _sampled(last: Sample | None, look: Look, air_c: float) -> Sample:
    """Take a sample: slope and heat share smoothed, and which readings have not moved."""
    now_s, heated_s, values = look.now_s, look.heated_s, _values(look)
    if last is None:
        fresh = tuple(Still(value_c, now_s, values, heated_s) for value_c in values)
        return sample_of(now_s, air_c, heated_s, 0.0, 0.0, fresh)
    gap_s = now_s - last.at_s
    part = gap_s / (SMOOTH_S + gap_s)
    slope = (air_c - last.air_c) / gap_s
    share = min(1.0, (heated_s - last.heated_s) / gap_s)
    still = tuple(
        old if old.value_c == value_c else Still(value_c, now_s, values, heated_s)
        for old, value_c in zip(last.still, values, strict=True)
    )
    slope = last.slope_k_per_s + part * (slope - last.slope_k_per_s)
    share = last.heat_share + part * (share - last.heat_share)
    return sample_of(now_s, air_c, heated_s, slope, share, still)


def sample_of(
    at_s: float, air_c: float, heated_s: float, slope_k_per_s: float, share: float, still: tuple[Still, ...]
) -> Sample:
    """Make a sample, with what its rows ask at every tick worked out once."""
    stood_s = [at_s - one.since_s for one in still]
    return Sample(at_s, air_c, heated_s, slope_k_per_s, share, still, max(stood_s), min(stood_s))
