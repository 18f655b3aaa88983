"""A plan drawn in plain text, for a terminal: read without colour, from 40 columns on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from controller.schedule.model import Schedule
from controller.schedule.plan import Plan
from controller.schedule.units import to_fahrenheit
from controller.schedule.words import needs_person

ROWS = 16
COLUMNS_PER_HOUR_MARK = 12  # "21:00" and some air on both sides
_TO_ASCII = str.maketrans("│─┌┐└┘├┤┬┴┼", "|-+++++++++")


def plot_text(
    schedule: Schedule, planned: Plan, start: datetime, width: int, unit: str = "C", *, utf8: bool = True
) -> str:
    """Return the planned line over the clock, with the number of each stage that waits for a person.

    `width` in columns; `unit` C or F; without `utf8` only ASCII is drawn.
    """
    from plotext import figure  # slow to import, and only this function needs it

    temperatures = [_in_unit(point.c, unit) for point in planned.points]
    levels = _levels(max(temperatures), 500 if unit == "F" else 200)
    figure.clear()
    figure.theme("colorless")
    figure.plot_size(width, ROWS)
    figure.ruler("y", 0).lim(0, levels[-1])
    figure.ruler("y", 0).ticks(levels, [f"{level} {unit}" for level in levels])
    marks = dict(hour_marks(start, planned.total_s, width))
    figure.ruler("x", 0).ticks(list(marks), list(marks.values()))
    hours = [point.t_s / 3600 for point in planned.points]
    figure.draw(figure.signal(hours, temperatures, marker="braille" if utf8 else "*").lines())
    for span in planned.spans:
        if needs_person(schedule.stages[span.index]):
            above = _in_unit(span.start_c, unit) + levels[-1] / 8
            figure.draw(figure.text(span.start_s / 3600, above, str(span.index + 1)))
    text = str(figure.build().string(colorless=True)).rstrip("\n")
    return text if utf8 else text.translate(_TO_ASCII)


def hour_marks(start: datetime, total_s: float, width: int) -> Iterator[tuple[float, str]]:
    """Yield clock hours as (hours from the start, "21:00" or "+2d"), as many as `width` columns hold."""
    total_h = total_s / 3600
    room = max(1, width // COLUMNS_PER_HOUR_MARK)
    step = next(hours for hours in (1, 2, 3, 4, 6, 12, *range(24, 10**6, 24)) if total_h / hours <= room)
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    since_h = (start - midnight).total_seconds() / 3600
    at_h = -(-since_h // step) * step
    while at_h - since_h <= total_h:
        clock = f"{midnight + timedelta(hours=at_h):%H:%M}"
        yield at_h - since_h, clock if step < 24 else f"+{at_h // 24:.0f}d"
        at_h += step


def _levels(highest: float, step: int) -> list[int]:
    """Return the marked levels, so many that a stage's number fits above the highest point."""
    return [step * n for n in range(int(highest / step * 1.12) + 2)]


def _in_unit(celsius: float, unit: str) -> float:
    return to_fahrenheit(celsius) if unit == "F" else celsius
