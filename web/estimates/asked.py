"""The forecast that is asked for: a schedule on this kiln with this job. Runs in the worker process."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from controller.errors import StokeholdError
from controller.forecast.forecast import Forecast, forecast
from controller.forecast.job import JobSheet
from controller.forecast.job_file import read_job
from controller.forecast.job_words import in_words
from controller.forecast.kiln_of import kiln_of
from controller.forecast.pour_time import work_back
from controller.schedule.index import own_folder, profile
from controller.schedule.model import Schedule
from controller.schedule.reader import load_schedule, read_schedule
from web.estimates import plain
from web.estimates.kiln import Kiln, kiln_here

Json = dict[str, Any]

NO_SHEET = "no job sheet: defaults"


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked. `schedule`: a profile's name, or a whole text. Times in UTC seconds; at most one.

    `kiln_file`: the file that the page was started with. `record`: the kiln's, with its home around it.
    """

    schedule: str
    job: str | None
    start_utc_s: float | None
    pour_at_utc_s: float | None
    price_per_kwh: float | None
    now_utc_s: float
    kiln_file: str | None
    record: str


@dataclass(frozen=True, slots=True)
class When:
    """When it starts (UTC, s), when the pour is (s from it; None: no pour), and what to say of that."""

    start_utc_s: float
    pour_s: float | None
    says: str


def asked(told: Json) -> Json:
    """Return the forecast as JSON, or {"ok": false, "says": all that is wrong with what was asked}.

    `told`: the fields of an `Ask`.
    """
    ask = Ask(**told)
    if says := mistakes(ask):
        return {"ok": False, "says": says}
    try:
        schedule, sheet = _schedule(ask), _sheet(ask)
        kiln = kiln_here(ask.kiln_file, Path(ask.record))
        made = _forecast(schedule, sheet, kiln, Path(ask.record))
        return _told(ask, made, kiln, sheet, _when(ask, made))
    except StokeholdError as error:
        return {"ok": False, "says": str(error)}


def mistakes(ask: Ask) -> str:
    """Return all that is wrong with the schedule and with the job sheet, a line each."""
    found = []
    for read in (_schedule, _sheet):
        try:
            read(ask)
        except StokeholdError as error:
            found.append(str(error))
    return "\n".join(found)


def _schedule(ask: Ask) -> Schedule:
    if "\n" in ask.schedule:
        return read_schedule(ask.schedule, "schedule")
    # A name: from a page no path is opened.
    return load_schedule(profile(ask.schedule, own_folder(Path(ask.record).parent)))


def _sheet(ask: Ask) -> JobSheet | None:
    return read_job(ask.job, "job sheet") if ask.job and ask.job.strip() else None


def _forecast(schedule: Schedule, sheet: JobSheet | None, kiln: Kiln, record: Path) -> Forecast:
    told = kiln.told
    return forecast(
        schedule,
        sheet,
        kiln_of(told.power_w, record.parent),
        told.full_rate_c_per_h,
        longest_s=told.longest_s,
        vent_m3_per_h=told.vent_m3_per_h,
    )


def _when(ask: Ask, made: Forecast) -> When:
    """Return the hours. Raises UsageError: a pour's time for a schedule that has no pour."""
    if ask.pour_at_utc_s is None:
        ready = made.ready_s
        return When(ask.start_utc_s or ask.now_utc_s, None if ready is None else ready.typical, "")
    back = work_back(made)
    start_utc_s = ask.pour_at_utc_s - back.start_s
    says = (
        "The start is early enough for the late end of the band."
        if back.sure
        else "The band is wider than the shell may wait hot, so it may be late: tell more in the job sheet."
    )
    late_s = ask.now_utc_s - start_utc_s
    if late_s > 60.0:
        says = f"For this pour it should have started {late_s / 60.0:.0f} min ago. {says}"
    return When(start_utc_s, back.start_s, says)


def _told(ask: Ask, made: Forecast, kiln: Kiln, sheet: JobSheet | None, when: When) -> Json:
    begins = when.start_utc_s
    return {
        "ok": True,
        "says": when.says,
        "title": made.schedule.title,
        "kiln": {"says": kiln.says, "model": made.kiln_says},
        "job": {"says": NO_SHEET if sheet is None else in_words(sheet), "told": list(made.job.told)},
        "start_utc_s": plain.number(begins, 0),
        "late": ask.pour_at_utc_s is not None and begins < ask.now_utc_s - 60.0,
        "pour_utc_s": _pour(made, when),
        "ready_s": None if made.ready_s is None else plain.banded(made.ready_s, 0),
        "ready_utc_s": plain.clocked(made.ready_s, begins),
        "end_s": plain.banded(made.end_s, 0),
        "end_utc_s": plain.clocked(made.end_s, begins),
        "furnace": plain.furnace(made, when.pour_s, begins),
        "rows": plain.rows(made, begins),
        "energy_kwh": plain.banded(made.energy_kwh, 1),
        "cost": None if ask.price_per_kwh is None else plain.banded(made.cost(ask.price_per_kwh), 2),
        "findings": plain.findings(made.findings),
        "refused": made.refused,
        "curves": plain.curves(made),
    }


def _pour(made: Forecast, when: When) -> float | None:
    if when.pour_s is None or not isfinite(when.pour_s):
        return None
    return plain.number(when.start_utc_s + when.pour_s, 0)
