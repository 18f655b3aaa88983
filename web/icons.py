"""Draws the home screen's icons from our own icon.svg, as PNG, for phones that take no SVG.

    icon-180.png, icon-512-full.png  the ground fills the square: the phone rounds it as it likes
    icon-192.png, icon-512.png       with the SVG's own round corners

Reads just what icon.svg uses: one rectangle, and one stroked path of straight lines (M, L, H, V, absolute
or relative). Anything else there is an error, so that the two never differ.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from PIL import Image, ImageDraw

SVG = "{http://www.w3.org/2000/svg}"
# Drawn this many times larger and scaled down: smooth edges.
FINER = 4
WANTED = (("icon-180.png", 180, True), ("icon-192.png", 192, False), ("icon-512.png", 512, False),
          ("icon-512-full.png", 512, True))  # fmt: skip

Point = tuple[float, float]


class Icon(NamedTuple):
    """What icon.svg says: the ground with its corner's radius, and the mark, in units of its own `size`."""

    size: float
    radius: float
    ground: str
    mark: tuple[Point, ...]
    stroke: str
    width: float


def read(path: Path) -> Icon:
    """Return what the SVG says. Raises ValueError for anything that this cannot draw."""
    root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
    if [child.tag for child in root] != [f"{SVG}rect", f"{SVG}path"]:
        raise ValueError(f"{path.name}: expected one rect and one path")
    rect, mark = root
    size = float(root.attrib["viewBox"].split()[2])
    return Icon(
        size, float(rect.attrib["rx"]), rect.attrib["fill"], points(mark.attrib["d"]), mark.attrib["stroke"],
        float(mark.attrib["stroke-width"]),
    )  # fmt: skip


def points(path: str) -> tuple[Point, ...]:
    """Return the corners of a path of straight lines."""
    found: list[Point] = []
    for letter, rest in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        numbers = [float(number) for number in re.findall(r"-?[\d.]+", rest)]
        if letter.upper() not in "MLHV":
            raise ValueError(f"a path's {letter!r} cannot be drawn here")
        at = found[-1] if found else (0.0, 0.0)
        base = at if letter.islower() else (0.0, 0.0)
        if letter.upper() == "H":
            found += [(base[0] + x, at[1]) for x in numbers]
        elif letter.upper() == "V":
            found += [(at[0], base[1] + y) for y in numbers]
        else:
            pairs = zip(numbers[::2], numbers[1::2], strict=True)
            found += [(base[0] + x, base[1] + y) for x, y in pairs]
    return tuple(found)


def draw(icon: Icon, pixels: int, full: bool) -> Image.Image:
    """Return the icon so many pixels wide; `full`: without round corners."""
    scale = pixels * FINER / icon.size
    image = Image.new("RGBA", (pixels * FINER, pixels * FINER), (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    edge = pixels * FINER - 1
    pen.rounded_rectangle((0, 0, edge, edge), 0 if full else icon.radius * scale, fill=icon.ground)
    corners = [(x * scale, y * scale) for x, y in icon.mark]
    pen.line(corners, fill=icon.stroke, width=round(icon.width * scale))
    half = icon.width * scale / 2
    for x, y in corners:  # round ends and corners
        pen.ellipse((x - half, y - half, x + half, y + half), fill=icon.stroke)
    return image.resize((pixels, pixels), Image.Resampling.LANCZOS)


def write(svg: Path, folder: Path) -> None:
    """Draw every icon into a folder."""
    icon = read(svg)
    for name, pixels, full in WANTED:
        draw(icon, pixels, full).save(folder / name, optimize=True)
