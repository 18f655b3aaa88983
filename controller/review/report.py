"""The report of a firing: one page, A4, that a person can hang beside the kiln. As PNG and as PDF.

Where people saw, rated, photographed or told something of the job, the PDF has a second page (people.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import matplotlib as mpl
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from controller.errors import UsageError
from controller.record.queries import Record
from controller.record.times import local_in_full
from controller.review.look import ALARM, FAINT, INK, LEFT, RIGHT, SOFT, Page, tidy
from controller.review.marks import marks
from controller.review.measures import Measures
from controller.review.people import draw_people, has_people
from controller.review.plot import AXIS_IN, DUTY_IN, LANE_IN, draw_key, draw_plot, names_height
from controller.review.story import Story, tell
from controller.review.tables import (
    draw_events,
    draw_measures,
    draw_stages,
    events_height,
    room_for_events,
    tables_height,
)

FOOT = 11.34  # where the last line stands (inches from the top)
KEY = 1.26  # where the key of the lines stands
BETWEEN = 0.12
MEANS_IN = 0.3  # the height of the lines that say what the measures mean
LOWEST_PLOT, HIGHEST_PLOT = 3.0, 4.9
ROOM_FOR_STAGES = 17

MEANS = (
    "Overshoot: the most that the air was above a hold's temperature, in the hold and in the ramp up to it.",
    "Hold error: the most that the air was off a hold's temperature, from 15 minutes after both the setpoint "
    "had reached it and the air its band.",
)

# The result as a shape and a word: what is not plainly good is not plain to look at.
RESULTS = {
    "complete": ("o", INK, True),
    "stopped": ("s", INK, False),
    "aborted": ("D", ALARM, True),
}
UNKNOWN = ("^", INK, False)


@dataclass(frozen=True, slots=True)
class Report:
    """Where a report was written, and its numbers."""

    png: Path
    pdf: Path
    measures: Measures


class _Format(NamedTuple):
    path: Path
    metadata: dict[str, str | None]


def write_report(record: Record, number: int, folder: Path) -> Report:
    """Write report-N.png and report-N.pdf into a folder, which is made if need be.

    Raises RecordError when there is no such firing, UsageError when the folder cannot be written.
    """
    story = tell(record, number)
    figure = draw(story)
    png, pdf = folder / f"report-{number}.png", folder / f"report-{number}.pdf"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _save(figure, story, png, pdf)
    except OSError as error:
        raise UsageError(
            f"report: found that {error.filename or folder} cannot be written "
            f"({error.strerror or error}), expected a folder that can be"
        ) from error
    return Report(png, pdf, story.measures)


def _save(figure: Figure, story: Story, png: Path, pdf: Path) -> None:
    """PDF with its type embedded as outlines that can be searched and copied (type 42)."""
    start = story.firing.start
    title, program = f"Firing {story.firing.id}: {start.title}", f"stokehold {start.software_version}"
    figure.savefig(png, metadata={"Title": title, "Software": program})
    about = {"Title": title, "Creator": program}
    with mpl.rc_context({"pdf.fonttype": 42}), PdfPages(pdf, metadata=about) as pages:
        pages.savefig(figure)
        if has_people(story):
            pages.savefig(draw_people(story))


def draw(story: Story) -> Figure:
    """Return the page. The plot takes what the words leave."""
    page = Page()
    _title(page, story)
    draw_key(page, KEY, story)
    plot_top = KEY + names_height(page, story.measures.stages)
    fixed = LANE_IN + DUTY_IN + AXIS_IN + tables_height(story.measures, ROOM_FOR_STAGES) + MEANS_IN
    left = FOOT - 0.3 - plot_top - fixed - 2 * BETWEEN
    found = marks(story.events, story.notes, story.curve, room_for_events(left - LOWEST_PLOT))
    height = min(max(left - events_height(found), LOWEST_PLOT), HIGHEST_PLOT)
    y = draw_plot(page, plot_top, height, story, found.shown)
    y = _tables(page, y + BETWEEN, story)
    draw_events(page, y + BETWEEN, found, story, FOOT - 0.3)
    _foot(page, story)
    return page.figure


def _title(page: Page, story: Story) -> None:
    firing, start = story.firing, story.firing.start
    named = f"firing {firing.id}" + (f"  ·  casting: {story.seen.rating.rating}" if story.seen.rating else "")
    room = RIGHT - LEFT - page.width(named, 7.5) - 0.3
    page.text(LEFT, 0.95, "  ·  ".join(_subtitle(story)), 7.5, colour=SOFT, within=room)
    if story.job:
        page.text(LEFT, 1.09, f"Job sheet: {story.job}", 7.5, colour=SOFT, within=RIGHT - LEFT)
    shape, colour, filled = RESULTS.get(firing.end_state or "", UNKNOWN)
    word = firing.end_state or "without an end"
    room = RIGHT - LEFT - page.width(word, 12, bold=True) - 0.5
    size = next((size for size in (16, 14, 12) if page.width(tidy(start.title), size, bold=True) <= room), 12)
    page.text(LEFT, 0.72, start.title, size, bold=True, within=room)
    page.text(RIGHT, 0.72, word, 12, colour=colour, bold=True, align="right")
    page.mark(RIGHT - page.width(word, 12, bold=True) - 0.14, 0.66, shape, colour, 8, filled=filled)
    page.text(RIGHT, 0.95, named, 7.5, colour=SOFT, align="right")


def _subtitle(story: Story) -> list[str]:
    start = story.firing.start
    kiln = start.kiln_name
    if start.simulated and "simulated" not in kiln.lower():
        kiln = f"{kiln} (simulated)"
    parts = [
        kiln,
        f"started {local_in_full(start.started_utc_s)}",
        _duration(story.measures.duration_h),
    ]
    return parts if start.speed == 1.0 else [*parts, f"at {start.speed:g} times real time"]


def _duration(hours: float) -> str:
    minutes = round(hours * 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def _tables(page: Page, top: float, story: Story) -> float:
    ends = (
        draw_measures(page, top, story.measures),
        draw_stages(page, top, story.measures.stages, ROOM_FOR_STAGES),
    )
    y = max(ends) + 0.04
    for line, words in enumerate(MEANS):
        page.text(LEFT, y + line * 0.11, words, 5.6, colour=FAINT, within=RIGHT - LEFT)
    return max(ends) + MEANS_IN


def _foot(page: Page, story: Story) -> None:
    start = story.firing.start
    page.line(LEFT, FOOT - 0.13, RIGHT)
    page.text(
        LEFT,
        FOOT,
        f"stokehold {start.software_version}  ·  {Path(start.schedule_name).name}",
        6,
        colour=FAINT,
    )
    page.text(RIGHT, FOOT, f"{len(story.curve)} ticks in the record", 6, colour=FAINT, align="right")
