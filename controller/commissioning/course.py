"""Leads a person through the steps of bring-up: one at a time, each kept as soon as it is done.

It can be stopped at any point and goes on where it was; a step that stands is not asked for again unless it
is named. A step that heats is refused until every step before it stands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from importlib.metadata import version

from controller.commissioning import heating, sensors, switching
from controller.commissioning.parts import fingerprints
from controller.commissioning.result import Done, Result
from controller.commissioning.rig import Bench
from controller.commissioning.store import load, save
from controller.commissioning.table import Step, step_named, steps
from controller.commissioning.validity import exempt, expires, missing_of, why_missing
from controller.errors import UsageError

CARRY_OUT: Mapping[str, Callable[[Bench, Step], Done]] = {
    "sensor": sensors.sensor,
    "enclosure": sensors.enclosure,
    "agreement": sensors.agreement,
    "contact": sensors.contact,
    "relay": switching.relay,
    "lease": switching.lease,
    "main_contactor": switching.main_contactor,
    "limit": switching.limit,
    "low_heat": heating.low_heat,
    "model": heating.model,
}


def lead(bench: Bench, by: str, today: Callable[[], date], only: str = "") -> bool:
    """Lead a person through all that is missing, or through one step.

    Returns whether nothing is missing then; for one step, whether it passed.

    Raises UsageError for a step that the kiln does not have, or that may not be done yet.
    """
    config, person = bench.config, bench.person
    if exempt(config):
        person.tell(exempt(config))
    if only:
        todo = [step_named(config, only)]
    else:
        names = {one.step for one in missing_of(config, load(bench.home), today())}
        todo = [step for step in steps(config) if step.name in names]
    for place, step in enumerate(todo, start=1):
        person.tell(f"\n[{place} of {len(todo)}] {_title(step)}")
        if not _repeatedly(bench, step, by, today):
            person.tell("Stopped here. What was done is kept; the same command goes on from here.")
            return False
    left = missing_of(config, load(bench.home), today())
    person.tell("\nThe commissioning is complete." if not left else f"\n{len(left)} steps are missing yet.")
    return bool(only) or not left


def _repeatedly(bench: Bench, step: Step, by: str, today: Callable[[], date]) -> bool:
    """Carry out a step until it passes or the person has had enough; return whether it passed."""
    while True:
        result = carry_out(bench, step, by, today())
        if result.done.passed:
            return True
        if bench.person.ask("Type again to repeat it, or anything else to stop here").lower() != "again":
            return False


def carry_out(bench: Bench, step: Step, by: str, today: date) -> Result:
    """Carry out one step, tell what it saw, and keep it. Raises UsageError when it may not be done yet."""
    results = load(bench.home)
    _may(bench, step, results, today)
    kind, person = step.kind, bench.person
    person.tell(f"  do:       {kind.do}\n  expected: {kind.expect}")
    done = CARRY_OUT[kind.id](replace(bench, earlier=results), step)
    for check in done.checks:
        mark = "pass" if check.passed else "FAIL"
        person.tell(f"  {mark}  {check.what}: saw {check.saw} (expected {check.expected})")
    result = Result(step.name, today, by, version("stokehold"), done, fingerprints(bench.config, step))
    save(bench.home, bench.config.name, results | {step.name: result})
    return result


def listing(bench: Bench, today: date) -> list[str]:
    """Return, a line each, what is done and what is missing."""
    results = load(bench.home)
    lines = [exempt(bench.config)] if exempt(bench.config) else []
    for step in steps(bench.config):
        result = results.get(step.name)
        why = why_missing(bench.config, step, result, today)
        if why or result is None:
            lines.append(f"missing  {step.name:24} {why}")
        else:
            lines.append(f"done     {step.name:24} {result.on} by {result.by}, until {expires(result.on)}")
    if bench.config.main_contactor is None:
        lines.append("no main contactor in the kiln's file: only the independent limit stops a welded relay")
    return lines


def _may(bench: Bench, step: Step, results: Mapping[str, Result], today: date) -> None:
    """Raise UsageError when a step heats and one before it does not stand."""
    if not step.kind.heats:
        return
    before = steps(bench.config)[: steps(bench.config).index(step)]
    for one in before:
        why = why_missing(bench.config, one, results.get(one.name), today)
        if why:
            raise UsageError(f"{step.name}: it heats, and {one.name} comes first: {why}")


def _title(step: Step) -> str:
    return f"{step.name}: {step.kind.title}"
