"""The answer for a firing that does not exist."""

from __future__ import annotations

from pathlib import Path

from fastapi.responses import JSONResponse

from controller.errors import RecordError
from controller.record.queries import Record
from web.answers import says


def missing(record: Path, number: int) -> JSONResponse | None:
    """Return the answer when there is no such firing. Raises RecordError: the record cannot be read."""
    if not record.exists():
        return says(404, f"there is no firing {number}: there is no record yet")
    try:
        Record(record).firing(number)
    except RecordError as error:
        if "found no firing" not in str(error):
            raise
        return says(404, f"there is no firing {number}")
    return None
