"""The report's second page: there when people said something, and nothing on it is lost in silence."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa
from matplotlib.image import AxesImage
from PIL import Image

from controller.record import tables
from controller.record.observing import write_observation, write_photo
from controller.record.opening import open_to_write
from controller.record.queries import Record
from controller.record.rows import PhotoRow
from controller.review.people import draw_people, has_people
from controller.review.report import draw, write_report
from controller.review.story import MOST_PHOTOS, tell
from tests.review.conftest import UTC_S

Fire = Callable[..., Path]
STOP = 3


def words(path: Path) -> list[str]:
    return [text.get_text() for text in draw_people(tell(Record(path), 1)).texts]


def pages(path: Path, folder: Path) -> int:
    pdf = write_report(Record(path), 1, folder).pdf.read_bytes()
    return len(re.findall(rb"/Type /Page\b(?!s)", pdf))


def say(path: Path, kind: str, stage: int | None = STOP, **fields: object) -> None:
    write_observation(path, 1, "page", kind, fields, UTC_S + 9000, stage)


def photograph(path: Path, of: str, number: int) -> None:
    out = io.BytesIO()
    Image.new("RGB", (80, 40), (number * 20, 0, 0)).save(out, "JPEG")
    row = PhotoRow(UTC_S, "page", STOP, of, f"picture {number}", "image/jpeg", 80, 40, out.getvalue())
    write_photo(path, 1, row)


def test_a_firing_of_which_nobody_said_anything_has_one_page(fire: Fire, tmp_path: Path) -> None:
    path = fire()
    assert not has_people(tell(Record(path), 1))
    assert pages(path, tmp_path) == 1


def test_what_people_saw_is_on_the_second_page(fire: Fire, tmp_path: Path) -> None:
    path = fire()
    say(path, "tick", says="Tray $5 taken out", done=True)
    say(path, "crack", how_many=2, where="rim", patched=True)
    say(path, "crack", how_many=0)
    say(path, "drained", kg=0.31)
    say(path, "rating", None, rating="scrap", reasons=["misrun", "crack"], says="thin at the ear")
    text = words(path)
    assert {
        "look and drain",
        "Tray $5 taken out",
        "2 cracks at the rim, patched",
        "looked, and found no cracks",
        "310 g of plastic drained",
        "The casting: scrap",
        "misrun, crack",
        "None was filled in.",
    } <= set(text)
    assert any(line.startswith("thin at the ear · page, ") for line in text)
    assert pages(path, tmp_path) == 2
    first = [line.get_text() for line in draw(tell(Record(path), 1)).texts]
    assert "firing 1 · casting: scrap" in first


def test_photographs_stand_below_those_of_the_casting_first(fire: Fire) -> None:
    path = fire()
    for number in range(MOST_PHOTOS):
        photograph(path, "crack", number)
    photograph(path, "casting", 9)
    figure = draw_people(tell(Record(path), 1))
    assert len(figure.findobj(AxesImage)) == MOST_PHOTOS
    captions = [text.get_text()[6:] for text in figure.texts if "picture" in text.get_text()]
    assert captions == ["picture 9", *(f"picture {n}" for n in range(MOST_PHOTOS - 1))]


def test_a_list_or_a_job_sheet_that_is_too_long_says_how_much_is_left_out(fire: Fire) -> None:
    path = fire()
    photograph(path, "shell", 1)
    for number in range(120):
        say(path, "tick", says=f"line {number}", done=False)
    engine = open_to_write(path)
    with engine.begin() as connection:
        text = "[pattern]\n" + "\n".join(f"key_{n} = {n}" for n in range(120))
        connection.execute(sa.insert(tables.job).values(firing=1, utc_s=1.0, by="page", text=text))
    engine.dispose()
    found = words(path)
    shown = sum(line.startswith("line ") for line in found)
    assert f"and {1 + 120 - shown - 1} more in the record" in found
    keys = sum(line.startswith("key_") for line in found)
    assert f"and {120 - keys} more lines in the record" in found
    assert 30 < shown < 70
