"""The diagrams are what the script draws, and can be read: text inside its box, boxes apart."""

from __future__ import annotations

import importlib.util
import itertools
import xml.etree.ElementTree as ET
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

FOLDER = Path(__file__).parents[2] / "hardware_notes/diagrams"


def drawn() -> ModuleType:
    spec = importlib.util.spec_from_file_location("draw", FOLDER / "draw.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


DRAW = drawn()
EACH = pytest.mark.parametrize("diagram", DRAW.DIAGRAMS, ids=lambda diagram: diagram.name)


@EACH
def test_the_file_is_what_the_script_draws(diagram: Any) -> None:
    assert (FOLDER / f"{diagram.name}.svg").read_text(encoding="utf-8") == DRAW.svg(diagram)


def test_no_file_is_left_that_no_script_draws() -> None:
    assert {path.stem for path in FOLDER.glob("*.svg")} == {diagram.name for diagram in DRAW.DIAGRAMS}


@EACH
def test_it_is_well_formed_and_has_a_title(diagram: Any) -> None:
    root = ET.fromstring(DRAW.svg(diagram))
    assert root.findtext("{http://www.w3.org/2000/svg}title") == diagram.title


@EACH
def test_every_text_fits_into_its_box_and_every_box_onto_the_sheet(diagram: Any) -> None:
    for box in diagram.boxes:
        lines = box.text.split("\n")
        assert max(map(len, lines)) * DRAW.LETTER <= box.w, box.text
        assert len(lines) * DRAW.LINE <= box.h, box.text
        assert box.x >= 0
        assert box.x + box.w <= diagram.w, box.text
        assert box.y + box.h <= diagram.h, box.text
    for note in diagram.notes:
        assert note.x + len(note.text) * DRAW.LETTER <= diagram.w, note.text
    assert 10 + len(diagram.title) * DRAW.LETTER <= diagram.w


@EACH
def test_no_two_boxes_with_text_overlap(diagram: Any) -> None:
    boxes = [box for box in diagram.boxes if box.text]
    for a, b in itertools.combinations(boxes, 2):
        apart = a.x + a.w <= b.x or b.x + b.w <= a.x or a.y + a.h <= b.y or b.y + b.h <= a.y
        assert apart, (a.text, b.text)
