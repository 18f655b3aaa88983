"""What a schedule's text says, for the screen: its table, its planned line, or its mistakes with their keys.

The schedule room's own reader reads it: what the file says and what the screen says are the same thing.
"""

from __future__ import annotations

from typing import Any, TypedDict

from controller.schedule.keys import RECOVERY_KEYS, SCHEDULE_KEYS, STAGE_KEYS, Key
from controller.schedule.located import FileProblems, Problem, read_toml
from controller.schedule.model import Schedule
from controller.schedule.plan import ASSUMED_FULL_C_PER_H, ROOM_C, Span, plan
from controller.schedule.reader import read_schedule
from controller.schedule.words import if_nobody_comes, needs_person, what_it_does
from web.schedules.edit import EditError, Sheet, sheet_of


class Mistake(TypedDict):
    """A mistake, in words; `path` leads to its key, where it is about one."""

    path: list[str | int]
    line: int
    says: str


def drawn(text: str, file: str) -> dict[str, Any]:
    """Return what the screen shows of a text: `sheet`, `mistakes`, and the `plan` where there are none.

    `sheet` None: it can only be edited as text, and `only_text` says why.
    """
    try:
        located = read_toml(text, file)
    except FileProblems as error:
        return _drawn(text, None, "", error.problems)
    try:
        sheet, only_text = _plain(sheet_of(located)), ""
    except EditError as error:
        sheet, only_text = None, str(error)
    try:
        schedule = read_schedule(text, file)
    except FileProblems as error:
        return _drawn(text, sheet, only_text, error.problems)
    return _drawn(text, sheet, only_text, ()) | {"plan": planned(schedule)}


def planned(schedule: Schedule) -> dict[str, Any]:
    """Return the planned line from a cold kiln, in seconds and C, and what each stage does on it."""
    made = plan(schedule, ROOM_C, ASSUMED_FULL_C_PER_H)
    return {
        "title": schedule.title,
        "t_s": [round(point.t_s, 1) for point in made.points],
        "c": [round(point.c, 1) for point in made.points],
        "total_s": made.total_s,
        "estimated": any(span.estimated for span in made.spans),
        "pour_at_c": schedule.pour_at_c,
        "mould": schedule.mould,
        "stages": [_stage(schedule, span) for span in made.spans],
    }


def keys() -> dict[str, Any]:
    """Return every key that a schedule may hold, by the table that it stands in."""
    return {
        "top": [_key(key) for key in SCHEDULE_KEYS],
        "recovery": [_key(key) for key in RECOVERY_KEYS],
        "stage": {kind: [_key(key) for key in kind_keys] for kind, kind_keys in STAGE_KEYS.items()},
    }


def _drawn(
    text: str, sheet: dict[str, Any] | None, only_text: str, problems: tuple[Problem, ...]
) -> dict[str, Any]:
    mistakes = [_mistake(problem) for problem in problems]
    return {
        "ok": not mistakes,
        "text": text,
        "sheet": sheet,
        "only_text": only_text,
        "mistakes": mistakes,
        "plan": None,
    }


def _mistake(problem: Problem) -> Mistake:
    says = f"found {problem.found}, expected {problem.expected}"
    return {"path": list(problem.path), "line": problem.line, "says": f"{problem.where}: {says}"}


def _plain(sheet: Sheet) -> dict[str, Any]:
    stages = [row.fields for row in sheet.stages]
    return {"top": sheet.top, "recovery": sheet.recovery, "stages": stages}


def _stage(schedule: Schedule, span: Span) -> dict[str, Any]:
    stage = schedule.stages[span.index]
    return {
        "name": span.name,
        "kind": span.kind,
        "does": what_it_does(stage),
        "start_s": span.start_s,
        "end_s": span.end_s,
        "end_c": span.end_c,
        "estimated": span.estimated,
        "needs_person": needs_person(stage),
        "says": getattr(stage, "says", ""),
        "nobody": if_nobody_comes(stage),
    }


def _key(key: Key) -> dict[str, Any]:
    return {
        "name": key.name,
        "must": key.must,
        "meaning": key.meaning,
        "example": key.example.strip('"'),
        "choices": list(key.choices),
        "yes_or_no": key.example in ("true", "false"),
    }
