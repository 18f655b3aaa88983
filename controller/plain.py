"""Named tuples and frozen dataclasses as plain JSON values, and back by their own type hints.

For what the record keeps of the tick's inner state: nobody reads it but the program. Infinities are kept.
"""

from __future__ import annotations

import types
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any, Union, get_args, get_origin, get_type_hints


def to_plain(value: Any) -> Any:
    """Return a value as lists, numbers, text and None: fields in their order, without their names."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [to_plain(one) for one in value]
    if is_dataclass(value):
        return [to_plain(getattr(value, one.name)) for one in fields(value)]
    return value


def from_plain(kind: Any, plain: Any) -> Any:
    """Return what `to_plain` was given, of type `kind`. Raises TypeError or ValueError."""
    if get_origin(kind) in (Union, types.UnionType):
        if plain is None:
            return None
        (kind,) = (one for one in get_args(kind) if one is not type(None))
        return from_plain(kind, plain)
    if get_origin(kind) is tuple:
        return _tuple(get_args(kind), plain)
    if isinstance(kind, type) and (issubclass(kind, tuple) or is_dataclass(kind)):
        hints = get_type_hints(kind)
        if len(hints) != len(plain):
            raise ValueError(f"{kind.__name__}: found {len(plain)} fields, expected {len(hints)}")
        return kind(*(from_plain(hint, one) for hint, one in zip(hints.values(), plain, strict=True)))
    return kind(plain) if isinstance(kind, type) and issubclass(kind, Enum) else plain


def _tuple(kinds: tuple[Any, ...], plain: list[Any]) -> tuple[Any, ...]:
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(from_plain(kinds[0], one) for one in plain)
    return tuple(from_plain(kind, one) for kind, one in zip(kinds, plain, strict=True))
