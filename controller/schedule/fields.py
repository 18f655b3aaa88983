"""One table of a schedule file, read by the table of its keys; every mistake is kept, none stops the rest."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any

from controller.schedule.keys import Key
from controller.schedule.located import Located, Problem
from controller.schedule.units import UnitError, one_line


class Fields:
    """A table of the file: `values` holds what could be read, `problems` what could not.

    `where` is the place in words ("stage 2"); `path` leads to the table in the file.
    """

    def __init__(
        self, located: Located, path: tuple[str | int, ...], where: str, table: dict[str, Any]
    ) -> None:
        self.located = located
        self.path = path
        self.where = where
        self.table = table
        self.values: dict[str, Any] = {}
        self.problems: list[Problem] = []

    def read(self, keys: Iterable[Key], also_known: Iterable[str] = ()) -> None:
        """Read the table by `keys`; a key that is neither there nor in `also_known` is a problem."""
        keys = tuple(keys)
        known = [key.name for key in keys] + [*also_known]
        for name in self.table:
            if name not in known:
                self.complain(name, "a key that is not known here", _suggestion(name, known))
        for key in keys:
            self._read_one(key)

    def _read_one(self, key: Key) -> None:
        if key.name not in self.table:
            if key.must:
                self.complain(key.name, "nothing", f"{key.name} = {key.example} ({key.meaning})")
            return
        try:
            self.values[key.name] = key.read(self.table[key.name])
        except UnitError as error:
            self.complain(key.name, error.found, error.expected, error.index)

    def complain(self, name: str, found: str, expected: str, index: int | None = None) -> None:
        """Keep a problem with the key `name` of this table, or with one item of the list that it is."""
        place = f"{self.where}, {one_line(name)}" if self.where else one_line(name)
        path = (*self.path, name) if index is None else (*self.path, name, index)
        line = self.located.line(*path)
        self.problems.append(Problem(self.located.file, line, place, found, expected, path))


def _suggestion(name: str, known: list[str]) -> str:
    near = get_close_matches(name, known, n=1)
    listed = ", ".join(dict.fromkeys(known))
    return f"{near[0]} (or one of: {listed})" if near else f"one of: {listed}"
