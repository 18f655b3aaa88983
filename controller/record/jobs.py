"""The job sheets that a firing carries: written beside the journal, and read. The newest counts.

A sheet is never changed: what was learnt since (the plastic that was drained and weighed, say) is a newer
one. So the record still says what was believed at the start. The text is kept as it is; what it says is for
`controller.forecast.job_file`, and whoever writes one has it read there first.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from controller.errors import UsageError
from controller.record import tables
from controller.record.opening import one_clear_line, open_to_read, open_to_write
from controller.record.queries import Record

LONGEST_JOB = 20_000
"""Characters: a hundred times an ordinary sheet, and little enough for a request."""


@dataclass(frozen=True, slots=True)
class JobSeen:
    """A job sheet as the record has it. `by`: who wrote it."""

    id: int
    utc_s: float
    by: str
    text: str


def write_job(path: Path, firing: int, by: str, text: str, utc_s: float) -> None:
    """Write a newer job sheet of a firing, that runs or has ended, through a short connection of its own.

    Raises UsageError: empty or too long. Raises RecordError: no such record or firing, locked for longer
    than the patience, full.
    """
    if not text.strip() or len(text) > LONGEST_JOB:
        raise UsageError(f"job sheet: found {len(text)} characters, expected 1 to {LONGEST_JOB}")
    Record(path).firing(firing)  # says in one line when the file or the firing is missing
    engine = open_to_write(path, wait_s=4.0)
    row = {"firing": firing, "utc_s": utc_s, "by": by, "text": text}
    try:
        with one_clear_line(path), engine.begin() as connection:
            connection.execute(sa.insert(tables.job).values(row))
    finally:
        engine.dispose()


def jobs_of(path: Path, firing: int) -> list[JobSeen]:
    """Return every job sheet of a firing, the oldest first. Raises RecordError."""
    columns = tables.job.c
    wanted = sa.select(columns.id, columns.utc_s, columns.by, columns.text)
    wanted = wanted.where(columns.firing == firing).order_by(columns.id)
    engine = open_to_read(path)
    with one_clear_line(path), engine.connect() as connection:
        return [JobSeen(row.id, row.utc_s, row.by, row.text) for row in connection.execute(wanted)]


def job_of(path: Path, firing: int) -> JobSeen | None:
    """Return the job sheet of a firing that counts, the newest; None where it carries none."""
    sheets = jobs_of(path, firing)
    return sheets[-1] if sheets else None
