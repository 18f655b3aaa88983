"""A forecast drawn in plain text, for a terminal: the air with its band, and the shell's core."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from controller.forecast.ensemble import Floats
from controller.forecast.forecast import Forecast
from controller.schedule.terminal import hour_marks
from controller.schedule.units import to_fahrenheit

ROWS = 18
_TO_ASCII = str.maketrans("│─┌┐└┘├┤┬┴┼", "|-+++++++++")
LEGEND = "Air: the line, its band the dots. Shell core: c. All of it is an estimate."


def plot_text(forecast: Forecast, start: datetime, width: int, unit: str = "C", *, utf8: bool = True) -> str:
    """Return the forecast's air and core over the clock; `width` in columns; `unit` C or F."""
    from plotext import figure  # slow to import, and only this function needs it

    every = max(1, len(forecast.t_s) // (2 * width))
    hours = (forecast.t_s[::every] / 3600.0).tolist()
    step = 500 if unit == "F" else 200
    highest = _in_unit(float(forecast.air_c.high.max()), unit)
    levels = [step * place for place in range(int(highest / step * 1.05) + 2)]
    figure.clear()
    figure.theme("colorless")
    figure.plot_size(width, ROWS)
    figure.ruler("y", 0).lim(0, levels[-1])
    figure.ruler("y", 0).ticks(levels, [f"{level} {unit}" for level in levels])
    marks = dict(hour_marks(start, float(forecast.t_s[-1]), width))
    figure.ruler("x", 0).ticks(list(marks), list(marks.values()))
    for curve in (forecast.air_c.low, forecast.air_c.high):
        figure.draw(figure.signal(hours, _values(curve, every, unit), marker="."))
    coarse = max(1, len(forecast.t_s) // (width // 3))
    sparse = (forecast.t_s[::coarse] / 3600.0).tolist()
    line = figure.signal(
        hours, _values(forecast.air_c.typical, every, unit), marker="braille" if utf8 else "*"
    )
    figure.draw(line.lines())
    figure.draw(figure.signal(sparse, _values(forecast.core_c.typical, coarse, unit), marker="c"))
    text = str(figure.build().string(colorless=True)).rstrip("\n")
    return text if utf8 else text.translate(_TO_ASCII)


def _values(curve: Floats, every: int, unit: str) -> list[float]:
    return [_in_unit(float(c), unit) for c in np.maximum(curve[::every], 0.0)]


def _in_unit(celsius: float, unit: str) -> float:
    return to_fahrenheit(celsius) if unit == "F" else celsius
