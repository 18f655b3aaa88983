"""The steps that switch: the relay, the lease, the main contactor, and the limit by a person's word.

Heat is granted by the guard and by nothing else; in the relay's two steps it is given no main contactor,
which so stays open. What a relay does is read back; where it cannot be, the person's ears are asked.
"""

from __future__ import annotations

from controller.commissioning import judge, limits
from controller.commissioning.person import says_yes
from controller.commissioning.result import Check, Done
from controller.commissioning.rig import Bench, Rig, Seen, reads_back, to_and_hold
from controller.commissioning.table import LIMIT_SENTENCE, Step
from controller.schedule.model import Checkpoint, Cool, Then
from controller.tick import Ticked

GRANTED_TICKS = 30
"""Heat is granted within this many ticks, or something refuses it; a slow relay's cycle is shorter."""
SPARE_TICKS = 5
"""A tick that came late grants nothing, and the relay then stays off for its shortest time."""
ABOVE_K = 40.0
BELOW_K = 5.0


def relay(bench: Bench, _step: Step) -> Done:
    """Relay on and off, with the main contactor open."""
    before = _before(bench)
    if before:
        return Done(before)
    with bench.rig(main=False) as rig:
        granted = _grant(rig)
        if granted is None:
            return Done((_refused(rig),))
        on = _until_heat(bench, rig)
        rig.abort()
        off = rig.watch(limits.FOLLOWS_S, lambda seen: seen.polled.heat_on is not True)
        went_s = off[-1].at_s - off[0].at_s
        trips = rig.trips()
    checks = (_clear(trips), *_switched(bench, on, off[-1].polled.heat_on, went_s))
    return Done((*checks, *_main_still_open(bench)))


def lease(bench: Bench, _step: Step) -> Done:
    """One lease, and then silence."""
    before = _before(bench)
    if before:
        return Done(before)
    config = bench.config
    every_s = min(config.tick_s, config.lease_s) / 10.0
    with bench.rig(main=False, keeper=False) as rig:
        if _grant(rig) is None or _until_heat(bench, rig) is not True:
            return Done((_refused(rig),))
        in_hardware = rig.hardware_lease
        since_s = bench.clock.now_s()

        def dropped(seen: Seen) -> bool:
            if not in_hardware:
                rig.loop.guard.keep_leases()  # there, the controller's own keeper is what ends it
            return seen.polled.heat_on is False

        seen = rig.watch(config.lease_s + limits.LEASE_LATE_S + 2 * every_s, dropped, every_s)
        trips = rig.trips()
    reads = reads_back(config.heater)
    lasted_s: float | None = seen[-1].at_s - since_s if seen[-1].polled.heat_on is False else None
    if not reads and says_yes(bench.person, "Did the relay drop by itself just now?"):
        lasted_s = config.lease_s
    where = "in the relay's own hardware" if in_hardware else "by this computer: if it dies, the relay stays"
    ends = judge.lease_end(config.lease_s, config.tick_s, lasted_s, every_s)
    figures = {"hardware_lease": float(in_hardware)} | ({} if lasted_s is None else {"lasted_s": lasted_s})
    return Done((_clear(trips), ends._replace(saw=f"{ends.saw}, {where}")), figures)


def main_contactor(bench: Bench, _step: Step) -> Done:
    """The main contactor closed without heat, then dropped by a trip of the guard."""
    before = clear_of_trips(bench)
    if before:
        return Done(before)
    with bench.rig() as rig:
        air_c = rig.tick().polled.readings["air"].value_c
        if air_c is None:
            return Done((Check("the air's temperature", "a good reading", "none", False),))
        closed = _closes_and_trips(bench, rig, air_c)
        rows = rig.trips()
        off = rig.watch(limits.FOLLOWS_S, lambda seen: seen.polled.main_on is False)
        if rows == ("ceiling",):
            rig.tick()  # the stage with the low ceiling ends here ...
            rig.tick()  # ... and here nothing stands any more
            rig.loop.guard.clear()
    on: bool | None = off[-1].polled.main_on
    if not reads_back(bench.config.main_contactor):
        closed = says_yes(bench.person, "Did the main contactor close, and then open again?")
        on = False if closed else None
    checks = (
        Check("the main contactor closes", "on", "on" if closed else "not on", closed),
        judge.tripped(rows),
        judge.follows("the main contactor opens on the trip", "off", on, False, off[-1].at_s - off[0].at_s),
    )
    return Done(checks)


def _closes_and_trips(bench: Bench, rig: Rig, air_c: float) -> bool:
    """Run a stage that wants no heat, then one whose ceiling is below the air, until the guard trips.

    Returns whether the main contactor read back closed before that.
    """
    guard, tick_s = bench.config.guard, bench.config.tick_s
    closed_s = limits.FOLLOWS_S + 2 * tick_s
    rig.start(
        Checkpoint("closed", "", "off", None, closed_s, Then("go on"), closed_s),
        Cool("ceiling below the air", air_c - ABOVE_K, None, ceiling_c=air_c - BELOW_K),
    )
    closed = False
    for _ in range(int((closed_s + guard.ceiling_after_s + limits.FOLLOWS_S) / tick_s) + 5):
        closed = rig.tick().polled.main_on is True or closed
        if rig.trips():
            break
    return closed


def limit(bench: Bench, _step: Step) -> Done:
    """The independent limit, by the person's own word."""
    typed = bench.person.ask(f"If you have seen it, type: {LIMIT_SENTENCE}")
    return Done((judge.typed_limit(typed),))


def clear_of_trips(bench: Bench) -> tuple[Check, ...]:
    """Offer to clear the trips that stand; return a failed check when some still do, else nothing."""
    with bench.rig() as rig:
        rig.tick()
        rows = rig.trips()
        if not rows:
            return ()
        told = f"A trip stands: {', '.join(rows)}. Is its cause mended, and may it be cleared?"
        if says_yes(bench.person, told):
            done, says = rig.loop.guard.clear()
            return () if done else (Check("no trip stands", "none", says, False),)
        return (Check("no trip stands", "none", ", ".join(rows), False),)


def present(bench: Bench, ticked: Ticked) -> tuple[Check, ...]:
    """Where the kiln has a presence key, it must say that a person stands there."""
    if "presence" not in bench.config.contacts:
        return ()
    here = ticked.polled.contacts["presence"].on
    return (
        Check(
            "a person is at the kiln", "presence key turned", "turned" if here else "not turned", here is True
        ),
    )


def _before(bench: Bench) -> tuple[Check, ...]:
    """What must hold before the relay may move: the person's word, no trip, the main contactor open."""
    if not says_yes(bench.person, "Is the elements' own breaker or isolator off?"):
        return (Check("the elements' breaker is off", "yes", "no", False),)
    standing = clear_of_trips(bench)
    failed = tuple(check for check in _main_still_open(bench) if not check.passed)
    return standing or failed


def _main_still_open(bench: Bench) -> tuple[Check, ...]:
    """Whether the main contactor reads back open; nothing where it cannot be read back."""
    if not reads_back(bench.config.main_contactor):
        return ()
    with bench.rig() as rig:
        seen = rig.watch(limits.FOLLOWS_S, lambda one: one.polled.main_on is False)
    after_s = seen[-1].at_s - seen[0].at_s
    return (judge.follows("the main contactor stays open", "off", seen[-1].polled.main_on, False, after_s),)


def _grant(rig: Rig) -> Ticked | None:
    """Ask for much more than the air has, and go on until the guard grants heat; None when it refuses."""
    ticked = rig.tick()
    air_c = ticked.polled.readings["air"].value_c
    if air_c is None:
        return None
    ticked = rig.start(*to_and_hold(air_c + ABOVE_K))
    for _ in range(GRANTED_TICKS):
        if ticked.grant.heat:
            return ticked
        ticked = rig.tick()
    return None


def _until_heat(bench: Bench, rig: Rig) -> bool | None:
    """Renew the lease for as long as a relay may take; return whether it is on (where it cannot say: True).

    The last tick has renewed the lease when this returns True.
    """
    for _ in range(int(limits.FOLLOWS_S / bench.config.tick_s) + SPARE_TICKS):
        ticked = rig.tick()
        known = ticked.polled.heat_on is True or not reads_back(bench.config.heater)
        if known and ticked.grant.heat:
            break
    return True if not reads_back(bench.config.heater) else ticked.polled.heat_on


def _switched(bench: Bench, on: bool | None, off: bool | None, went_s: float) -> tuple[Check, Check]:
    """The relay's two checks, by its read-back or by ear."""
    if not reads_back(bench.config.heater):
        heard = says_yes(bench.person, "Did you hear or see the relay go on and off again?")
        on, off = (True, False) if heard else (None, None)
    return (
        judge.follows("heat granted: the relay takes", "on", on, True, 0.0),
        judge.follows("heat withdrawn: the relay drops", "off", off, False, went_s),
    )


def _clear(trips: tuple[str, ...]) -> Check:
    return Check("no trip", "none", ", ".join(trips) or "none", not trips)


def _refused(rig: Rig) -> Check:
    """Why no heat was granted, or the relay did not take it."""
    found = "; ".join(f"{one.row.id}: {one.found}" for one in rig.loop.guard.findings)
    return Check("heat is granted", "on", found or ", ".join(rig.trips()) or "off", False)
