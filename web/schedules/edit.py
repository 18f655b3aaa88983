"""A table of a schedule, put back into the file it came from: comments, order and spelling stay as they are.

The edit is made in each table's own text (`pieces`), value by value, and what did not change is not
touched. In the end the file is read again and must say exactly what the table says; else nothing is changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

import tomlkit
from tomlkit.exceptions import TOMLKitError

from controller.errors import StokeholdError
from controller.schedule.keys import RECOVERY_KEYS, STAGE_KEYS
from controller.schedule.located import FileProblems, Located, read_toml
from controller.schedule.units import one_line
from web.schedules.pieces import Piece, cut, lines_of

Value = str | bool
Fields = dict[str, Value]


class Row(NamedTuple):
    """One stage: its keys as the file writes them, and its place in the file it came from (None: new)."""

    fields: Fields
    was: int | None


class Sheet(NamedTuple):
    """A schedule as a table of texts: what stands at the top, [recovery], and a row for each stage."""

    top: Fields
    recovery: Fields
    stages: tuple[Row, ...]


class EditError(StokeholdError):
    """The table cannot be put into this file; it can be edited as text."""


def sheet_of(located: Located) -> Sheet:
    """Return a file's table. Raises EditError: its stages are not written as [[stage]] tables."""
    data = located.data
    stages, recovery = data.get("stage", []), data.get("recovery", {})
    _, pieces = cut(located)
    if not isinstance(stages, list) or sum(piece.stage is not None for piece in pieces) != len(stages):
        raise EditError("its stages are not written as [[stage]] tables: edit it as text")
    if not isinstance(recovery, dict):
        raise EditError("its recovery is not written as a [recovery] table: edit it as text")
    rows = tuple(Row(_fields(stage), place) for place, stage in enumerate(stages))
    top = {name: value for name, value in data.items() if not isinstance(value, dict | list)}
    return Sheet(_fields(top), _fields(recovery), rows)


def edited(located: Located, sheet: Sheet) -> str:
    """Return the file's text with the table put into it. Raises EditError: this file does not let it."""
    before = sheet_of(located)
    try:
        text = _put_together(located, before, sheet)
        after = sheet_of(read_toml(text, located.file))
    except (FileProblems, TOMLKitError, LookupError) as error:
        raise EditError(
            f"the table does not fit into this file ({one_line(str(error))}): edit it as text"
        ) from None
    if _said(after) != _said(sheet):
        raise EditError("the table does not fit into this file: edit it as text")
    return text


def _put_together(located: Located, before: Sheet, sheet: Sheet) -> str:
    top, pieces = cut(located)
    others = sum(piece.stage is None for piece in pieces)
    of_recovery = next((place for place, piece in enumerate(pieces) if piece.name == "recovery"), None)
    top = _set(top, (), before.top, sheet.top)
    if of_recovery is not None:
        piece = pieces[of_recovery]
        text = _set(piece.text, ("recovery",), before.recovery, sheet.recovery)
        pieces[of_recovery] = piece._replace(text=text)
    elif "recovery" in located.data:
        top = _set(top, ("recovery",), before.recovery, sheet.recovery)
    elif sheet.recovery:
        pieces.insert(0, Piece(_new("[recovery]", sheet.recovery), "recovery"))
    stages = {piece.stage: piece for piece in pieces if piece.stage is not None}
    rows = [_row(row, before, stages) for row in sheet.stages]
    texts = [top, *(piece.text for piece in _placed(pieces, rows))]
    moved = [row.was for row in sheet.stages] != list(range(len(before.stages)))
    return _spaced(texts) if moved or len(texts) - 1 != len(stages) + others else "".join(texts)


def _row(row: Row, before: Sheet, stages: Mapping[int, Piece]) -> Piece:
    """Return a stage's piece, changed as its row says."""
    if row.was is None:
        return Piece(_new("[[stage]]", row.fields), "stage", -1)
    piece = stages[row.was]
    return piece._replace(text=_set(piece.text, ("stage", 0), before.stages[row.was].fields, row.fields))


def _placed(pieces: Iterable[Piece], rows: list[Piece]) -> list[Piece]:
    """Return all pieces in order: each stage where a stage was, and those beyond behind the last."""
    placed: list[Piece] = []
    left = list(rows)
    last = 0
    for piece in pieces:
        if piece.stage is None:
            placed.append(piece)
        elif left:
            placed.append(left.pop(0))
            last = len(placed)
    last = last or len(placed)
    return placed[:last] + left + placed[last:]


def _spaced(texts: list[str]) -> str:
    """Put pieces together that were not beside each other: a blank line goes between any two."""
    *first, last = [text for text in texts if text]
    spaced = [text if text.endswith(("\n\n", "\n\r\n")) else text.rstrip() + "\n\n" for text in first]
    return "".join([*spaced, last.rstrip() + "\n"])


def _set(text: str, path: tuple[str | int, ...], before: Fields, after: Fields) -> str:
    """Return a piece's text with the table at `path` changed from `before` to `after`."""
    if before == after:
        return text
    body, tail = _tail(text)
    document = tomlkit.parse(body)
    table: Any = document
    for key in path:
        table = table[key]
    for name in before.keys() - after.keys():
        del table[name]
    for name, value in after.items():
        if name not in before or before[name] != value:
            table[name] = value
    return tomlkit.dumps(document).rstrip("\n") + "\n" + tail


def _tail(text: str) -> tuple[str, str]:
    """Cut the blank lines and loose comments off a piece's end, so that new keys come before them."""
    lines = lines_of(text)
    end = len(lines)
    while end and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return "".join(lines[:end]), "".join(lines[end:])


def _new(header: str, fields: Fields) -> str:
    """Return the text of a table that is new, its keys in the order in which they are listed everywhere."""
    order = [key.name for key in STAGE_KEYS.get(str(fields.get("kind")), RECOVERY_KEYS)]
    known = {name: fields[name] for name in order if name in fields}
    return f"{header}\n{tomlkit.dumps(known | fields)}\n"


def _fields(table: Mapping[str, Any]) -> Fields:
    return {name: _shown(value) for name, value in table.items()}


def _shown(value: object) -> Value:
    """Return a value as the table shows it: text as it is, true or false, anything else as text."""
    if isinstance(value, str | bool):
        return value
    return "not a number" if isinstance(value, float) and math.isnan(value) else str(value)


def _said(sheet: Sheet) -> tuple[Fields, Fields, list[Fields]]:
    return sheet.top, sheet.recovery, [row.fields for row in sheet.stages]
