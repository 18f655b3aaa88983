"""Reads what people saw. Beside `queries.py`, and as read-only."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from controller.record.opening import PATIENCE_S, connect, one_clear_line
from controller.record.rows import ObservationSeen, PhotoSeen

OBSERVATIONS = "SELECT id, utc_s, by, stage, kind, fields FROM observation WHERE firing = ? ORDER BY id"
# What is ticked is most of what is kept, and says nothing over many firings.
OF_ALL = "SELECT firing, id, utc_s, by, stage, kind, fields FROM observation WHERE kind != 'tick' ORDER BY id"
PHOTOS = (
    'SELECT id, utc_s, by, stage, "of", caption, width_px, height_px FROM photo WHERE firing = ? ORDER BY id'
)
COUNT = "SELECT count(*), coalesce(sum(length(image)), 0) FROM photo WHERE firing = ?"
IMAGE = "SELECT media_type, image FROM photo WHERE id = ?"


def observations(path: Path, firing: int) -> list[ObservationSeen]:
    """Return what people saw in a firing, in the order in which they said it."""
    return _seen(_all(path, OBSERVATIONS, firing))


def observations_of_all(path: Path) -> dict[int, list[ObservationSeen]]:
    """Return what people saw in every firing, by firing, but for what they ticked."""
    found: dict[int, list[ObservationSeen]] = {}
    rows = _all(path, OF_ALL)
    for (firing, *_), seen in zip(rows, _seen([row[1:] for row in rows]), strict=True):
        found.setdefault(firing, []).append(seen)
    return found


def photos(path: Path, firing: int) -> list[PhotoSeen]:
    """Return a firing's photographs, without the pictures themselves."""
    return [PhotoSeen(*row) for row in _all(path, PHOTOS, firing)]


def photos_size(path: Path, firing: int) -> tuple[int, int]:
    """Return how many photographs a firing has, and how many bytes they are."""
    ((count, size),) = _all(path, COUNT, firing)
    return int(count), int(size)


def image(path: Path, photo: int) -> tuple[str, bytes] | None:
    """Return a photograph's media type and bytes; None when there is none of this number."""
    found = _all(path, IMAGE, photo)
    return (str(found[0][0]), bytes(found[0][1])) if found else None


def _all(path: Path, wanted: str, *values: object) -> list[tuple[Any, ...]]:
    with one_clear_line(path), closing(connect(path, "ro", PATIENCE_S)) as connection:
        return connection.execute(wanted, values).fetchall()


def _seen(rows: Sequence[tuple[Any, ...]]) -> list[ObservationSeen]:
    """Return rows as observations. All their JSON is read as one text: in half the time for ten years."""
    every = json.loads(f"[{','.join(row[-1] for row in rows)}]")
    return [
        ObservationSeen(number, utc_s, by, stage, kind, fields)
        for (number, utc_s, by, stage, kind, _), fields in zip(rows, every, strict=True)
    ]
