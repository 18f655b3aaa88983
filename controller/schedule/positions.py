"""The line of every key in a TOML text. Reads only text that tomllib has already found to be good.

Theory of operation: because the text is known to be good TOML, this scanner needs no error paths. It
walks statements (`[table]`, `[[array of tables]]`, `key = value`) and, inside values, only what can
hold a key or hide a bracket: strings, arrays, inline tables and comments. The first line on which a
key or table is named is its line; an array's items are numbered from 0.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]*")
_BETWEEN_ITEMS = re.compile(r"(?:[ \t\r\n,]|#[^\n]*)*")
# Longest first. A multi-line string may end in two quotes of its own: the last three of a row close it.
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"""(?!")', re.DOTALL),
    re.compile(r"'''.*?'''(?!')", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\])*"'),
    re.compile(r"'[^']*'"),
)


def find_positions(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every key, table and array item of a good TOML text."""
    scan = _Scan(text)
    scan.document()
    return scan.lines


class _Scan:
    """A place in the text, and the lines found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.last_item: dict[Path, int] = {}  # the index of the newest [[table]] of each array
        self.starts = [0, *(match.end() for match in re.finditer("\n", text))]

    def document(self) -> None:
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)

    def header(self) -> Path:
        """Read `[a.b]` or `[[a.b]]`; return the path that the keys below it belong to."""
        line = self.line()
        brackets = 2 if self.text.startswith("[[", self.at) else 1
        self.at += brackets
        keys = self.dotted_key()
        self.at += brackets
        parent = self.resolve(keys[:-1])
        path = (*parent, keys[-1])
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)
        if brackets == 2:
            self.last_item[path] = self.last_item.get(path, -1) + 1
            path = (*path, self.last_item[path])
            self.lines[path] = line
        return path

    def resolve(self, keys: tuple[str, ...]) -> Path:
        """Return the path of a header's keys: a key that names an array of tables means its newest."""
        path: Path = ()
        for key in keys:
            path = (*path, key)
            if path in self.last_item:
                path = (*path, self.last_item[path])
        return path

    def pair(self, table: Path) -> None:
        """Read `a.b = value` inside a table."""
        line = self.line()
        keys = self.dotted_key()
        self.at += 1  # the equals sign
        for length in range(1, len(keys) + 1):
            self.lines.setdefault((*table, *keys[:length]), line)
        self.skip(_SPACE)
        self.value((*table, *keys))

    def dotted_key(self) -> tuple[str, ...]:
        """Read `a . "b c" . d`, and stop at what follows it."""
        keys = []
        while True:
            self.skip(_SPACE)
            keys.append(self.key())
            self.skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return tuple(keys)
            self.at += 1

    def key(self) -> str:
        if self.text[self.at] not in "\"'":
            return self.skip(_BARE_KEY)
        return str(tomllib.loads(f"key = {self.string()}")["key"])

    def string(self) -> str:
        return next(found for pattern in _STRINGS if (found := self.skip(pattern)))

    def value(self, path: Path) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.items(path)
        elif first == "{":
            self.inline_table(path)
        else:
            self.skip(_PLAIN_VALUE)

    def items(self, path: Path) -> None:
        """Read `[value, value, ...]`, over as many lines as it takes."""
        self.at += 1
        index = 0
        while self.another("]"):
            self.lines[(*path, index)] = self.line()
            self.value((*path, index))
            index += 1

    def inline_table(self, path: Path) -> None:
        """Read `{ key = value, ... }`."""
        self.at += 1
        while self.another("}"):
            self.pair(path)

    def another(self, end: str) -> bool:
        """Tell whether an item follows, past commas, blanks and comments; if not, step over the end."""
        self.skip(_BETWEEN_ITEMS)
        if self.text[self.at] != end:
            return True
        self.at += 1
        return False

    def skip(self, pattern: re.Pattern[str]) -> str:
        """Step over what matches here; return it (empty if nothing does)."""
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match[0]

    def line(self) -> int:
        return bisect_right(self.starts, self.at)
