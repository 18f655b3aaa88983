"""The words and numbers of a report: the measures, the stages, and what happened."""

from __future__ import annotations

from typing import NamedTuple

from controller.record.times import hours_minutes, local
from controller.review.look import ALARM, FAINT, INK, LEFT, LINE, RIGHT, SOFT, Align, Page
from controller.review.marks import Mark, Marks
from controller.review.measures import Measures, StageSeen
from controller.review.story import Story

ROW_IN = 0.142
SIZE = 6.6
MEASURES_IN = 2.05  # the width of the column of measures
GOOD_LIST = 10  # a list of so many rows is better whole and wide than longer in two columns
STAGES_LEFT = LEFT + MEASURES_IN + 0.3


class Column(NamedTuple):
    """A column of the stages' table: its head, where its text stands (inches), and on which side."""

    head: str
    x: float
    align: Align


COLUMNS = (
    Column("stage", STAGES_LEFT + 0.2, "left"),
    Column("began", STAGES_LEFT + 2.33, "right"),
    Column("lasted", STAGES_LEFT + 2.77, "right"),
    Column("asked °C", STAGES_LEFT + 3.27, "right"),
    Column("peak °C", STAGES_LEFT + 3.73, "right"),
    Column("over K", STAGES_LEFT + 4.15, "right"),
    Column("error K", RIGHT, "right"),
)


def measure_lines(measures: Measures) -> list[tuple[str, str]]:
    """Return each measure's name and its number with its unit; what a firing does not have is left out."""
    m = measures
    lines = [
        ("Peak air", _number(m.peak_air_c, "°C", 1)),
        ("Peak load", _number(m.peak_load_c, "°C", 1)),
        ("Peak limit sensor", _number(m.peak_limit_c, "°C", 1)),
        ("Worst overshoot at a hold", _number(m.overshoot_k, "K", 1)),
        ("Worst hold error, settled", _number(m.hold_error_k, "K", 1)),
        ("Lag of load, at most", _number(m.lag_k, "K", 0)),
        (f"Soak, at or above {_number(m.soak_c, '°C', 0)}", _number(m.soak_h, "h", 2)),
        (f"Above {m.hot_c:.0f} °C", _number(m.hot_h or None, "h", 2)),
        ("Heat work, as time at 815 °C", _number(m.heat_work_h or None, "h", 2)),
        ("Steepest rise, 80 to 100 °C", _number(m.rise_through_c_per_h, "°C/h", 0)),
        ("Waited for a person", _number(m.wait_h, "h", 2)),
        ("Shell at its release to pour", _number(m.pour_c, "°C", 0)),
        ("Duration", f"{m.duration_h:.2f} h"),
        ("Heat on, in all", f"{m.heat_h:.2f} h"),
        ("Duty, on average", _number(None if m.duty is None else 100 * m.duty, "%", 0)),
        ("Relay switched on", f"{m.switchings} times" if m.switchings else ""),
        ("Energy, from stated power", _number(m.energy_kwh, "kWh", 1)),
        ("Cost, at the kiln's tariff", _number(m.cost, m.currency, 2)),
    ]
    return [(name, value) for name, value in lines if value]


def draw_measures(page: Page, top: float, measures: Measures) -> float:
    """Write the measures from `top` down; return where they end."""
    y = _head(page, top, LEFT, LEFT + MEASURES_IN, "Measures")
    for name, value in measure_lines(measures):
        page.text(LEFT, y, name, SIZE, colour=SOFT, within=MEASURES_IN - 0.62)
        page.text(LEFT + MEASURES_IN, y, value, SIZE, align="right")
        y += ROW_IN
    return y


def draw_stages(page: Page, top: float, stages: tuple[StageSeen, ...], room: int) -> float:
    """Write the stages' table, at most `room` rows of it; return where it ends."""
    y = _head(page, top, STAGES_LEFT, RIGHT, "Stages")
    for column in COLUMNS[1:]:
        page.text(column.x, top, column.head, 6.0, colour=FAINT, align=column.align)
    shown = stages if len(stages) <= room else stages[: room - 1]
    for stage in shown:
        _stage_row(page, y, stage)
        y += ROW_IN
    if len(shown) < len(stages):
        page.text(STAGES_LEFT, y, f"and {len(stages) - len(shown)} more", SIZE, colour=FAINT)
        y += ROW_IN
    return y


def _stage_row(page: Page, y: float, stage: StageSeen) -> None:
    page.text(STAGES_LEFT + 0.12, y, str(stage.index + 1), SIZE, colour=FAINT, align="right")
    kind_in = page.width(stage.kind, 6.0)
    name = page.cut(stage.name, SIZE, 1.72 - kind_in)
    page.text(COLUMNS[0].x, y, name, SIZE)
    page.text(COLUMNS[0].x + page.width(name, SIZE) + 0.07, y, stage.kind, 6.0, colour=FAINT)
    values = (
        hours_minutes(stage.begins_s),
        hours_minutes(stage.lasts_s),
        _number(stage.asked_c, "", 0),
        _number(stage.peak_air_c, "", 1),
        _number(stage.overshoot_k, "", 1),
        _number(stage.hold_error_k, "", 1),
    )
    for column, value in zip(COLUMNS[1:], values, strict=True):
        page.text(column.x, y, value or "–", SIZE, colour=INK if value else LINE, align=column.align)


def tables_height(measures: Measures, room: int) -> float:
    """Return how much of the page the measures and the stages need side by side (inches)."""
    return 0.05 + ROW_IN * (1 + max(len(measure_lines(measures)), min(len(measures.stages), room)))


def events_height(marks: Marks) -> float:
    """Return how much of the page the list of what happened would like (inches)."""
    return 0.05 + ROW_IN * (1 + max(1, len(marks.shown)))


def room_for_events(height: float) -> int:
    """Return how many rows to list in the height: of one column, or of two where one would be short."""
    rows = max(1, int((height - 0.05) / ROW_IN) - 1)
    return rows if rows >= GOOD_LIST else 2 * rows


def draw_events(page: Page, top: float, marks: Marks, story: Story, bottom: float) -> None:
    """Write what happened, numbered as on the plot: one column, or two where one is too short."""
    rows = max(1, int((bottom - top - 0.05) / ROW_IN))
    in_two = len(marks.shown) > rows
    width = (RIGHT - LEFT - 0.3) / 2 if in_two else RIGHT - LEFT
    y = _head(page, top, LEFT, RIGHT, "What happened")
    if marks.left_out:
        page.text(RIGHT, top, f"and {marks.left_out} more in the record", 6.0, colour=FAINT, align="right")
    if not marks.shown:
        page.text(LEFT, y, "Nothing that is worth a line.", SIZE, colour=FAINT)
    clock = story.firing.start.speed == 1.0
    for place, mark in enumerate(marks.shown):
        column, row = divmod(place, rows) if in_two else (0, place)
        _event_row(page, LEFT + column * (width + 0.3), y + row * ROW_IN, width, mark, clock)


def _event_row(page: Page, x: float, y: float, width: float, mark: Mark, clock: bool) -> None:
    look = mark.look
    page.text(x + 0.14, y, str(mark.number), SIZE, colour=FAINT, align="right")
    page.mark(x + 0.25, y - 0.033, look.shape, look.colour, 4.2, filled=look.filled)
    page.text(x + 0.66, y, hours_minutes(mark.t_s), SIZE, colour=SOFT, align="right")
    start = 0.76
    if clock:
        page.text(x + 1.04, y, local(mark.utc_s, "%H:%M"), SIZE, colour=FAINT, align="right")
        start = 1.14
    colour = ALARM if mark.severity == "alarm" else INK
    page.text(x + start, y, mark.says, SIZE, colour=colour, bold=mark.trip, within=width - start)


def _head(page: Page, y: float, x: float, to_x: float, words: str) -> float:
    page.text(x, y, words, 7.2, bold=True)
    page.line(x, y + 0.05, to_x)
    return y + 0.05 + ROW_IN


def _number(value: float | None, unit: str, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f} {unit}".rstrip()
