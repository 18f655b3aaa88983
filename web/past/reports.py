"""The report of a firing as files, drawn once and kept in the home folder; and its ticks as a stream of text.

Drawing takes about two seconds and is not for two threads at once: it is done in a worker, one at a time,
and what it draws is kept for as long as nothing of the firing changes (a note, a newer job sheet, what
people saw, an end).
"""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Literal

from controller.errors import StokeholdError
from controller.record.jobs import jobs_of
from controller.record.observed import observations, photos_size
from controller.record.queries import Record
from controller.record.rows import Firing

FOLDER = "reports"
CHUNK_BYTES = 64 * 1024
drawing = threading.Lock()

Kind = Literal["pdf", "png"]


def report(record: Path, number: int, kind: Kind) -> bytes:
    """Return the report, from the folder or drawn now. Raises RecordError, UsageError."""
    past = Record(record)
    firing = past.firing(number)
    with drawing:
        if firing.end_state is None:  # it goes on: tomorrow's report is another one
            with tempfile.TemporaryDirectory() as folder:
                return _drawn(past, number, Path(folder), kind)
        folder_kept = record.parent / FOLDER / _name(firing, _told(record, number))
        file = folder_kept / f"report-{number}.{kind}"
        if file.exists():
            return file.read_bytes()
        for older in folder_kept.parent.glob(f"{number}-*"):
            shutil.rmtree(older, ignore_errors=True)
        return _drawn(past, number, folder_kept, kind)


def _drawn(past: Record, number: int, folder: Path, kind: Kind) -> bytes:
    from controller.review.report import (
        write_report,
    )  # matplotlib: a second, which only a report need wait for

    written = write_report(past, number, folder)
    return (written.pdf if kind == "pdf" else written.png).read_bytes()


def _name(firing: Firing, told: int) -> str:
    """Return a folder's name that is another one as soon as the report would be another one."""
    return f"{firing.id}-{firing.start.started_utc_s:.0f}-{firing.ended_utc_s or 0:.0f}-{told}"


def _told(record: Path, number: int) -> int:
    """Return how often anybody told anything of a firing. What was told is only ever added to."""
    rows = len(observations(record, number)) + photos_size(record, number)[0]
    return len(Record(record).notes(number)) + rows + len(jobs_of(record, number))


def ticks_as_text(record: Path, number: int) -> Iterator[bytes]:
    """Yield a firing's ticks as comma-separated values, as they are read.

    Raises OSError when the reading fails halfway: half a file must not look like a whole one.
    """
    reading, writing = os.pipe()
    failed: list[str] = []
    exporting = threading.Thread(target=_export, args=(record, number, writing, failed), daemon=True)
    exporting.start()
    with os.fdopen(reading, "rb") as text:
        while chunk := text.read(CHUNK_BYTES):
            yield chunk
    exporting.join()  # the pipe is closed before it is said why
    if failed:
        raise OSError(failed[0])


def _export(record: Path, number: int, writing: int, failed: list[str]) -> None:
    from controller.record.export import export

    try:
        with os.fdopen(writing, "w", encoding="utf-8", newline="") as out:
            export(Record(record), number, out)
    except BrokenPipeError:
        pass  # nobody reads any more
    except (StokeholdError, OSError) as error:
        failed.append(str(error))
