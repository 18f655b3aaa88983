"""The live estimate of the firing that goes on, and its forecast renewed. Runs in the worker process.

From the record's ticks so far, the newest frame, and the job sheet that counts. The ticks that were read are
kept between two calls, so that each is read once.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from controller.errors import StokeholdError
from controller.forecast import observer
from controller.forecast.ensemble import Floats
from controller.forecast.forecast import J_PER_KWH, Forecast, job_for
from controller.forecast.job import JobSheet
from controller.forecast.job_file import read_job
from controller.forecast.job_words import UNREADABLE, in_words
from controller.forecast.kiln_of import kiln_of
from controller.forecast.kiln_told import kiln_told
from controller.forecast.makes import TYPICAL
from controller.forecast.observer import ObserverState
from controller.forecast.past import EVERY_S, seen_at
from controller.forecast.renew import now_of, observed, renew
from controller.forecast.shell_findings import NO_SHELL
from controller.live import Frame
from controller.physics.shell import core_c
from controller.record.jobs import jobs_of
from controller.record.observed import observations
from controller.record.queries import Record
from controller.record.schedules import schedule_of
from controller.review.measures import lasting_s
from controller.review.observed import gather
from web.estimates import plain
from web.estimates.asked import NO_SHEET

Json = dict[str, Any]

GOES_ON = ("running", "restarting")


class Job(NamedTuple):
    """The sheet that counts, what is said of it, and when it was told how much plastic was drained."""

    sheet: JobSheet | None
    says: str
    weighed_s: float | None


class _Ticks:
    """What was read of one firing's ticks."""

    def __init__(self, path: Path, firing: int) -> None:
        self.key = (path, firing)
        self.last_n: int | None = None
        self.columns: Floats = np.empty((4, 0))  # t_s, air_c, load_c, and whether heat was on

    @property
    def heat_s(self) -> float:
        """For how long heat was on (s)."""
        return lasting_s(self.columns[0], self.columns[3] > 0.0, gaps=False)

    def read_on(self) -> None:
        """Read what has come since."""
        path, firing = self.key
        fresh = Record(path).ticks(firing, after_n=self.last_n)
        if len(fresh):
            self.last_n = int(fresh.n[-1])
            self.columns = np.hstack([self.columns, (fresh.t_s, fresh.air_c, fresh.load_c, fresh.heat_on)])


_newest: list[_Ticks] = []


def estimate(record: str, frame: Frame) -> Json:
    """Return the live estimate as JSON; {"ok": false, "says": why} where there is none.

    `mono_s` is the controller's monotonic time at which its forecast begins.
    """
    try:
        return _estimate(Path(record), frame)
    except StokeholdError as error:
        return {"ok": False, "firing": frame["firing"], "says": str(error)}


def _estimate(path: Path, frame: Frame) -> Json:
    number, now = frame["firing"], now_of(frame)
    if number is None or now is None:
        return {"ok": False, "firing": number, "says": "nothing is fired"}
    firing = Record(path).firing(number)
    schedule = schedule_of(firing)
    ticks = _read(path, number)
    if schedule is None or ticks.last_n is None:
        return {"ok": False, "firing": number, "says": "the firing has only just begun"}
    job, seen = job_of_firing(path, number, firing.start.started_utc_s), seen_at(*ticks.columns[:3])
    states = observed(schedule, job.sheet, seen, job.weighed_s)
    kiln = kiln_told(firing.start.kiln_text)
    made = renew(
        schedule,
        job.sheet,
        kiln_of(kiln.power_w, path.parent),
        kiln.full_rate_c_per_h,
        seen,
        now,
        longest_s=max(0.0, kiln.longest_s - frame["elapsed_s"]),
        vent_m3_per_h=kiln.vent_m3_per_h,
        begun=states[-1],
    )
    shell = observer.estimates(states[-1], observer.set_up(job_for(schedule, job.sheet)))
    told = _told(frame, job, made, shell) | {"used_kwh": round(ticks.heat_s * kiln.power_w / J_PER_KWH, 2)}
    told["curves"]["core_past"] = _past(states)
    return told


def _read(path: Path, number: int) -> _Ticks:
    """Return the ticks of a firing, those of the last call and what has come since."""
    if not _newest or _newest[0].key != (path, number):
        _newest[:] = [_Ticks(path, number)]
    _newest[0].read_on()
    return _newest[0]


def _past(states: list[ObserverState]) -> list[list[float | None]]:
    """Return the core as it is thought to have been: [t_s, C], seconds before now, below 0."""
    stride = max(1, -(-len(states) // plain.POINTS))
    places = range((len(states) - 1) % stride, len(states), stride)
    return [
        [(place - len(states) + 1) * EVERY_S, plain.number(core_c(states[place].shells[TYPICAL]))]
        for place in places
    ]


def job_of_firing(path: Path, number: int, started_utc_s: float) -> Job:
    """Return the job sheet that counts, with the plastic that was weighed at a checkpoint since.

    One that this version cannot read counts as none, and is told so.
    """
    job = _sheet_of(path, number, started_utc_s)
    weighed = gather(observations(path, number))
    if weighed.drained_kg is None:
        return job
    sheet = replace(job.sheet or JobSheet(), drained_kg=weighed.drained_kg)
    last_utc_s = max(each.utc_s for each in weighed.drained.values())
    said = f"{job.says}; {weighed.drained_kg * 1000.0:.0f} g drained, weighed"
    return Job(sheet, said, max(0.0, last_utc_s - started_utc_s))


def _sheet_of(path: Path, number: int, started_utc_s: float) -> Job:
    sheets = jobs_of(path, number)
    if not sheets:
        return Job(None, NO_SHEET, None)
    read = [(seen.utc_s, _read_sheet(seen.text)) for seen in sheets]
    newest = read[-1][1]
    if newest is None:
        return Job(None, f"job sheet: {UNREADABLE}: defaults", None)
    told_s = [utc_s for utc_s, sheet in read if sheet is not None and sheet.drained_kg == newest.drained_kg]
    weighed_s = None if newest.drained_kg is None else max(0.0, told_s[0] - started_utc_s)
    return Job(newest, in_words(newest), weighed_s)


def _read_sheet(text: str) -> JobSheet | None:
    try:
        return read_job(text, "job sheet")
    except StokeholdError:
        return None


def _told(frame: Frame, job: Job, made: Forecast, shell: observer.Estimates) -> Json:
    utc_s = plain.seconds_utc(frame["utc"])
    ready = made.ready_s
    return {
        "ok": True,
        "says": ""
        if frame["state"] in GOES_ON
        else "The firing is held: the hours count from a restart now.",
        "firing": frame["firing"],
        "mono_s": frame["mono_s"],
        "utc_s": utc_s,
        "kiln": {"says": frame["kiln"], "model": made.kiln_says},
        "job": {"says": job.says, "told": list(made.job.told)},
        "no_shell": made.job.mould in NO_SHELL,
        "no_plastic": made.job.plastic_kg.high <= 0.0,
        "shell": plain.estimates(shell),
        "ready_s": None if ready is None else plain.banded(ready, 0),
        "end_s": plain.banded(made.end_s, 0),
        "furnace": plain.furnace(made, None if ready is None else ready.typical, utc_s),
        "rows": plain.rows(made, utc_s),
        "energy_kwh": plain.banded(made.energy_kwh, 1),
        "findings": plain.findings(made.findings),
        "curves": plain.curves(made),
    }
