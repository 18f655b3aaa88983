"""The pages that are made from the code's own tables. `make docs` writes them; a test compares them."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from controller.catalogue import EVENTS
from controller.cli import COMMANDS, build_parser
from controller.commissioning.table import KINDS
from controller.firing.states import TABLE, Cue, Go, Refuse, diagram
from controller.guard import ROWS, Limits, Row

ROOT = Path(__file__).parents[2]
BEGIN, END = "<!-- made from the code: begin {} -->", "<!-- made from the code: end {} -->"


def interlocks() -> str:
    """The guard's table, for the person at the kiln."""
    limits = Limits(ceiling_c=float("nan"))
    lines = ["| id | what it watches | reaction | what you are told | what to do | why that number |"]
    lines.append("| --- | --- | --- | --- | --- | --- |")
    for row in ROWS:
        lines.append(
            f"| `{row.id}` | {row.watches} | {_reaction(row, limits)} | {row.says} | {row.do} | {row.why} |"
        )
    return "\n".join(lines) + "\n"


def _reaction(row: Row, limits: Limits) -> str:
    after_s = row.after_s(limits)
    text = f"{row.reaction} after {after_s:g} s" if after_s else row.reaction
    if row.trips_after_s is not None:
        text += f"; trip when it lasts {row.trips_after_s(limits):g} s"
    return text


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
