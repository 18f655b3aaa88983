"""The ticks of which the scenes of the guard's tests are made: healthy ones, and one for each way to fail."""

from __future__ import annotations

from collections.abc import Callable

from tests.guard.bench import Bench

Tick = Callable[[Bench, float, float], object]


def wobble(bench: Bench) -> float:
    """A healthy reading moves a little, whenever it is looked at; in eighths, so that sums are exact."""
    return 0.125 * (round(bench.now_s) % 7)


def healthy(bench: Bench, base_c: float = 500.0, **changes: object) -> bool:
    """A tick in which all is well, at a temperature, with changes."""
    return bench.tick(air_c=base_c + wobble(bench), **changes)  # type: ignore[arg-type]


def idle(bench: Bench) -> bool:
    """A tick in which all is well and no heat is wanted."""
    return healthy(bench, wants=False)


def load_above(b: Bench, _t: float, x: float) -> bool:
    """In heat, the load reads `x` above air and limit."""
    air_c = 500.0 + wobble(b)
    return b.tick(air_c=air_c, load_c=air_c + x)


def put_by(bench: Bench) -> bool:
    """A tick in which all is well and no firing runs."""
    return healthy(bench, wants=False, wants_main=False)


def seen(**changes: object) -> Tick:
    """The same change at every tick, whenever the size says yes (1 or more)."""
    return lambda b, _t, x: healthy(b, **(changes if x >= 1.0 else {}))


def sized(name: str, base_c: float = 500.0, **changes: object) -> Tick:
    """A field of the sight that has the size itself."""
    return lambda b, _t, x: healthy(b, base_c, **({name: x} | changes))


def hot(b: Bench) -> bool:
    """A healthy tick just below the ceiling."""
    return healthy(b, 880.0)


def frozen_load(b: Bench, t: float, x: float) -> bool:
    """The load stands still to the bit while the air falls by `x` in five minutes, without heat."""
    return b.tick(wants=False, air_c=500.0 - x * min(1.0, t / 300.0), load_c=300.0)


def frozen_air_in_heat(b: Bench, t: float, x: float) -> bool:
    """The air stands still to the bit in heat that is not wanted in `x` ticks of 300, then in every tenth."""
    refused = t % 12 == 5 and t // 12 < x if t < 300 else t % 10 == 5
    return b.tick(wants=not refused, air_c=500.0, load_c=490.0 + wobble(b))


def all_frozen(b: Bench, t: float, x: float) -> bool:
    """Every reading stands still to the bit; heat is wanted in the first `x` ticks, and was not before."""
    return b.tick(wants=t < x, air_c=500.0)


def falls(b: Bench, t: float, x: float) -> bool:
    """The air falls by `x` within a hundred seconds of unbroken heat, and the limit thermocouple rises."""
    since = max(0.0, t - 1.0)
    return b.tick(air_c=500.0 - x * min(1.0, since / 100.0), limit_c=500.0 + 0.1 * since)


def limit_rises(b: Bench, t: float, x: float) -> bool:
    """The air has fallen far in unbroken heat, and the limit thermocouple has risen by `x` by the time."""
    since = max(0.0, t - 1.0)
    return b.tick(air_c=500.0 - min(20.0, 0.5 * since), limit_c=500.0 + x * min(1.0, since / 100.0))


def falls_below_any_room(b: Bench, t: float, x: float) -> bool:
    """The air falls from the room's temperature to `x` after a minute of unbroken heat."""
    return b.tick(air_c=20.0 if t < 60 else x, limit_c=20.0)


def unasked(b: Bench, _t: float, x: float) -> bool:
    """The heater reads back on, and nothing was granted."""
    return healthy(b, wants=False, heat_on=x >= 1.0)


def rises(b: Bench, t: float, x: float) -> bool:
    """The heat goes off; after 200 s the air rises by `x` within 200 s."""
    return b.tick(wants=False, air_c=500.0 + x * min(1.0, max(0.0, t - 200.0) / 200.0))


def limit_rises_unheated(b: Bench, t: float, x: float) -> bool:
    """The heat goes off; after 200 s the limit thermocouple, hotter than the air, rises by `x` alone."""
    up_k = x * min(1.0, max(0.0, t - 200.0) / 200.0)
    return b.tick(wants=False, air_c=500.0 + wobble(b), limit_c=510.0 + up_k)


def limit_passes_the_air(b: Bench, t: float, x: float) -> bool:
    """The heat goes off; the limit thermocouple lags behind the air by 20 K, and then is above it by `x`."""
    air_c = 500.0 + wobble(b)
    return b.tick(wants=False, air_c=air_c, limit_c=air_c - 20.0 if t < 400 else air_c + x)


def dips(b: Bench, t: float, x: float) -> bool:
    """The heat goes off; the air is 13 K lower until `x` seconds after it."""
    return b.tick(wants=False, air_c=487.0 if t <= x else 500.0)


def hardly_rises(b: Bench, t: float, x: float) -> bool:
    """In unbroken heat the air rises by `x` in ten minutes, and then no more: it only moves a little."""
    after = 0.001 * (max(0.0, t - 601.0) % 7)
    return b.tick(air_c=500.0 + x * min(1.0, max(0.0, t - 1.0) / 600.0) - after)


def climbs(b: Bench, t: float, x: float) -> bool:
    """The air rises at `x` K/min in full heat."""
    return b.tick(air_c=20.0 + x * t / 60.0)


def climbs_unheated(b: Bench, t: float, x: float) -> bool:
    """The air rises at `x` K/min without heat."""
    return b.tick(wants=False, air_c=500.0 + x * t / 60.0)


def cold(b: Bench) -> bool:
    """A healthy tick at the room's temperature."""
    return b.tick(wants=False, air_c=20.0 + wobble(b))


def reads_off(b: Bench, _t: float, x: float) -> bool:
    """Heat is granted, and the heater reads back off."""
    return healthy(b, heat_on=b.relay.on and x < 1.0)


def main_reads_open(b: Bench, _t: float, x: float) -> bool:
    """Heat is granted, and the main contactor reads back open."""
    return healthy(b, main_on=b.relay.main and x < 1.0)


def main_reads_closed(b: Bench, _t: float, x: float) -> bool:
    """The main contactor was opened, and reads back closed."""
    return healthy(b, wants=False, wants_main=False, main_on=x >= 1.0)


def takes_nothing(b: Bench, _t: float, x: float) -> bool:
    """The heater takes no command."""
    b.relay.broken = x >= 1.0
    return healthy(b)


def refuses_to_heat(b: Bench, _t: float, x: float) -> bool:
    """The heater takes every command but the one to heat."""
    b.relay.refuses = x >= 1.0
    return healthy(b)


def refuses_now_and_then(b: Bench, t: float, x: float) -> bool:
    """The heater is asked to heat every `x` seconds only, and refuses each time."""
    b.relay.refuses = True
    return healthy(b, wants=t % x == 0)


def willing_again(b: Bench) -> bool:
    """A healthy tick of a heater that has been mended."""
    b.relay.broken = b.relay.refuses = False
    return healthy(b)


def old(role: str) -> Tick:
    """One reading is not renewed: it is `x` seconds old."""
    return lambda b, _t, x: healthy(b, ages_s={role: x})


def forgotten(b: Bench, _t: float, x: float) -> bool:
    """The firing in hand has gone on for `x` seconds by now, mostly in another run of the program."""
    return healthy(b, firing_since_s=b.now_s + 1.0 - x)


def never_ends(b: Bench, t: float, x: float) -> bool:
    """A firing begins, and goes on."""
    return b.tick(wants_main=x >= 1.0, air_c=500.0 + 0.1 * t)
