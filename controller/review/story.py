"""Everything that a report tells, read once from the record."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from controller.forecast.job_words import words_of
from controller.record.curve import Curve, thin
from controller.record.jobs import job_of
from controller.record.observed import image, observations, photos
from controller.record.queries import Record
from controller.record.rows import EventSeen, Firing, NoteSeen, PhotoSeen
from controller.record.schedules import schedule_of
from controller.review.kiln_text import full_rate_c_per_h, heater_power_w, tariff
from controller.review.measures import Measures, measure
from controller.review.observed import Observed, gather
from controller.schedule.model import Schedule
from controller.schedule.plan import Plan, plan

MOST_PHOTOS = 8  # two rows on a page

# More than a printed page can show (a dot of a laser printer is 1/600 inch, the plot is 7 inches wide).
DRAWN_ROWS = 9000

USUAL_FULL_RATE_C_PER_H = 300.0  # a kiln's file that does not say: the default of the configuration


@dataclass(frozen=True, slots=True)
class Story:
    """A firing as a report tells it. `curve` is whole; `drawn` has as many rows as a page can show.

    `photos`: as many as a page has room for, those of the casting first. `job`: what its job sheet tells, in
    words, and `sheet`: its text; both empty where it carries none.
    """

    firing: Firing
    curve: Curve
    drawn: Curve
    schedule: Schedule | None
    planned: Plan | None
    measures: Measures
    events: tuple[EventSeen, ...]
    notes: tuple[NoteSeen, ...]
    seen: Observed
    photos: tuple[tuple[PhotoSeen, bytes], ...]
    job: str
    sheet: str


def tell(record: Record, number: int) -> Story:
    """Read a firing. Raises RecordError when there is none."""
    firing, sheet = record.firing(number), job_of(record.path, number)
    curve = record.ticks(number)
    schedule = schedule_of(firing)
    return Story(
        firing=firing,
        curve=curve,
        drawn=thin(curve, DRAWN_ROWS),
        schedule=schedule,
        planned=planned(firing, schedule, curve),
        measures=measures_of(firing, schedule, curve),
        events=tuple(record.events(number)),
        notes=tuple(record.notes(number)),
        seen=gather(observations(record.path, number)),
        photos=_photos(record.path, number),
        job="" if sheet is None else words_of(sheet.text),
        sheet="" if sheet is None else sheet.text,
    )


def _photos(path: Path, number: int) -> tuple[tuple[PhotoSeen, bytes], ...]:
    """Read the photographs that a report shows."""
    chosen = sorted(photos(path, number), key=lambda photo: (photo.of != "casting", photo.id))[:MOST_PHOTOS]
    found = ((photo, image(path, photo.id)) for photo in chosen)
    return tuple((photo, kept[1]) for photo, kept in found if kept)


def measures_of(firing: Firing, schedule: Schedule | None, curve: Curve) -> Measures:
    """Return a firing's measures, with the power and the tariff of its own kiln's file."""
    kiln = firing.start.kiln_text
    return measure(curve, schedule.stages if schedule else (), heater_power_w(kiln), tariff(kiln))


def planned(firing: Firing, schedule: Schedule | None, curve: Curve) -> Plan | None:
    """Return the plan from the first air reading; None: no schedule that can be read, or no reading."""
    known = curve.air_c[~np.isnan(curve.air_c)]
    if schedule is None or not len(known):
        return None
    full = full_rate_c_per_h(firing.start.kiln_text) or USUAL_FULL_RATE_C_PER_H
    return plan(schedule, float(known[0]), full)
