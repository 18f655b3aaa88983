"""A kiln's file while it is read: tables become the dataclasses of `model.py`, mistakes become problems.

Nothing stops at the first mistake: a table with one is left out of the draft, and the checks that need
it are left out with it, so that every problem told is a real one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import MISSING, fields, is_dataclass
from difflib import get_close_matches
from types import NoneType
from typing import Any, NamedTuple, TypeVar, get_args, get_type_hints

from controller.config.kinds import Kind
from controller.schedule.located import FileProblems, Located, Problem
from controller.schedule.units import UnitError, shown
from controller.wire.thermocouple import CalibrationError

T = TypeVar("T")
Path = tuple[str | int, ...]


class Key(NamedTuple):
    """A key of a table: the field it fills, and how it is read (a kind, or a table of its own)."""

    field: str
    kind: Kind | type[Any]
    required: bool


class Draft:
    """The problems found so far in one file, and the means to read its tables."""

    def __init__(self, located: Located) -> None:
        self._located = located
        self._problems: list[Problem] = []

    def problem(self, path: Path, found: str, expected: str) -> None:
        """Note one mistake at a key or table."""
        where = ".".join(map(str, path))
        self._problems.append(Problem(self._located.file, self._located.line(*path), where, found, expected))

    def raise_problems(self) -> None:
        """Raise FileProblems if there was any mistake."""
        if self._problems:
            raise FileProblems(self._problems)

    def known_keys(self, table: Mapping[str, object], known: Collection[str], path: Path = ()) -> None:
        """Note every key that is not among the known ones, with the nearest that is."""
        for key in table:
            if key not in known:
                near = get_close_matches(key, known, n=1)
                expected = f'"{near[0]}"' if near else f"one of: {', '.join(known)}"
                self.problem((*path, key), f"the unknown key {shown(key)}", expected)

    def section(self, cls: type[T], raw: object, path: Path, **given: object) -> T | None:
        """Return a table as a dataclass, None when it has a mistake. `given`: fields not in it."""
        if not isinstance(raw, dict):
            self.problem(path, shown(raw), f"a table, [{'.'.join(map(str, path))}]")
            return None
        before = len(self._problems)
        keys = keys_of(cls)
        self.known_keys(raw, keys, path)
        values = {
            key.field: self._value(key, raw[name], (*path, name)) for name, key in keys.items() if name in raw
        }
        self._missing(keys, raw, path)
        return cls(**given, **values) if len(self._problems) == before else None

    def scalars(self, cls: type[Any], raw: Mapping[str, object]) -> dict[str, Any]:
        """Return the fields of `cls` that stand at the top of the file, without those that have a mistake."""
        keys = {name: key for name, key in keys_of(cls).items() if isinstance(key.kind, Kind)}
        own = {key.field for key in keys.values()}
        values = {f.name: f.default for f in fields(cls) if f.name in own and f.default is not MISSING}
        self._missing(keys, raw, ())
        for name in keys.keys() & raw.keys():
            values[keys[name].field] = self._value(keys[name], raw[name], (name,))
        return {name: value for name, value in values.items() if value is not _WRONG}

    def named(
        self, key: str, raw: object, names: Collection[str] | None = None
    ) -> Iterator[tuple[str, object, Path]]:
        """Yield the tables `[key.NAME]` as (name, table, path); `names` None allows any name."""
        if not isinstance(raw, dict):
            self.problem((key,), shown(raw), f"tables [{key}.NAME]")
            return
        if names is not None:
            self.known_keys(raw, names, (key,))
        for name, table in raw.items():
            if names is None or name in names:
                yield name, table, (key, name)

    def _value(self, key: Key, raw: object, path: Path) -> object:
        """Return a value in the house's unit; `_WRONG`, with the problem noted, when it is not good."""
        if not isinstance(key.kind, Kind):
            made = self.section(key.kind, raw, path)
            return _WRONG if made is None else made
        try:
            return key.kind.parse(raw)
        except UnitError as error:
            self.problem(path, error.found, error.expected)
        except CalibrationError as error:
            for mistake in error.mistakes:
                self.problem((*path, *mistake.path), mistake.found, mistake.expected)
        return _WRONG

    def _missing(self, keys: Mapping[str, Key], raw: Mapping[str, object], path: Path) -> None:
        for name, key in keys.items():
            if key.required and name not in raw and isinstance(key.kind, Kind):
                self.problem((*path, name), "no such key", _expected(key.kind))


_WRONG: Any = object()


def keys_of(cls: type[Any]) -> dict[str, Key]:
    """Return the keys that a table of this dataclass may have, in the order of its fields."""
    hints = get_type_hints(cls, include_extras=True)
    found: dict[str, Key] = {}
    for f in fields(cls):
        for part in (*getattr(hints[f.name], "__metadata__", ()), *get_args(hints[f.name])):
            if isinstance(part, Kind):
                found[f.name.removesuffix(part.suffix)] = Key(f.name, part, f.default is MISSING)
            elif isinstance(part, type) and is_dataclass(part) and NoneType in get_args(hints[f.name]):
                found[f.name] = Key(f.name, part, required=False)
    return found


def _expected(kind: Kind) -> str:
    """Return in words what a key that is missing should hold: what its kind says of nothing."""
    try:
        kind.parse(None)
    except UnitError as error:
        return error.expected
    return "a value"
