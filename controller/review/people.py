"""The report's second page: how the casting turned out, what people saw, the job sheet, photographs.

It is drawn only where there is something of that. What finds no room is counted, never left out in silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from matplotlib.figure import Figure

from controller.record.times import local, local_in_full
from controller.review.look import ALARM, FAINT, INK, LEFT, RIGHT, SOFT, Page
from controller.review.observed import Crack, Rating
from controller.review.story import Story

ROW_IN = 0.15
SIZE = 7.0
MIDDLE = (LEFT + RIGHT) / 2
COLUMN_IN = MIDDLE - LEFT - 0.15
PHOTOS_IN_A_ROW = 4
PHOTO_IN = (RIGHT - LEFT - 0.15 * (PHOTOS_IN_A_ROW - 1)) / PHOTOS_IN_A_ROW
PHOTO_ROW_IN = PHOTO_IN + 0.3  # with its caption
FOOT = 11.2

# A rating as a shape and a word, as on the screens.
RATINGS = {"good": ("o", INK, True), "usable": ("o", INK, False), "scrap": ("X", ALARM, True)}
PLACES = {"rim": "at the rim", "cup": "at the cup", "side": "in the side", "base": "in the base"}


class Line(NamedTuple):
    """One line of what people saw: its shape, and when. `head`: a stop's name."""

    says: str
    when: str = ""
    shape: str = ""
    filled: bool = True
    head: bool = False


def has_people(story: Story) -> bool:
    """Return whether there is anything for this page."""
    seen = story.seen
    return bool(story.sheet or story.photos or seen.rating or seen.ticked or seen.cracks or seen.drained)


def draw_people(story: Story) -> Figure:
    """Return the page."""
    page = Page()
    start = story.firing.start
    page.text(LEFT, 0.72, "What people saw", 14, bold=True)
    page.text(RIGHT, 0.72, f"firing {story.firing.id}", 7.5, colour=SOFT, align="right")
    subtitle = f"{start.title}  ·  started {local_in_full(start.started_utc_s)}"
    page.text(LEFT, 0.93, subtitle, 7.5, colour=SOFT, within=RIGHT - LEFT)
    y = _rating(page, 1.3, story.seen.rating) if story.seen.rating else 1.3
    bottom = FOOT - _photos_height(story)
    ends = (_list(page, y, list(_lines(story)), bottom), _job(page, y, story.sheet, bottom))
    _photos(page, max(ends) + 0.3, story)
    return page.figure


def _rating(page: Page, y: float, rating: Rating) -> float:
    shape, colour, filled = RATINGS.get(rating.rating, ("^", INK, False))
    page.mark(LEFT + 0.06, y - 0.05, shape, colour, 8, filled=filled)
    page.text(LEFT + 0.2, y, f"The casting: {rating.rating}", 11, colour=colour, bold=True)
    x = LEFT + 0.35 + page.width(f"The casting: {rating.rating}", 11, bold=True)
    page.text(x, y, ", ".join(rating.reasons), 8, within=RIGHT - x)
    told = "  ·  ".join(part for part in (rating.says, f"{rating.by}, {local(rating.utc_s)}") if part)
    page.text(LEFT + 0.2, y + 0.19, told, 7.5, colour=SOFT, within=RIGHT - LEFT - 0.2)
    return y + 0.55


def _lines(story: Story) -> Iterator[Line]:
    """Give what was ticked, found and weighed, stop by stop."""
    seen = story.seen
    stops = {*seen.ticked, *seen.drained, *(crack.stage for crack in seen.cracks)}
    stages = story.schedule.stages if story.schedule else ()
    for stop in sorted(stop for stop in stops if stop is not None):
        yield Line(stages[stop].name if stop < len(stages) else f"stage {stop + 1}", head=True)
        for says, ticked in seen.ticked.get(stop, {}).items():
            yield Line(says, _time(ticked.utc_s), "s", filled=ticked.done)
        for crack in seen.cracks:
            if crack.stage == stop:
                yield Line(
                    _crack(crack), _time(crack.utc_s), "^" if crack.how_many else "o", filled=crack.patched
                )
        if (drained := seen.drained.get(stop)) is not None:
            yield Line(f"{drained.kg * 1000:.0f} g of plastic drained", _time(drained.utc_s), "o")


def _crack(crack: Crack) -> str:
    if crack.how_many == 0:
        return "looked, and found no cracks"
    where = PLACES.get(crack.where, "at the sprue" if crack.where == "sprue" else "elsewhere")
    cracks = "crack" if crack.how_many == 1 else "cracks"
    return f"{crack.how_many} {cracks} {where}, {'patched' if crack.patched else 'not patched'}"


def _list(page: Page, y: float, lines: list[Line], bottom: float) -> float:
    y = _head(page, y, LEFT, "At the stops")
    room = max(1, int((bottom - y) / ROW_IN))
    shown = lines if len(lines) <= room else lines[: room - 1]
    for line in shown:
        _line(page, LEFT, y, line)
        y += ROW_IN
    if len(shown) < len(lines):
        page.text(LEFT, y, f"and {len(lines) - len(shown)} more in the record", SIZE, colour=FAINT)
    if not lines:
        page.text(LEFT, y, "Nobody has said anything.", SIZE, colour=FAINT)
    return y


def _line(page: Page, x: float, y: float, line: Line) -> None:
    if line.head:
        page.text(x, y, line.says, SIZE, bold=True, within=COLUMN_IN)
        return
    page.mark(x + 0.06, y - 0.035, line.shape, INK, 4.5, filled=line.filled)
    page.text(x + 0.18, y, line.says, SIZE, within=COLUMN_IN - 0.65)
    page.text(x + COLUMN_IN, y, line.when, SIZE - 0.5, colour=FAINT, align="right")


def _job(page: Page, y: float, job: str, bottom: float) -> float:
    lines = [Line(row.strip(), head=row.strip().startswith("[")) for row in job.splitlines() if row.strip()]
    x = MIDDLE + 0.15
    y = _head(page, y, x, "The job sheet")
    room = max(1, int((bottom - y) / ROW_IN))
    if not lines:
        page.text(x, y, "None was filled in.", SIZE, colour=FAINT)
    for place, line in enumerate(lines[:room]):
        left = len(lines) - room
        last = place == room - 1 and left > 0
        says = f"and {left + 1} more lines in the record" if last else line.says
        page.text(x, y + place * ROW_IN, says, SIZE, bold=line.head and not last, within=COLUMN_IN)
    return y + min(len(lines), room) * ROW_IN


def _photos_height(story: Story) -> float:
    rows = -(-len(story.photos) // PHOTOS_IN_A_ROW)
    return 0.5 + rows * PHOTO_ROW_IN if rows else 0.0


def _photos(page: Page, top: float, story: Story) -> None:
    if not story.photos:
        return
    page.text(LEFT, top, "Photographs", 7.2, bold=True)
    page.line(LEFT, top + 0.05, RIGHT)
    for place, (photo, jpeg) in enumerate(story.photos):
        row, column = divmod(place, PHOTOS_IN_A_ROW)
        x, y = LEFT + column * (PHOTO_IN + 0.15), top + 0.17 + row * PHOTO_ROW_IN
        high = page.picture(x, y, PHOTO_IN, PHOTO_IN, jpeg)
        caption = f"{_time(photo.utc_s)} {photo.caption or photo.of}"
        page.text(x, y + high + 0.13, caption, 6, colour=SOFT, within=PHOTO_IN)


def _head(page: Page, y: float, x: float, title: str) -> float:
    page.text(x, y, title, 7.2, bold=True)
    page.line(x, y + 0.05, x + COLUMN_IN)
    return y + 0.05 + ROW_IN


def _time(utc_s: float) -> str:
    return local(utc_s, "%H:%M")
