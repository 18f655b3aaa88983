"""The steps with heat: a short low heat by the real loop, and the kiln's first model from it.

The loop is the one that fires a kiln, with the kiln's own control. Three things end the heat: the end that
was asked for, 15 minutes, and the guard, whose ceiling is lowered for this.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.commissioning import judge, limits
from controller.commissioning import model as first_model
from controller.commissioning.person import says_yes
from controller.commissioning.result import Check, Done
from controller.commissioning.rig import Bench, Rig, reads_back, to_and_hold
from controller.commissioning.switching import clear_of_trips, present
from controller.commissioning.table import Step
from controller.firing import OPEN
from controller.tick import Ticked

TELL_EVERY_S = 30.0


def low_heat(bench: Bench, _step: Step) -> Done:
    """Heat the empty kiln a little, and see it stop."""
    if not says_yes(bench.person, "Is the kiln empty and shut, the limit set, and will you stay beside it?"):
        return Done((Check("ready for a low heat", "yes", "no", False),))
    before = clear_of_trips(bench)
    if before:
        return Done(before)
    with bench.rig() as rig:
        first = rig.tick()
        here = present(bench, first)
        from_c = first.polled.readings["air"].value_c
        if from_c is None or any(not check.passed for check in here):
            return Done((*here, *judge.low_heat(None, None, rig.trips())))
        points = list(_heat(bench, rig, from_c))
        after = tuple(_after(bench, rig))
        trips = rig.trips()
    hottest_c = max(point.air_c for point in points) if points else None
    checks = (*here, *judge.low_heat(from_c, hottest_c, trips), *after)
    return Done(checks, _figures(points, from_c))


def model(bench: Bench, _step: Step) -> Done:
    """The first model, from the low heat that is on file."""
    low = bench.earlier.get("low_heat")
    figures = dict(low.done.figures) if low is not None and low.done.passed else {}
    checks = judge.model(figures)
    if not all(check.passed for check in checks):
        return Done(checks)
    advice = first_model.tuning(figures["rise_k_per_s"], figures["dead_s"], bench.config.heater.power_w)
    bench.person.tell(
        f'For [control], to begin with: gain = "{advice.gain_per_k:.3g} /K", '
        f'integral = "{advice.integral_s:.0f} s", '
        f'heat_capacity = "{advice.heat_capacity_j_per_k / 1e3:.3g} kJ/K"'
    )
    return Done(checks, {name: figures[name] for name in ("rise_k_per_s", "dead_s")} | advice._asdict())


def _heat(bench: Bench, rig: Rig, from_c: float) -> Iterator[first_model.Point]:
    """Heat until it is warm enough, has lasted long enough or has ended by itself; yield every tick."""
    end_c = max(limits.LOW_HEAT_C, from_c + limits.LOW_HEAT_K)
    ticked = rig.start(
        *to_and_hold(end_c + limits.SETPOINT_ABOVE_K, ceiling_c=end_c + limits.CEILING_ABOVE_K)
    )
    began_s = told_s = ticked.now_s
    while ticked.firing.state in OPEN and ticked.now_s - began_s <= limits.LOW_HEAT_S:
        air_c = ticked.polled.readings["air"].value_c
        if air_c is not None:
            yield first_model.Point(ticked.now_s, air_c, ticked.grant.heat)
        if ticked.now_s - told_s >= TELL_EVERY_S:
            told_s = ticked.now_s
            bench.person.tell(_told(ticked, end_c))
        if air_c is not None and air_c >= end_c:
            return
        ticked = rig.tick()


def _told(ticked: Ticked, end_c: float) -> str:
    air_c = ticked.polled.readings["air"].value_c
    reading = "no good reading" if air_c is None else f"{air_c:.1f} C"
    return f"  air {reading}, to {end_c:.0f} C, heat {ticked.duty:.0%}"


def _after(bench: Bench, rig: Rig) -> Iterator[Check]:
    """Abort, and watch for a while that heat and main contactor are off and stay off."""
    ticked = rig.abort()
    for _ in range(int(limits.AFTER_S / bench.config.tick_s) + 1):
        ticked = rig.tick()
    if reads_back(bench.config.heater):
        yield judge.follows("afterwards the relay", "off", ticked.polled.heat_on, False, limits.AFTER_S)
    if reads_back(bench.config.main_contactor):
        yield judge.follows(
            "afterwards the main contactor", "off", ticked.polled.main_on, False, limits.AFTER_S
        )


def _figures(points: list[first_model.Point], from_c: float) -> dict[str, float]:
    """What is kept of the low heat."""
    if not points:
        return {"from_c": from_c}
    known = {
        "from_c": from_c,
        "to_c": max(point.air_c for point in points),
        "lasted_s": points[-1].t_s - points[0].t_s,
    }
    fitted = first_model.fit(points)
    return known if fitted is None else known | fitted._asdict()
