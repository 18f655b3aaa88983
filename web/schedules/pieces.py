"""A schedule's text cut into its tables, so that a stage moves with the comments above it.

A piece begins with the comment right above a table's header and ends where the next one begins. What is
above the first is the top. Put together again, the pieces are the text, to the last character.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from controller.schedule.located import Located


class Piece(NamedTuple):
    """A table's text. `stage` is its place in the array of stages; None: it is no stage."""

    text: str
    name: str
    stage: int | None = None


def cut(located: Located) -> tuple[str, list[Piece]]:
    """Return what is above the first table, and a piece for each table."""
    lines = lines_of(located.text)
    heads = sorted(_heads(located, lines))
    begins = [_above(lines, line) for line, _, _ in heads]
    ends = [*begins[1:], len(lines)][: len(begins)]
    pieces = [
        Piece("".join(lines[begin:end]), name, stage)
        for begin, end, (_, name, stage) in zip(begins, ends, heads, strict=True)
    ]
    return "".join(lines[: begins[0] if begins else len(lines)]), pieces


def lines_of(text: str) -> list[str]:
    """Return a text's lines as TOML counts them, each with its end."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)


def _heads(located: Located, lines: list[str]) -> Iterator[tuple[int, str, int | None]]:
    """Yield the line (from 0), the name and the place of every header of a table at the top of the file."""
    for name, value in located.data.items():
        places = range(len(value)) if isinstance(value, list) else ()
        found = [(place, located.line(name, place) - 1) for place in places if isinstance(value[place], dict)]
        if found and all(_is_header(lines[line], "[[") for _, line in found):
            yield from ((line, name, place if name == "stage" else None) for place, line in found)
        elif isinstance(value, dict) and _is_header(lines[located.line(name) - 1], "["):
            yield located.line(name) - 1, name, None


def _is_header(line: str, bracket: str) -> bool:
    return line.lstrip().startswith(bracket)


def _above(lines: list[str], line: int) -> int:
    """Return where the comment that stands right above a line begins; the line itself where there is none."""
    while line > 0 and lines[line - 1].lstrip().startswith("#"):
        line -= 1
    return line
