"""A schedule file, to a frozen Schedule; or all of the file's mistakes at once.

Theory of operation. `read_toml` gives values and their lines. Each table is read by the table of its
keys (`keys.py`), whose forms (`forms.py`) turn text into numbers. Then the stages are walked in order
and held to each other (`rules.py`). A stage that cannot be read is told, and the walk goes on behind
it without guessing where it would have ended, so that one mistake is not told twice.

To add a kind of stage: its data in `model.py`, its keys in `keys.py`, its rule in `rules.py`, its
builder here, its line in `plan.py`, and how it moves in `firing`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from controller.schedule.fields import Fields
from controller.schedule.keys import (
    DEFAULT_BAND_K,
    DEFAULT_EXPECT_S,
    DEFAULT_REMIND_S,
    KINDS,
    RECOVERY_KEYS,
    SCHEDULE_KEYS,
    STAGE_KEYS,
    Key,
)
from controller.schedule.located import FileProblems, Located, Problem, decode, load_toml, read_toml
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Recovery, Schedule, Stage, Then
from controller.schedule.rules import COLD, RULES, SAME_K, UNKNOWN, ceiling_rules, follow_rules, mould_rules
from controller.schedule.units import shown


def load_schedule(path: Path) -> Schedule:
    """Return a schedule file. Raises UsageError if it cannot be read, FileProblems with all its mistakes."""
    return _read(load_toml(path))


def read_schedule(text: str, file: str) -> Schedule:
    """Return a schedule from its text; `file` is its name in messages. Raises FileProblems."""
    return _read(read_toml(decode(text.encode("utf-8", "surrogatepass"), file), file))


def _read(located: Located) -> Schedule:
    top = Fields(located, (), "", located.data)
    top.read(SCHEDULE_KEYS, also_known=["stage", "recovery"])
    mould_rules(top)
    recovery, recovery_problems = _recovery(top)
    walk = _Walk(top.values.get("ceiling"))
    for index, table in enumerate(_stage_tables(top)):
        walk.take(Fields(located, ("stage", index), f"stage {index + 1}", table))
    if not walk.problems:  # a stage that could not be read might be the hottest
        _pour_rules(top, walk.stages)
    problems = top.problems + recovery_problems + walk.problems
    if problems:
        raise FileProblems(problems)
    return Schedule(
        title=top.values["title"],
        stages=tuple(walk.stages),
        pour_at_c=top.values.get("pour_at"),
        mould=top.values.get("mould", "none"),
        ceiling_c=top.values.get("ceiling"),
        text=located.text,
        file=located.file,
        recovery=recovery,
    )


def _recovery(top: Fields) -> tuple[Recovery, list[Problem]]:
    """Return what the [recovery] table says, and its problems; without the table, the default."""
    table = top.table.get("recovery", {})
    if not isinstance(table, dict):
        top.complain("recovery", shown(table), "a [recovery] table")
        return Recovery(), []
    fields = Fields(top.located, ("recovery",), "recovery", table)
    fields.read(RECOVERY_KEYS)
    values = fields.values
    rule = Recovery(
        values.get("resume_within"), values.get("resume_if_fallen_by"), values.get("otherwise", "wait")
    )
    return rule, fields.problems


def _stage_tables(top: Fields) -> list[dict[str, Any]]:
    """Return the [[stage]] tables, or complain that they are not there."""
    found = top.table.get("stage", [])
    if isinstance(found, list) and found and all(isinstance(table, dict) for table in found):
        return found
    what = "a single [stage]" if isinstance(found, dict) else "no stage" if not found else "something else"
    top.complain("stage", what, "[[stage]] tables, one for each stage")
    return []


def _pour_rules(top: Fields, stages: list[Stage]) -> None:
    """The mould cannot be poured hotter than the schedule makes it."""
    asked = [
        stage.to_c if isinstance(stage, Ramp) else stage.at_c
        for stage in stages
        if isinstance(stage, Ramp | Hold)
    ]
    if asked and top.values.get("pour_at", 0.0) > max(asked) + SAME_K:
        top.complain("pour_at", f'"{top.table["pour_at"]}"', f"at most {max(asked):.1f} C, the hottest stage")


class _Walk:
    """The stages so far, where they lead to, and every problem on the way."""

    def __init__(self, ceiling_c: float | None) -> None:
        self.ceiling_c = ceiling_c
        self.place = COLD
        self.stages: list[Stage] = []
        self.problems: list[Problem] = []
        self.names: dict[str, Fields] = {}  # the first stage of each name

    def take(self, fields: Fields) -> None:
        """Read one stage, hold it to the rules, and build it if it is good."""
        name = fields.table.get("name")
        if isinstance(name, str) and name.strip():
            fields.where += f" {shown(name)}"
        kind = fields.table.get("kind")
        readable = isinstance(kind, str) and kind in KINDS
        fields.read(STAGE_KEYS[str(kind)] if readable else _any_kind())
        self._own_name(fields)
        before, self.place = self.place, UNKNOWN
        if readable:
            self.place = RULES[str(kind)](fields, before)
            follow_rules(fields)
            ceiling_rules(str(kind), fields, before, self.ceiling_c)
        if not fields.problems and self.place.known:
            self.stages.append(BUILD[str(kind)](_common(fields.values, self.ceiling_c), fields.values))
        self.problems += fields.problems

    def _own_name(self, fields: Fields) -> None:
        name = fields.values.get("name")
        if name is None:
            return
        first = self.names.setdefault(name.casefold(), fields)
        if first is not fields:
            line = first.located.line(*first.path, "name")
            fields.complain("name", f'"{name}"', f"a name of its own; line {line} has it already")


def _any_kind() -> list[Key]:
    """Return the keys to read a stage by whose kind is not known: all there are, few that must be."""
    every = {key.name: key for kind in reversed(KINDS) for key in STAGE_KEYS[kind]}
    return [key._replace(must=key.name in ("kind", "name")) for key in every.values()]


def _common(values: dict[str, Any], schedule_ceiling_c: float | None) -> dict[str, Any]:
    """Return what every kind has. A stage without a ceiling has the schedule's, for the guard to hold."""
    return {
        "name": values["name"],
        "ceiling_c": values.get("ceiling", schedule_ceiling_c),
        "extraction": values.get("extraction", False),
        "after_outage": values.get("after_outage"),
    }


def _ramp(common: dict[str, Any], values: dict[str, Any]) -> Ramp:
    return Ramp(
        to_c=values["to"],
        rate_c_per_h=values["rate"],
        wait_within_k=values.get("wait_within"),
        lead_k=values.get("lead"),
        **common,
    )


def _hold(common: dict[str, Any], values: dict[str, Any]) -> Hold:
    at_most_s = values.get("at_most")
    return Hold(
        at_c=values["at"],
        for_s=values["for"],
        band_k=values.get("band", DEFAULT_BAND_K),
        at_most_s=at_most_s,
        expect_s=0.0 if at_most_s is None else values.get("expect", min(DEFAULT_EXPECT_S, at_most_s)),
        says=values.get("says", ""),
        lead_k=values.get("lead"),
        **common,
    )


def _checkpoint(common: dict[str, Any], values: dict[str, Any]) -> Checkpoint:
    after_s = values.get("after")
    expect_s = DEFAULT_EXPECT_S if after_s is None else min(DEFAULT_EXPECT_S, after_s)
    return Checkpoint(
        says=values["says"],
        heat=values["heat"],
        remind_every_s=values.get("remind_every", DEFAULT_REMIND_S),
        after_s=after_s,
        then=values.get("then", Then("keep waiting")),
        expect_s=values.get("expect", expect_s),
        tick=values.get("tick"),
        **common,
    )


def _cool(common: dict[str, Any], values: dict[str, Any]) -> Cool:
    return Cool(to_c=values["to"], rate_c_per_h=values.get("rate"), **common)


BUILD: dict[str, Callable[[dict[str, Any], dict[str, Any]], Stage]] = {
    "ramp": _ramp,
    "hold": _hold,
    "checkpoint": _checkpoint,
    "cool": _cool,
}
