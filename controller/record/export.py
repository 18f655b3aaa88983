"""A firing as comma-separated values (RFC 4180), row by row, with the unit of every number in the header.

No value is an empty field; yes and no are 1 and 0. Temperatures have three decimals, finer than any
thermocouple; the record itself keeps every bit. Stages count from 1, as on the screens. The job sheet that
the firing carries stands in a file of its own beside the ticks, as it was written.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TextIO

from controller.record.jobs import job_of
from controller.record.queries import Record
from controller.record.rows import TickRow
from controller.record.schedules import schedule_of
from controller.record.times import iso_utc

HEADER = (
    "tick",
    "time (UTC)",
    "elapsed (s)",
    "state",
    "stage",
    "stage name",
    "setpoint (C)",
    "air (C)",
    "load (C)",
    "limit (C)",
    "reader faults",
    "contacts (1 = on)",
    "duty (0 to 1)",
    "heat (1 = on)",
    "lease (s)",
    "main contactor (1 = closed)",
    "guard",
    "late (1 = yes)",
)


def export(record: Record, number: int, out: TextIO) -> int:
    """Write a firing's ticks to `out` (opened with newline=""); return how many. Raises RecordError."""
    schedule = schedule_of(record.firing(number))
    names = [stage.name for stage in schedule.stages] if schedule else []
    writer = csv.writer(out)
    writer.writerow(HEADER)
    count = 0
    for t_s, tick in record.rows(number):
        writer.writerow(_fields(t_s, tick, names))
        count += 1
    return count


def export_job(record: Record, number: int, beside: Path) -> Path | None:
    """Write a firing's job sheet beside its ticks (`firing.csv`: `firing.job.toml`); None: it carries none.

    Raises OSError: it cannot be written.
    """
    sheet = job_of(record.path, number)
    if sheet is None:
        return None
    path = beside.with_suffix(".job.toml")
    path.write_text(sheet.text, encoding="utf-8")
    return path


def _fields(t_s: float, tick: TickRow, names: list[str]) -> tuple[str | int, ...]:
    known = tick.stage is not None and 0 <= tick.stage < len(names)
    return (
        tick.n,
        iso_utc(tick.utc_s),
        f"{t_s:.3f}",
        tick.state,
        "" if tick.stage is None else tick.stage + 1,
        names[tick.stage] if known and tick.stage is not None else "",
        *(_decimals(value) for value in (tick.setpoint_c, tick.air_c, tick.load_c, tick.limit_c)),
        tick.faults,
        tick.contacts,
        f"{tick.duty:.4f}",
        int(tick.heat_on),
        f"{tick.lease_s:.3f}",
        "" if tick.main_on is None else int(tick.main_on),
        tick.reasons,
        int(tick.late),
    )


def _decimals(value: float | None) -> str:
    return "" if value is None else f"{value:.3f}"
