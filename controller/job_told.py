"""The job sheet that comes with a start: read before anything begins, and kept with the firing.

The controller reads it itself, whoever sent it: a sheet that nobody can read would be kept for good, and the
command line and the page are not the only ones that can send. It costs milliseconds, in the thread that takes
requests and not in the tick's, and reading it imports neither numbers nor models (a test holds that). What it
says is not looked at here: nothing of a job sheet reaches the guard or the heat.
"""

from __future__ import annotations

from typing import Any

from controller.errors import StokeholdError
from controller.forecast.job_file import read_job
from controller.record.jobs import LONGEST_JOB


def told_job(message: dict[str, Any]) -> str:
    """Return the text of a start's job sheet; empty where it carries none.

    Raises StokeholdError: no text, too long, or with all its mistakes, each with its line.
    """
    text = message.get("job")
    if text is None:
        return ""
    if not isinstance(text, str) or len(text) > LONGEST_JOB:
        raise StokeholdError(f"job: expected a job sheet's text of at most {LONGEST_JOB} characters")
    if not text.strip():
        return ""
    read_job(text, "job sheet")
    return text
