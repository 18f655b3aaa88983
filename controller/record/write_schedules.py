"""Keeps what a person did with a schedule of the library: an event, in one piece with the deed itself.

The files are the page's; the record only says who changed which of them, and when. Firings need none of it:
each carries its schedule's text.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from controller.record.beside import write_event, writing

Deed = Literal["schedule_saved", "schedule_renamed", "schedule_deleted"]


@contextmanager
def schedule_noted(record: Path, deed: Deed, fields: dict[str, str], utc_s: float) -> Iterator[None]:
    """Do the deed in the block: it is noted if it was done, and not done if it cannot be noted.

    Raises RecordError before the block: locked for longer than the patience, full, not to be written.
    """
    with writing(record) as connection:
        write_event(connection, deed, fields, utc_s)
        yield
