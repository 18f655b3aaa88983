"""Whether a kiln's commissioning is complete and not out of date: `missing(config, home, today)`.

A result counts when it passed, when no part of the kiln's file on which it rests has changed since, and for
twelve months: NFPA 86 thinks of proving safety interlocks at least yearly (the idea; no conformity is
claimed). A simulated kiln is exempt, and only one whose own file says that it is simulated.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import NamedTuple

from controller.commissioning.parts import fingerprints
from controller.commissioning.result import Result
from controller.commissioning.store import load
from controller.commissioning.table import Step, steps
from controller.config import KilnConfig
from controller.errors import UsageError


class Missing(NamedTuple):
    """A step that must be done, or done again, and why."""

    step: str
    why: str


def exempt(config: KilnConfig) -> str:
    """Return why a kiln needs no commissioning, in words; empty when it needs one."""
    if config.simulated:
        return f"{config.name}: its file says simulated = true, so no commissioning is asked for"
    return ""


def missing(config: KilnConfig, home: Path, today: date) -> tuple[Missing, ...]:
    """Return what of a kiln's commissioning is missing, in the order of the steps. Never raises.

    `home`: the folder with the results; `today`: the date on the calendar of whoever runs the kiln.
    """
    if exempt(config):
        return ()
    try:
        results = load(home)
    except UsageError as error:
        return (Missing("all", str(error)),)
    return missing_of(config, results, today)


def missing_of(config: KilnConfig, results: Mapping[str, Result], today: date) -> tuple[Missing, ...]:
    """As `missing`, from results in hand, also for a simulated kiln. Pure."""
    found = ((step.name, why_missing(config, step, results.get(step.name), today)) for step in steps(config))
    return tuple(Missing(name, why) for name, why in found if why)


def why_missing(config: KilnConfig, step: Step, result: Result | None, today: date) -> str:
    """Return why a step's result does not count today; empty when it does."""
    if result is None:
        return "not done yet"
    if not result.done.passed:
        failed = next((check.what for check in result.done.checks if not check.passed), "nothing was checked")
        return f"failed on {result.on}: {failed}"
    now = fingerprints(config, step)
    changed = [part for part in now | dict(result.parts) if now.get(part) != result.parts.get(part)]
    if changed:
        return f"the kiln's file has changed since {result.on}: {', '.join(changed)}"
    if result.on > today:
        return f"dated {result.on}, which is still to come: is the computer's clock right?"
    if today >= expires(result.on):
        return f"done on {result.on}, out of date since {expires(result.on)}"
    return ""


def expires(on: date) -> date:
    """Return the first day on which a result of that day no longer counts: twelve months later."""
    try:
        return on.replace(year=on.year + 1)
    except ValueError:  # 29 February
        return date(on.year + 1, 3, 1)


def refusal(found: tuple[Missing, ...]) -> str:
    """Return in one line why an unattended firing is refused; empty when nothing is missing."""
    if not found:
        return ""
    told = "; ".join(f"{one.step}: {one.why}" for one in found[:3])
    more = f"; and {len(found) - 3} more" if len(found) > 3 else ""
    return f"the kiln's commissioning is not complete ({told}{more}): see `stokehold commission --list`"
