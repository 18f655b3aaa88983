"""What the firing's job sheet says of the metal: how long it takes to melt."""

from __future__ import annotations

from pathlib import Path

from controller.errors import StokeholdError


def melting_s(record: Path, firing: int) -> float | None:
    """Return the time from lighting to ready metal, s; None where no sheet says it or none can be read."""
    from controller.forecast.job_file import read_job
    from controller.record.jobs import job_of

    try:
        sheet = job_of(record, firing)
        return read_job(sheet.text, "job sheet").melt_s if sheet is not None else None
    except StokeholdError:
        return None
