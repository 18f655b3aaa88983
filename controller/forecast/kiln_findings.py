"""Whether the kiln can do what the schedule asks: where it falls behind, by how much and for how long."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from controller.forecast.ensemble import Runs
from controller.forecast.run import NEVER_S, Run
from controller.physics.finding import Finding
from controller.schedule.model import Cool, Ramp, Schedule
from controller.schedule.plan import PASSIVE_C_PER_H
from controller.schedule.units import duration_text

BEHIND_K, BEHIND_S = 5.0, 300.0
"""Less than this, or for less long, is not worth a word. Chosen."""

FULL = 0.999
EASED = 0.9
"""The rate to ask for, over what the kiln makes at full heat: some heat in hand to steer by. Chosen."""


class Behind(NamedTuple):
    """A kiln that lags at full heat (or, cooling, at none) in a ramp, and what follows until it is there."""

    stage: int
    most_k: float
    lasts_s: float
    makes_c_per_h: float
    """How fast it goes meanwhile."""
    at_s: float


def kiln_findings(schedule: Schedule, runs: Runs, longest_s: float | None = None) -> tuple[Finding, ...]:
    """Return what this kiln cannot do. `longest_s`: the firing's length at which its guard trips."""
    typical = behind(schedule, runs.typical, runs.kiln.power_w)
    found = [*_stuck(schedule, runs), *(_slow(schedule, of) for of in typical)]
    found += _maybe(schedule, runs, {of.stage for of in typical})
    if longest_s is not None:
        found += _too_long(runs, longest_s)
    return tuple(found)


def behind(schedule: Schedule, run: Run, power_w: float) -> list[Behind]:
    """Return where a run could not keep up with the schedule."""
    found: dict[int, list[int]] = {}
    asked = None
    for place, (setpoint_c, air_c, stage) in enumerate(
        zip(run.setpoint_c, run.air_c, run.stage, strict=True)
    ):
        if stage < len(schedule.stages) and isinstance(schedule.stages[stage], Ramp | Cool):
            asked = stage
        if asked is None or setpoint_c is None or place == 0:
            continue
        of = schedule.stages[asked]
        assert isinstance(of, Ramp | Cool)
        cold = run.power_w[place] >= FULL * power_w and setpoint_c - air_c > BEHIND_K
        hot = isinstance(of, Cool) and run.power_w[place] <= 0.0 and air_c - setpoint_c > BEHIND_K
        if of.rate_c_per_h is not None and (cold or hot):
            found.setdefault(asked, []).append(place)
    every = [_behind(run, stage, places) for stage, places in found.items()]
    return [of for of in every if of.lasts_s >= BEHIND_S]


def _behind(run: Run, stage: int, places: list[int]) -> Behind:
    offs = [abs((run.setpoint_c[place] or 0.0) - run.air_c[place]) for place in places]
    lasts_s = len(places) * run.step_s
    moved_k = sum(abs(run.air_c[place] - run.air_c[place - 1]) for place in places)
    return Behind(stage, max(offs), lasts_s, moved_k * 3600.0 / lasts_s, places[0] * run.step_s)


def _slow(schedule: Schedule, of: Behind) -> Finding:
    stage = schedule.stages[of.stage]
    assert isinstance(stage, Ramp | Cool)
    asked = stage.rate_c_per_h or PASSIVE_C_PER_H
    how = "at full heat" if isinstance(stage, Ramp) else "with the heat off"
    says = (
        f'Stage {of.stage + 1} "{stage.name}" asks for {asked:.0f} C/h, and {how} the kiln makes '
        f"{of.makes_c_per_h:.0f} C/h: it is behind by up to {of.most_k:.0f} K, "
        f"for {duration_text(of.lasts_s)}."
    )
    remedy = f"Ask for {max(1.0, EASED * of.makes_c_per_h):.0f} C/h there, or let it come later."
    return Finding("kiln is slow", "warn", says, remedy, of.makes_c_per_h, asked, "C/h", of.at_s)


def _maybe(schedule: Schedule, runs: Runs, told: set[int]) -> Iterator[Finding]:
    """Yield a note for a stage in which only a weaker kiln, still within the band, falls behind."""
    worst: dict[int, Behind] = {}
    for run in (run for pair in runs.pairs for run in pair):
        for of in behind(schedule, run, max(run.power_w)):
            if of.stage not in told and of.most_k > getattr(worst.get(of.stage), "most_k", 0.0):
                worst[of.stage] = of
    for of in worst.values():
        name = schedule.stages[of.stage].name
        says = (
            f'Stage {of.stage + 1} "{name}": the kiln may fall behind by up to {of.most_k:.0f} K, '
            f"for {duration_text(of.lasts_s)}; typically it keeps up."
        )
        remedy = "A firing or two to learn the kiln from will narrow that."
        yield Finding("kiln may be slow", "note", says, remedy, of.most_k, BEHIND_K, "K", of.at_s)


def _stuck(schedule: Schedule, runs: Runs) -> Iterator[Finding]:
    """Yield a finding where the schedule never ends."""
    run = runs.typical
    if run.end_s < NEVER_S:
        if any(one.end_s == NEVER_S for pair in runs.pairs for one in pair):
            says = "A kiln or a shell at the edge of what is thought likely never gets to the end of this."
            remedy = "Learn the kiln from a firing, and weigh the shell; then ask again."
            yield Finding("may never end", "warn", says, remedy, 0.0, 0.0, "", None)
        return
    index = min(run.stage[-1], len(schedule.stages) - 1)
    stage, hottest_c = schedule.stages[index], max(run.air_c)
    if run.power_w[-1] >= FULL * runs.kiln.power_w:
        full = f"full heat, {runs.kiln.power_w / 1000:.1f} kW,"
        says = f"{full} brings the air to {hottest_c:.0f} C and no further"
        remedy = f"Stay {2 * BEHIND_K:.0f} K below that, or mend the kiln."
    else:
        says = f"the shell stays at {run.load_c[-1]:.0f} C, outside of what the stage waits for"
        remedy = "Widen its band or what it waits within, or hold longer before it."
    says = f'It never gets beyond stage {index + 1} "{stage.name}": {says}.'
    yield Finding("never ends", "stop", says, remedy, hottest_c, hottest_c, "C", run.begins_s.get(index))


def _too_long(runs: Runs, longest_s: float) -> Iterator[Finding]:
    end = runs.of(lambda run: run.end_s)
    if end.high <= longest_s:
        return
    typical = end.typical > longest_s
    lasts = f"lasts {duration_text(end.typical)}" if end.typical < NEVER_S else "never ends"
    if not typical:
        lasts = f"typically {lasts}, and may last longer than the limit"
    says = f"The firing {lasts}; at {duration_text(longest_s)} the kiln's guard trips."
    remedy = "Raise longest_firing in the kiln's file, or shorten the schedule."
    found = min(end.typical if typical else end.high, 1e9)
    yield Finding(
        "too long", "stop" if typical else "warn", says, remedy, found / 3600, longest_s / 3600, "h"
    )
