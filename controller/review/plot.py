"""The curve of a firing: stages as quiet bands, the plan thin, the measured temperatures, the duty below."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, MultipleLocator

from controller.record.curve import Curve, Floats
from controller.record.times import hours_minutes
from controller.review.look import (
    ACCENT,
    ALARM,
    BAND,
    FAINT,
    INK,
    LEFT,
    LINE,
    RIGHT,
    SOFT,
    Page,
    font,
    spread,
)
from controller.review.marks import Mark
from controller.review.measures import StageSeen
from controller.review.story import Story

LANE_IN, DUTY_IN, AXIS_IN = 0.42, 0.48, 0.34  # heights of the parts below the plot
NAME_SIZE = 6.2
SLANT = 50.0  # of the stages' names (degrees)

# Round times between two marks of the axis (hours).
HOUR_STEPS = (1 / 60, 1 / 30, 1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 4, 6, 12, 24, 48, 96, 168)

HOUR = 3600.0

PLAN: dict[str, Any] = {"color": FAINT, "linewidth": 0.9, "dashes": (5, 2.5)}
SETPOINT: dict[str, Any] = {"color": FAINT, "linewidth": 0.8}
LIMIT: dict[str, Any] = {"color": SOFT, "linewidth": 1.0, "dashes": (1, 1.6)}
LOAD: dict[str, Any] = {"color": ACCENT, "linewidth": 1.1, "dashes": (8, 1.3)}
AIR: dict[str, Any] = {"color": INK, "linewidth": 1.3}
WARNING_LINE: dict[str, Any] = {"color": SOFT, "linewidth": 0.6, "dashes": (1, 2.5), "zorder": 1.5}
ALARM_LINE: dict[str, Any] = {"color": ALARM, "linewidth": 1.0, "zorder": 8}


def draw_key(page: Page, y: float, story: Story) -> None:
    """Write in a row which line is which."""
    x = LEFT
    for name, look in _looks(story):
        page.line(x, y - 0.03, x + 0.3, **look)
        page.text(x + 0.36, y, name, 6.5, colour=SOFT)
        x += 0.36 + page.width(name, 6.5) + 0.24


def names_height(page: Page, stages: tuple[StageSeen, ...]) -> float:
    """Return the height that the stages' slanting names need above the plot (inches)."""
    longest = max((page.width(_name(page, stage), NAME_SIZE) for stage in stages), default=0.0)
    return 0.22 + longest * math.sin(math.radians(SLANT))


def draw_plot(page: Page, top: float, height: float, story: Story, marks: tuple[Mark, ...]) -> float:
    """Draw the plot, `height` inches of it, and what hangs below it; return where that ends (inches)."""
    axes = page.axes(top, height)
    _scale(axes, story)
    _bands(axes, story.measures.stages)
    _lines(axes, story)
    _peak(axes, story.drawn)
    _names(page, axes, top, story.measures.stages)
    _lane(page, axes, top + height, marks)
    _duty(page, axes, top + height + LANE_IN, story.curve)
    return top + height + LANE_IN + DUTY_IN + AXIS_IN


def _looks(story: Story) -> list[tuple[str, dict[str, Any]]]:
    """The lines that this firing has."""
    found = [("air", AIR)]
    if not np.isnan(story.drawn.load_c).all():
        found.append(("load", LOAD))
    if not np.isnan(story.drawn.limit_c).all():
        found.append(("limit", LIMIT))
    found.append(("setpoint", SETPOINT))
    return [*found, ("plan, had nothing waited", PLAN)] if story.planned else found


def _columns(curve: Curve) -> dict[str, Floats]:
    return {"air": curve.air_c, "load": curve.load_c, "limit": curve.limit_c, "setpoint": curve.setpoint_c}


def _scale(axes: Axes, story: Story) -> None:
    """Hours across, degrees up; the plan may be longer or hotter than what was done."""
    curve = story.drawn
    end_s = float(curve.t_s[-1]) if len(curve) else HOUR
    hottest = [float(np.nanmax(column)) for column in _columns(curve).values() if not np.isnan(column).all()]
    if story.planned:
        hottest.append(max(point.c for point in story.planned.points if point.t_s <= end_s))
    axes.set_xlim(0, max(end_s, 60.0) / HOUR)
    axes.set_ylim(0, max(hottest, default=100.0) * 1.07)
    least = end_s / HOUR / 13
    axes.xaxis.set_major_locator(MultipleLocator(next((h for h in HOUR_STEPS if h >= least), least)))
    axes.yaxis.set_major_locator(MultipleLocator(_step(axes.get_ylim()[1], 9)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda c, _: f"{c:.0f} °C" if c else "0"))
    axes.grid(axis="y", color=LINE, linewidth=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(labelbottom=False)


def _step(whole: float, parts: int) -> float:
    """Return a round step that cuts a whole into at most so many parts."""
    least = max(whole / parts, 1e-3)
    decade = 10.0 ** math.floor(math.log10(least))
    return next(factor * decade for factor in (1, 2, 5, 10) if factor * decade >= least)


def _bands(axes: Axes, stages: tuple[StageSeen, ...]) -> None:
    """Holds are grey, checkpoints hatched, what moves is white; a fine line where a stage begins."""
    for stage in stages:
        begins, ends = stage.begins_s / HOUR, (stage.begins_s + stage.lasts_s) / HOUR
        if stage.kind == "hold":
            axes.axvspan(begins, ends, facecolor=BAND, edgecolor="none", zorder=0)
        if stage.kind == "checkpoint":
            axes.axvspan(begins, ends, facecolor="white", edgecolor=LINE, hatch="////", linewidth=0, zorder=0)
        axes.axvline(begins, color=LINE, linewidth=0.5, zorder=0.5)


def _lines(axes: Axes, story: Story) -> None:
    hours = story.drawn.t_s / HOUR
    columns = _columns(story.drawn)
    if story.planned:
        points = story.planned.points
        axes.plot([point.t_s / HOUR for point in points], [point.c for point in points], zorder=2, **PLAN)
    for order, (name, look) in enumerate(reversed(_looks(story))):
        if name in columns:
            axes.plot(hours, columns[name], zorder=3 + order, solid_joinstyle="round", **look)


def _peak(axes: Axes, curve: Curve) -> None:
    """The hottest air, with its number."""
    if np.isnan(curve.air_c).all():
        axes.text(
            0.5, 0.5, "no air temperature in the record", transform=axes.transAxes, ha="center", color=SOFT
        )
        return
    place = int(np.nanargmax(curve.air_c))
    at, peak_c = float(curve.t_s[place]) / HOUR, float(curve.air_c[place])
    right = at > axes.get_xlim()[1] * 0.85
    axes.plot([at], [peak_c], marker="o", markersize=3, color=INK, zorder=9)
    axes.annotate(
        f"{peak_c:.0f} °C",
        (at, peak_c),
        xytext=(-3 if right else 3, 4),
        textcoords="offset points",
        ha="right" if right else "left",
        fontproperties=font(7.5, bold=True),
        color=INK,
        path_effects=[withStroke(linewidth=2.5, foreground="white")],
        zorder=9,
    )


def _across(axes: Axes, hours: float) -> float:
    """Where a time stands on the page (inches from the left)."""
    low, high = axes.get_xlim()
    return LEFT + (RIGHT - LEFT) * (hours - low) / (high - low)


def _names(page: Page, axes: Axes, bottom: float, stages: tuple[StageSeen, ...]) -> None:
    """The stages' names above their bands, slanting, each with a fine line to the middle of its band."""
    middles = [_across(axes, (stage.begins_s + stage.lasts_s / 2) / HOUR) for stage in stages]
    for stage, middle, place in zip(stages, middles, spread(middles, 0.125, LEFT, RIGHT - 0.1), strict=True):
        page.stroke(
            [(middle, bottom), (middle, bottom - 0.04), (place, bottom - 0.1)], color=FAINT, linewidth=0.5
        )
        page.text(place + 0.02, bottom - 0.12, _name(page, stage), NAME_SIZE, colour=SOFT, slant=SLANT)


def _name(page: Page, stage: StageSeen) -> str:
    return page.cut(stage.name, NAME_SIZE, 1.2)


def _lane(page: Page, axes: Axes, top: float, marks: tuple[Mark, ...]) -> None:
    """The numbered marks below the plot; what is abnormal reaches up through it."""
    wanted = [_across(axes, min(max(mark.t_s / HOUR, 0), axes.get_xlim()[1])) for mark in marks]
    for mark, at, place in zip(marks, wanted, spread(wanted, 0.15, LEFT, RIGHT), strict=True):
        look = mark.look
        page.stroke([(at, top), (at, top + 0.04), (place, top + 0.1)], color=look.colour, linewidth=0.5)
        page.mark(place, top + 0.16, look.shape, look.colour, 5.2, filled=look.filled)
        page.text(
            place, top + 0.32, str(mark.number), 6.0, colour=look.colour, align="center", bold=mark.trip
        )
        if mark.severity in {"warning", "alarm"}:
            axes.axvline(mark.t_s / HOUR, **(ALARM_LINE if mark.severity == "alarm" else WARNING_LINE))


def _duty(page: Page, above: Axes, top: float, curve: Curve) -> None:
    """The mean duty of each minute."""
    axes = page.axes(top, DUTY_IN, share=above)
    hours, duty = minute_means(curve)
    axes.fill_between(hours, duty * 100, step="post", color=FAINT, linewidth=0)
    axes.set_ylim(0, 100)
    axes.yaxis.set_major_locator(MultipleLocator(50))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda percent, _: f"{percent:.0f} %" if percent else ""))
    axes.grid(axis="y", color=LINE, linewidth=0.5)
    axes.set_axisbelow(True)
    axes.tick_params(labelbottom=True)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda hours, _: _time(hours)))
    page.text(RIGHT, top - 0.04, "duty, mean of each minute", 6.2, colour=SOFT, align="right")


def _time(hours: float) -> str:
    minutes = round(hours * 60)
    if minutes == 0:
        return "0"
    return hours_minutes(hours * HOUR) if minutes % 60 else f"{minutes // 60} h"


def minute_means(curve: Curve) -> tuple[Floats, Floats]:
    """Return the minutes that have a tick (their beginnings, in hours) and their mean duty (0 to 1)."""
    minutes, which = np.unique((curve.t_s // 60).astype(np.int64), return_inverse=True)
    sums = np.bincount(which, weights=curve.duty, minlength=len(minutes))
    counts = np.bincount(which, minlength=len(minutes))
    return minutes / 60.0, sums / np.maximum(counts, 1)
