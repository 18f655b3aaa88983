"""A TOML file with the line of each of its keys, and the problems that a person is told about it.

Every configuration and every schedule is read through here, so that each mistake can name its line.
The values are tomllib's; `positions` finds the lines. All problems of a file are told at once.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from controller.errors import StokeholdError, UsageError
from controller.schedule.positions import find_positions
from controller.schedule.units import one_line

LARGEST_BYTES = 1 << 20  # 1 MiB; the longest sensible schedule is some 20 kB
# Each part of a dotted key costs tomllib a copy of all before it: 58 kB of "a.a.a" take 3 GB and half a
# minute. No key of ours has more than five parts. (Possessive, quoted parts short: the search is linear.)
_PART = r"""(?:[A-Za-z0-9_-]++|"(?:\\.|[^"\\\n]){0,200}+"|'[^'\n]{0,200}+')[ \t]*+\.[ \t]*+"""
_TOO_DEEP = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_PART}){{32}}")


class Problem(NamedTuple):
    """One mistake in a file: the line (from 1), the place in words, what was found, what was expected.

    `path` leads to the key through tables by key and through arrays by index, where it is about one.
    """

    file: str
    line: int
    where: str
    found: str
    expected: str
    path: tuple[str | int, ...] = ()

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.where}: found {self.found}, expected {self.expected}"


class FileProblems(StokeholdError):  # noqa: N818 -- it is more than one error
    """A file has mistakes. `problems` holds all of them, in the order of their lines."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        super().__init__("\n".join(str(problem) for problem in self.problems))


@dataclass(frozen=True, slots=True)
class Located:
    """A TOML file: its values as plain Python in `data`, and the lines they stand on."""

    data: dict[str, Any]
    file: str
    text: str
    positions: dict[tuple[str | int, ...], int]

    def line(self, *path: str | int) -> int:
        """Return the line (from 1) of a key or table, or of its nearest parent that is in the file.

        A path goes through tables by key and through arrays by index from 0: `line("stage", 2, "rate")`.
        """
        for length in range(len(path), 0, -1):
            if path[:length] in self.positions:
                return self.positions[path[:length]]
        return 1


def read_toml(text: str, file: str) -> Located:
    """Return a TOML text with its lines; `file` is its name in messages. Raises FileProblems on bad TOML."""
    if deep := _TOO_DEEP.search(text):
        line = text.count("\n", 0, deep.start()) + 1
        raise FileProblems([Problem(file, line, "file", "a key nested too deep", "TOML")])
    try:
        return Located(tomllib.loads(text), file, text, find_positions(text))
    except RecursionError:
        raise FileProblems([Problem(file, 1, "file", "brackets nested too deep", "TOML")]) from None
    except ValueError as error:  # TOMLDecodeError, or Python's own refusal of a number of 5000 digits
        raise FileProblems([_syntax(text, file, str(error))]) from None


def load_toml(path: Path) -> Located:
    """Return a TOML file with its lines. Raises UsageError if unreadable, FileProblems if not good TOML."""
    try:
        with path.open("rb") as handle:
            raw = handle.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise UsageError(f"{path}: cannot be read: {error.strerror}") from None
    return read_toml(decode(raw, str(path)), str(path))


def decode(raw: bytes, file: str) -> str:
    """Return a file's bytes as text, without a byte order mark. Raises FileProblems: too large, not UTF-8."""
    if len(raw) > LARGEST_BYTES:
        raise FileProblems([Problem(file, 1, "file", "more than 1 MiB", "a file of at most 1 MiB")])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"the byte 0x{raw[error.start]:02x}"
        raise FileProblems([Problem(file, line, "file", found, "text in UTF-8")]) from None


def _syntax(text: str, file: str, message: str) -> Problem:
    """Return tomllib's complaint as a problem. Its message ends in "(at line 3, column 5)" or the like."""
    place = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    lines = text.split("\n")
    line = int(place[1]) if place and place[1] else max(1, len(text.rstrip().split("\n")))
    reason = (message[: place.start()] if place else message).split("; ")[0]
    found = one_line(lines[line - 1]) or "an empty line"
    return Problem(file, line, "not TOML", found, f'TOML such as key = "value" ({reason})')
