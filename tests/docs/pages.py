"""The pages that are made from the code's own tables. `make docs` writes them; a test compares them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from math import isnan
from pathlib import Path

from controller.catalogue import EVENTS
from controller.cli import COMMANDS, build_parser
from controller.commissioning.table import KINDS
from controller.firing.states import TABLE, Cue, Go, Refuse, diagram
from controller.guard import ROWS, Limits, Row
from tests.faults.cases import faults_of
from tests.guard.scenes import SCENES

ROOT = Path(__file__).parents[2]
BEGIN, END = "<!-- made from the code: begin {} -->", "<!-- made from the code: end {} -->"


def interlocks() -> str:
    """The guard's table, for the person at the kiln."""
    limits = Limits(ceiling_c=float("nan"))
    heads = ("id", "what it watches", "limit", "for how long", "reaction", "latches", "how it clears")
    heads += ("what you are told", "what to do", "why that number")
    lines = ["| " + " | ".join(heads) + " |", "| --- |" + " --- |" * (len(heads) - 1)]
    for row in ROWS:
        cells = (
            f"`{row.id}`",
            row.watches,
            ", ".join(_number(name, limits) for name in row.limits) or "none: yes or no",
            _persistence(row, limits),
            _reaction(row),
            "yes" if row.reaction == "trip" else "when it trips" if row.latches else "no",
            row.clears,
            row.says,
            row.do,
            row.why,
        )
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _number(name: str, limits: Limits) -> str:
    """One of the guard's numbers with its unit, and the name by which a kiln's file may change it."""
    value = float(getattr(limits, name))
    for ending, unit in (("_k_per_min", "K/min"), ("_c", "C"), ("_k", "K"), ("_s", "s")):
        if name.endswith(ending):
            return f"`{name}`" if isnan(value) else f"{value:g} {unit} (`{name}`)"
    raise ValueError(f"{name}: no unit in its name")


def _persistence(row: Row, limits: Limits) -> str:
    return f"{row.after_s(limits):g} s (`{row.after}`)" if row.after else "at once"


def _reaction(row: Row) -> str:
    limits = Limits(ceiling_c=float("nan"))
    reaction = f"**{row.reaction}**" + (", main contactor open" if row.opens_main else "")
    if row.reaction == "trip" or not row.trips_after:
        return reaction
    return f"{reaction}; **trip** when it lasts {row.trips_after_s(limits):g} s (`{row.trips_after}`)"


def row_tests() -> str:
    """For every row of the guard, what sets it off in the tests, and how it is tested at its boundary."""
    lines = ["| row | faults that set it off | scenes of the contract suite |", "| --- | --- | --- |"]
    for row in ROWS:
        sets_off = ", ".join(
            " with ".join(f"`{one}`" for one in names.split()) for names in faults_of(row.id)
        )
        scenes = "; ".join(scene.what for scene in SCENES if scene.row_id == row.id)
        lines.append(f"| `{row.id}` | {sets_off} | {scenes} |")
    return "\n".join(lines) + "\n"


def events() -> str:
    """The event catalogue."""
    lines = ["| kind | severity | in words |", "| --- | --- | --- |"]
    lines += [f"| `{kind.id}` | {kind.severity} | {kind.message} |" for kind in EVENTS.values()]
    return "\n".join(lines) + "\n"


def states() -> str:
    """The state diagram, and the table with its refusals."""
    lines = ["```mermaid", diagram().rstrip(), "```", ""]
    lines.append("| in state | " + " | ".join(cue.value for cue in Cue) + " |")
    lines.append("| --- |" + " --- |" * len(Cue))
    for state, row in TABLE.items():
        cells = []
        for cue in Cue:
            what = row[cue]
            cells.append(
                what.to.value if isinstance(what, Go) else "refused" if isinstance(what, Refuse) else "·"
            )
        lines.append(f"| {state.value} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def commands() -> str:
    """Every command of the command line, in a line."""
    parser = build_parser()
    actions = [a for a in parser._actions if isinstance(a, argparse._SubParsersAction)]
    helps = {choice.dest: choice.help for choice in actions[0]._choices_actions}
    lines = ["| command | what it does |", "| --- | --- |"]
    lines += [f"| `stokehold {name}` | {helps[name]} |" for name in COMMANDS]
    return "\n".join(lines) + "\n"


def bring_up() -> str:
    """The steps of bring-up."""
    lines = ["| step | what you do | what is expected | why | rests on |", "| --- | --- | --- | --- | --- |"]
    for kind in KINDS:
        parts = ", ".join(kind.parts)
        lines.append(f"| `{kind.id}`: {kind.title} | {kind.do} | {kind.expect} | {kind.why} | {parts} |")
    return "\n".join(lines) + "\n"


# file, name of the part, what makes it
PARTS: tuple[tuple[str, str, Callable[[], str]], ...] = (
    ("DEVELOPERS.md", "states", states),
    ("DEVELOPERS.md", "events", events),
    ("hardware_notes/interlocks.md", "interlocks", interlocks),
    ("hardware_notes/commissioning.md", "steps", bring_up),
    ("tests/guard/README.md", "rows", row_tests),
    ("README.md", "commands", commands),
)


def part_of(text: str, name: str) -> tuple[int, int]:
    """Return where a part stands in a page. Raises ValueError when it has no marks."""
    begin, end = BEGIN.format(name), END.format(name)
    return text.index(begin) + len(begin) + 1, text.index(end)


def write() -> None:
    """Bring every page up to date."""
    for file, name, make in PARTS:
        path = ROOT / file
        text = path.read_text(encoding="utf-8")
        start, stop = part_of(text, name)
        path.write_text(text[:start] + make() + text[stop:], encoding="utf-8")
