"""What the firing that a kiln was fitted to told of its load, kept beside the model.

A fitted kiln knows a load only with the shell's mass, which the job sheet of that firing tells. Working it
out takes seconds, so it is kept in the home folder, under the numbers that it was worked out from: another
fit or a newer job sheet has another place. Runs beside the controller, never in it.
"""

from __future__ import annotations

import hashlib
import json
import math
from contextlib import suppress
from pathlib import Path

from controller.errors import StokeholdError
from controller.forecast.forecast import job_for
from controller.forecast.job_file import read_job
from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import Known, known
from controller.forecast.load_fit import Factors, load_factors, with_factors
from controller.forecast.models import HISTORY_NAME, FittedKiln
from controller.forecast.past import seen_of
from controller.home import RECORD_NAME
from controller.record.jobs import JobSeen, job_of
from controller.record.queries import Record
from controller.record.schedules import schedule_of

NOT_WEIGHED = "its job sheet does not tell how heavy the shell was, so of another load little is known"


def with_last_load(kiln: KilnKnown, fitted: FittedKiln, home: Path) -> KilnKnown:
    """Return a fitted kiln with what its firing told of its load; as it was where that is too little."""
    path = home / RECORD_NAME
    try:
        sheet = job_of(path, fitted.firing)
        job = None if sheet is None else _job(path, fitted.firing, sheet)
        if sheet is None or job is None or job.dry_kg is None:
            return kiln._replace(says=f"{kiln.says}; {NOT_WEIGHED}")
        factors = _learnt(kiln, fitted, sheet, job, home)
    except StokeholdError:  # the record is gone, or of another version: the fitted kiln stands by itself
        return kiln
    return kiln if factors is None else with_factors(kiln, job, factors)


def _job(path: Path, firing: int, sheet: JobSeen) -> Known | None:
    schedule = schedule_of(Record(path).firing(firing))
    return None if schedule is None else known(job_for(schedule, read_job(sheet.text, "job sheet")))


def _learnt(kiln: KilnKnown, fitted: FittedKiln, sheet: JobSeen, job: Known, home: Path) -> Factors | None:
    """Return what was kept, or work it out and keep it."""
    kept = home / HISTORY_NAME / f"firing-{fitted.firing}-load-{_key(fitted, sheet)}.json"
    with suppress(OSError, ValueError, TypeError):
        factors = Factors(**json.loads(kept.read_text()))
        if _believable(factors):
            return factors
    found = load_factors(kiln, job, seen_of(Record(home / RECORD_NAME).ticks(fitted.firing)))
    if found is not None:
        with suppress(OSError):  # it is worked out again next time
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_text(json.dumps(found._asdict()) + "\n")
    return found


def _believable(factors: Factors) -> bool:
    return all(math.isfinite(value) for value in factors) and min(factors._replace(sees=1.0)) > 0.0


def _key(fitted: FittedKiln, sheet: JobSeen) -> str:
    numbers = json.dumps([fitted.kiln._asdict(), sheet.text], sort_keys=True)
    return hashlib.sha256(numbers.encode()).hexdigest()[:12]
