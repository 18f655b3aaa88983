"""Draws the block diagrams of these notes as SVG. `python hardware_notes/diagrams/draw.py` writes them anew.

A diagram is data: boxes with lines of text, arrows between points, notes. Sizes are in pixels. Greys only,
a thick edge for what must work without the computer, a broken edge or line for what the computer tells.
A test holds the files to this script, the text inside its box and the boxes apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from xml.sax.saxutils import escape

HERE = Path(__file__).parent
LETTER = 7.2  # a letter of 12 px in a common sans-serif face is at most about this wide on average
LINE = 16


class Box(NamedTuple):
    """A block. `kind`: "alone" works without the computer, "told" does what the computer says, "plain"."""

    x: int
    y: int
    w: int
    h: int
    text: str
    kind: str = "plain"


class Arrow(NamedTuple):
    """A line through points, with a head at its end. `told`: a command or a reading, not power."""

    points: tuple[tuple[int, int], ...]
    told: bool = False


class Note(NamedTuple):
    """A line of text that starts at a point."""

    x: int
    y: int
    text: str


class Diagram(NamedTuple):
    """One file."""

    name: str
    title: str
    w: int
    h: int
    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]
    notes: tuple[Note, ...] = ()


POWER = Diagram(
    "power",
    "The way of the heat: supply, limit, main contactor, relay, elements",
    860,
    330,
    (
        Box(10, 40, 120, 60, "supply, fuse,\nisolator, earth", "alone"),
        Box(170, 40, 140, 60, "independent\nlimit's contactor", "alone"),
        Box(350, 40, 140, 60, "main contactor", "told"),
        Box(530, 40, 140, 60, "relay\n(lease runs here)", "told"),
        Box(710, 40, 130, 60, "elements"),
        Box(170, 160, 140, 70, "independent limit:\nown sensor,\nmanual reset", "alone"),
        Box(350, 160, 140, 70, "emergency stop,\nkey, door switch\nin the coil's line", "alone"),
        Box(530, 160, 140, 70, "relay board:\ncoils, time-out,\nread-back"),
        Box(350, 270, 140, 40, "contacts board"),
        Box(710, 160, 130, 70, "reader: air,\nload and limit\nthermocouples"),
        Box(530, 270, 310, 40, "computer: guard, and all the rest"),
    ),
    (
        Arrow(((130, 70), (170, 70))),
        Arrow(((310, 70), (350, 70))),
        Arrow(((490, 70), (530, 70))),
        Arrow(((670, 70), (710, 70))),
        Arrow(((240, 160), (240, 100))),
        Arrow(((420, 160), (420, 100))),
        Arrow(((600, 160), (600, 100)), True),
        Arrow(((530, 195), (490, 195)), True),
        Arrow(((600, 270), (600, 230)), True),
        Arrow(((775, 230), (775, 270)), True),
        Arrow(((420, 230), (420, 270)), True),
        Arrow(((490, 290), (530, 290)), True),
    ),
    (
        Note(10, 180, "thick edge:"),
        Note(10, 196, "works without"),
        Note(10, 212, "the computer"),
        Note(10, 244, "broken edge or line:"),
        Note(10, 260, "told by it, or tells it"),
    ),
)

COIL = Diagram(
    "coil",
    "The main contactor's coil: a chain in which anything that opens, opens the contactor",
    860,
    220,
    (
        Box(10, 40, 90, 50, "24 V, fuse", "alone"),
        Box(130, 40, 130, 50, "emergency stop,\nopens when hit", "alone"),
        Box(290, 40, 110, 50, "key switch", "alone"),
        Box(430, 40, 120, 50, "door switch,\nopens by force", "alone"),
        Box(580, 40, 110, 50, "guard's\noutput", "told"),
        Box(720, 40, 120, 50, "coil of the main\ncontactor, 0 V", "alone"),
        Box(130, 140, 420, 40, "contacts board: a second contact of each, closed when well"),
        Box(720, 140, 120, 40, "auxiliary\ncontact", "alone"),
        Box(580, 140, 110, 40, "read-back"),
    ),
    (
        Arrow(((100, 65), (130, 65))),
        Arrow(((260, 65), (290, 65))),
        Arrow(((400, 65), (430, 65))),
        Arrow(((550, 65), (580, 65))),
        Arrow(((690, 65), (720, 65))),
        Arrow(((195, 90), (195, 140)), True),
        Arrow(((345, 90), (345, 140)), True),
        Arrow(((490, 90), (490, 140)), True),
        Arrow(((780, 90), (780, 140))),
        Arrow(((720, 160), (690, 160)), True),
    ),
    (Note(10, 205, "The independent limit has a chain and a contactor of its own, and is not in this one."),),
)

BUS = Diagram(
    "rs485",
    "RS-485: one line from end to end, no star, no long branches",
    860,
    240,
    (
        Box(10, 60, 110, 60, "computer"),
        Box(160, 60, 140, 60, "adapter, isolated,\n120 ohm, bias"),
        Box(360, 60, 120, 60, "reader\n(unit 1)"),
        Box(540, 60, 120, 60, "relay board\n(unit 2)"),
        Box(720, 60, 130, 60, "contacts\n(unit 3), 120 ohm"),
        Box(360, 170, 120, 40, "earth, here only", "alone"),
    ),
    (
        Arrow(((120, 90), (160, 90))),
        Arrow(((300, 80), (360, 80))),
        Arrow(((300, 100), (360, 100))),
        Arrow(((480, 80), (540, 80))),
        Arrow(((480, 100), (540, 100))),
        Arrow(((660, 80), (720, 80))),
        Arrow(((660, 100), (720, 100))),
        Arrow(((330, 100), (330, 190), (360, 190))),
    ),
    (
        Note(10, 150, "upper line: twisted pair, A and B; lower line: common"),
        Note(500, 150, "the shield is joined all along,"),
        Note(500, 166, "and earthed at one end"),
    ),
)

PLACES = Diagram(
    "places",
    "Where the thermocouples go (a front-loading kiln, seen from the side)",
    640,
    330,
    (
        Box(110, 50, 420, 230, ""),
        Box(120, 100, 70, 130, "elements"),
        Box(450, 100, 70, 130, "elements"),
        Box(260, 120, 110, 110, "shell, cup\ndown, on\nprops"),
        Box(260, 245, 110, 25, "dry tray"),
        Box(210, 55, 130, 25, "air: under roof"),
        Box(380, 55, 145, 25, "limit: its own hole", "alone"),
        Box(375, 180, 70, 40, "load: at\nthe wall"),
        Box(10, 120, 90, 50, "door, with\nits switch", "alone"),
        Box(540, 60, 90, 40, "vent and\nextraction"),
    ),
    (
        Arrow(((275, 20), (275, 55))),
        Arrow(((452, 20), (452, 55))),
        Arrow(((570, 255), (410, 255), (410, 220))),
        Arrow(((530, 80), (540, 80))),
    ),
    (
        Note(110, 305, "No tip sees an element closer than 50 mm (common practice, no source)."),
        Note(10, 190, "open: heat is cut"),
    ),
)

DIAGRAMS = (POWER, COIL, BUS, PLACES)

STYLE = """  text { font: 12px sans-serif; fill: #222 }
  .title { font-weight: bold }
  rect { fill: #f4f4f4; stroke: #555; stroke-width: 1.2 }
  .alone { stroke-width: 3; stroke: #222 }
  .told { stroke-dasharray: 6 3 }
  path { fill: none; stroke: #555; stroke-width: 1.5; marker-end: url(#head) }
  path.told { stroke-dasharray: 5 3 }
"""


def svg(diagram: Diagram) -> str:
    """Return a diagram as the text of an SVG file."""
    return "\n".join(_lines(diagram)) + "\n"


def _lines(diagram: Diagram) -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{diagram.w}" height="{diagram.h}" '
        f'viewBox="0 0 {diagram.w} {diagram.h}" role="img">'
    )
    yield f"<title>{escape(diagram.title)}</title>"
    yield f"<style>\n{STYLE}</style>"
    yield (
        '<defs><marker id="head" viewBox="0 0 8 8" refX="8" refY="4" markerWidth="7" markerHeight="7" '
        'orient="auto"><polygon points="0 0, 8 4, 0 8" fill="#555"/></marker></defs>'
    )
    yield f'<rect width="{diagram.w}" height="{diagram.h}" style="fill: #fff; stroke: none"/>'
    yield f'<text class="title" x="10" y="18">{escape(diagram.title)}</text>'
    for box in diagram.boxes:
        yield from _box(box)
    for arrow in diagram.arrows:
        way = " L ".join(f"{x} {y}" for x, y in arrow.points)
        yield f'<path class="{"told" if arrow.told else "plain"}" d="M {way}"/>'
    for note in diagram.notes:
        yield f'<text x="{note.x}" y="{note.y}">{escape(note.text)}</text>'
    yield "</svg>"


def _box(box: Box) -> Iterator[str]:
    yield (f'<rect class="{box.kind}" x="{box.x}" y="{box.y}" width="{box.w}" height="{box.h}" rx="3"/>')
    lines = box.text.split("\n") if box.text else []
    top = box.y + (box.h - LINE * len(lines)) / 2 + 12
    for place, line in enumerate(lines):
        x, y = box.x + box.w / 2, top + LINE * place
        yield f'<text x="{x:g}" y="{y:g}" text-anchor="middle">{escape(line)}</text>'


def main() -> None:
    """Write every diagram beside this script."""
    for diagram in DIAGRAMS:
        (HERE / f"{diagram.name}.svg").write_text(svg(diagram), encoding="utf-8")


if __name__ == "__main__":
    main()
