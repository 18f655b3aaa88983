"""How a report looks: a page measured in inches from its top left corner, quiet greys, one accent.

Colour is never alone: what is measured differs in width and dash as well, and what happened has a shape,
so that a page printed in black and white says the same.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from PIL import Image

A4_INCHES = (8.27, 11.69)  # ISO 216, portrait: 210 mm by 297 mm
DPI = 150
PHOTO_DPI = 260  # of a photograph on paper: no eye sees more, and a report stays small
LEFT, RIGHT = 0.72, 7.67  # the text's edges
FONT = "DejaVu Sans"  # comes with matplotlib: every machine draws the same page

INK = "#1d2124"
SOFT = "#62686d"
FAINT = "#9aa0a5"
LINE = "#d5d8da"
BAND = "#f0f1f2"
ACCENT = "#1a66a8"
ALARM = "#c01425"

Align = Literal["left", "center", "right"]


class Page:
    """An A4 sheet. x and y are inches from the left and from the top; text hangs on its baseline."""

    def __init__(self) -> None:
        self.figure = Figure(figsize=A4_INCHES, dpi=DPI, facecolor="white")
        canvas = FigureCanvasAgg(self.figure)
        self._renderer: RendererAgg = canvas.get_renderer()  # type: ignore[no-untyped-call]

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 7.0,
        *,
        colour: str = INK,
        bold: bool = False,
        align: Align = "left",
        within: float | None = None,
        slant: float = 0.0,
    ) -> None:
        """Write one line, cut short to `within` inches."""
        words = tidy(words)
        if within is not None:
            words = self.cut(words, size, within, bold)
        self.figure.text(
            x / A4_INCHES[0],
            1 - y / A4_INCHES[1],
            words,
            fontproperties=font(size, bold),
            color=colour,
            ha=align,
            va="baseline",
            rotation=slant,
            rotation_mode="anchor",
            parse_math=False,
        )

    def line(self, x: float, y: float, to_x: float, **look: Any) -> None:
        """Draw a level line; `look` is matplotlib's."""
        self.stroke([(x, y), (to_x, y)], **look)

    def stroke(self, places: list[tuple[float, float]], **look: Any) -> None:
        """Draw a line through places (x, y)."""
        across = [x / A4_INCHES[0] for x, _ in places]
        up = [1 - y / A4_INCHES[1] for _, y in places]
        self.figure.add_artist(Line2D(across, up, **{"color": LINE, "linewidth": 0.6, **look}))

    def mark(self, x: float, y: float, shape: str, colour: str, size: float, *, filled: bool = True) -> None:
        """Draw one shape, centred."""
        fill: Any = colour if filled else "white"
        self.figure.add_artist(
            Line2D(
                [x / A4_INCHES[0]],
                [1 - y / A4_INCHES[1]],
                marker=shape,
                markersize=size,
                markerfacecolor=fill,
                markeredgecolor=colour,
                markeredgewidth=0.8,
                linestyle="none",
            )
        )

    def picture(self, x: float, y: float, width: float, height: float, jpeg: bytes) -> float:
        """Put a photograph with its upper left corner at a place, within a width and a height.

        Return how high it has become (inches).
        """
        with Image.open(BytesIO(jpeg)) as opened:
            opened.thumbnail((round(width * PHOTO_DPI), round(height * PHOTO_DPI)))
            pixels = np.asarray(opened.convert("RGB"))
        scale = min(width / pixels.shape[1], height / pixels.shape[0])
        wide, high = pixels.shape[1] * scale, pixels.shape[0] * scale
        place = (
            x / A4_INCHES[0],
            1 - (y + high) / A4_INCHES[1],
            wide / A4_INCHES[0],
            high / A4_INCHES[1],
        )
        axes = self.figure.add_axes(place)
        axes.imshow(pixels, aspect="auto")
        axes.set_axis_off()
        return float(high)

    def axes(self, top: float, height: float, *, share: Axes | None = None) -> Axes:
        """Return axes as wide as the text, without a frame."""
        place = (
            LEFT / A4_INCHES[0],
            1 - (top + height) / A4_INCHES[1],
            (RIGHT - LEFT) / A4_INCHES[0],
            height / A4_INCHES[1],
        )
        axes = self.figure.add_axes(place, sharex=share, facecolor="none")
        axes.spines[:].set_visible(False)
        axes.tick_params(colors=SOFT, labelsize=6.5, length=0, pad=3, labelfontfamily=FONT)
        return axes

    def width(self, words: str, size: float, bold: bool = False) -> float:
        """Return how wide a line of text is (inches)."""
        measured = self._renderer.get_text_width_height_descent(words, font(size, bold), ismath=False)  # type: ignore[no-untyped-call]
        width, _, _ = measured
        return float(width) / DPI

    def cut(self, words: str, size: float, within: float, bold: bool = False) -> str:
        """Return the words, or as many letters of them as fit, with an ellipsis."""
        if self.width(words, size, bold) <= within:
            return words
        fits, too_long = 0, len(words)
        while too_long - fits > 1:
            middle = (fits + too_long) // 2
            if self.width(words[:middle].rstrip() + "…", size, bold) <= within:
                fits = middle
            else:
                too_long = middle
        return words[:fits].rstrip() + "…"


def font(size: float, bold: bool = False) -> FontProperties:
    """Return the page's type in a size (points)."""
    return FontProperties(family=FONT, size=size, weight="bold" if bold else "normal")


def tidy(words: str) -> str:
    """Return the words on one line."""
    return " ".join(words.split())


def spread(wanted: list[float], gap: float, low: float, high: float) -> list[float]:
    """Return places near the wanted ones (rising), at least `gap` apart, between `low` and `high`.

    Where there is no room for the gap, the places are spaced evenly.
    """
    if len(wanted) > 1:
        gap = min(gap, (high - low) / (len(wanted) - 1))
    places: list[float] = []
    for place in wanted:
        places.append(max(place, low if not places else places[-1] + gap))
    limit = high
    for index in range(len(places) - 1, -1, -1):
        places[index] = min(places[index], limit)
        limit = places[index] - gap
    return places
