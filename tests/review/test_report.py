"""The report is one page that says what happened, whatever happened."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.lines import Line2D

from controller.errors import RecordError, UsageError
from controller.record.jobs import write_job
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.record.rows import TickRow
from controller.review.look import A4_INCHES, DPI, Page, spread
from controller.review.marks import DRAWN_OTHERWISE, marks
from controller.review.plot import minute_means
from controller.review.report import draw, write_report
from controller.review.story import tell

Fire = Callable[..., Path]


def words(figure: Figure) -> list[str]:
    """Return every line of text that stands on a page."""
    return [text.get_text() for text in figure.texts]


def drawn(path: Path) -> tuple[Figure, list[str]]:
    figure = draw(tell(Record(path), 1))
    return figure, words(figure)


def test_a_report_is_a_pdf_and_a_picture(fire: Fire, tmp_path: Path) -> None:
    report = write_report(Record(fire()), 1, tmp_path / "new" / "folder")
    assert report.pdf.name == "report-1.pdf"
    pdf = report.pdf.read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert pdf.rstrip().endswith(b"%%EOF")
    assert len(re.findall(rb"/Type /Page\b(?!s)", pdf)) == 1
    picture = imread(report.png)[..., :3]
    assert picture.shape[:2] == (int(A4_INCHES[1] * DPI), int(A4_INCHES[0] * DPI))
    ink = (picture.mean(axis=2) < 0.5).mean()
    assert 0.005 < ink < 0.2


def test_the_page_names_the_firing_and_its_result(fire: Fire) -> None:
    figure, text = drawn(fire())
    assert "Small bowl, two coats $5 and 3 % more" in text
    assert not any(line.get_parse_math() for line in figure.texts)  # dollar signs make no formula
    assert {"complete", "firing 1", "stokehold 0.1.0 · small_bowl.toml"} <= set(text)
    assert any("Bench kiln (simulated)" in line for line in text)


def test_the_page_tells_the_job_sheet_where_there_is_one(fire: Fire) -> None:
    path = fire()
    assert not any(line.startswith("Job sheet") for line in drawn(path)[1])
    write_job(path, 1, "page", 'title = "Otter"\n[pattern]\nmass = "480 g"\n', 7.0)
    assert "Job sheet: Otter, 480 g" in drawn(path)[1]


def test_what_happened_is_numbered_and_in_words(fire: Fire) -> None:
    figure, text = drawn(fire(trip=True, end_state="aborted"))
    assert any(line.startswith("Trip: The air rises with the heat off") for line in text)
    assert any(line.startswith("Note by bench: two hairline cracks") for line in text)
    trip = next(t for t in figure.texts if t.get_text().startswith("Trip"))
    assert trip.get_color() == "#c01425"
    assert trip.get_fontweight() == "bold"
    diamonds = [line for line in figure.findobj(Line2D) if line.get_marker() == "D"]
    assert len(diamonds) == 3  # at the result, below the plot, in the list
    assert {line.get_markerfacecolor() for line in diamonds} == {"#c01425"}


def test_stages_have_names_times_and_temperatures(fire: Fire) -> None:
    _, text = drawn(fire())
    for name in ("dry", "dry through", "melt", "look and drain", "burn out and fire", "sinter", "end"):
        assert text.count(name) == 2  # above the plot and in the table
    assert {"over K", "error K", "Peak air", "Energy, from stated power"} <= set(text)


def test_the_plot_shows_each_measured_line_and_the_plan(fire: Fire) -> None:
    figure, text = drawn(fire())
    assert {"air", "load", "limit", "setpoint", "plan, had nothing waited"} <= set(text)
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 2]
    assert len(lines) == 5
    tops = sorted(float(np.nanmax(line.get_ydata())) for line in lines)
    assert tops[0] == pytest.approx(800.0, abs=10)


def test_a_line_that_was_not_measured_is_not_promised(fire: Fire) -> None:
    _, text = drawn(fire(change=lambda row: row._replace(load_c=None, limit_c=None)))
    assert {"load", "limit", "Peak load", "Peak limit sensor"} & set(text) == set()


def test_a_gap_in_the_readings_stays_a_gap(fire: Fire) -> None:
    def silent(row: TickRow) -> TickRow:
        return row._replace(air_c=None) if 9000 < row.mono_s < 9600 else row

    story = tell(Record(fire(change=silent, every_s=2.0)), 1)
    assert len(story.drawn) < len(story.curve)
    inside = (story.drawn.t_s > 8950) & (story.drawn.t_s < 9450)
    assert np.isnan(story.drawn.air_c[inside]).all()
    assert inside.any()


def test_a_schedule_that_cannot_be_read_costs_the_plan_only(fire: Fire) -> None:
    _, text = drawn(fire(schedule_text="= what?"))
    assert not any(words.startswith("plan") for words in text)
    assert {"air", "stage 1", "Peak air"} <= set(text)


def test_a_firing_without_a_single_tick_still_has_a_page(fire: Fire, tmp_path: Path) -> None:
    path = fire(end_state=None)
    with Journal(path) as journal:
        start = Record(path).firing(1).start
        journal.open_firing(start._replace(kiln_text="", schedule_text=""))
    report = write_report(Record(path), 2, tmp_path)
    assert report.measures.duration_h == 0.0
    assert "0 ticks in the record" in words(draw(tell(Record(path), 2)))


def test_a_firing_that_never_ended_says_so(fire: Fire) -> None:
    _, text = drawn(fire(end_state=None))
    assert "without an end" in text


def flood(path: Path, count: int, **fields: object) -> None:
    with Journal(path) as journal:
        for number in range(count):
            at_s = 200.0 * number
            said = {"says": f"Door {number}", "found": "x", "row": f"door {number}", **fields}
            journal.event(1, "alarm_cleared", said, "info", 1_950_000_000 + at_s, 100 + at_s)


def test_a_flood_of_events_leaves_out_the_lightest_and_says_how_many(fire: Fire) -> None:
    path = fire(trip=True)
    flood(path, 80)
    story = tell(Record(path), 1)
    found = marks(story.events, story.notes, story.curve, 12)
    assert len(found.shown) == 12
    assert [mark.number for mark in found.shown] == list(range(1, 13))
    assert [mark.t_s for mark in found.shown] == sorted(mark.t_s for mark in found.shown)
    assert {"alarm", "warning", "note", "person"} <= {mark.severity for mark in found.shown}
    told = [event for event in story.events if event.kind not in DRAWN_OTHERWISE]
    assert found.left_out == len(told) + len(story.notes) - 12
    assert any(line.startswith("and ") and "more in the record" in line for line in words(draw(story)))


def test_what_comes_again_and_again_is_told_once_with_its_count(fire: Fire) -> None:
    path = fire(trip=True)
    before = tell(Record(path), 1)
    flood(path, 50, row="fan")
    story = tell(Record(path), 1)
    found = marks(story.events, story.notes, story.curve, 100)
    assert len(found.shown) == len(marks(before.events, before.notes, before.curve, 100).shown) + 1
    (again,) = [mark for mark in found.shown if "times" in mark.says]
    assert again.says == "Back to normal: Door 0 – 50 times, the last at 2:43"


def test_a_note_from_after_the_firing_wears_its_date(fire: Fire) -> None:
    path = fire()
    with Journal(path) as journal:
        journal.note(1, "console", "poured well", 1_950_000_000.0 + 9e6)
    assert any(re.match(r"Note by console on 20\d\d-.*: poured well", line) for line in drawn(path)[1])


def test_everything_stays_on_the_page(fire: Fire) -> None:
    figure, _ = drawn(fire(title="Long " * 60, kiln_name="Kiln " * 60, schedule_name="x" * 20))
    renderer = figure.canvas.get_renderer()
    width, height = figure.bbox.width, figure.bbox.height
    for text in figure.texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0, text
        assert box.x1 <= width, text
        assert box.y0 >= 0, text
        assert box.y1 <= height, text


def test_twelve_hours_of_one_second_ticks_draw_quickly(fire: Fire, tmp_path: Path) -> None:
    path = fire(every_s=0.7)
    begun_s = time.process_time()
    write_report(Record(path), 1, tmp_path)
    assert Record(path).summary(1).ticks > 38_000
    assert time.process_time() - begun_s < 6.0  # about 1.3 s; three times that and more on a slow machine


def test_no_such_firing(fire: Fire, tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="found no firing 9"):
        write_report(Record(fire()), 9, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written(fire: Fire, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(UsageError, match="cannot be written") as error:
        write_report(Record(fire()), 1, tmp_path / "file")
    assert "\n" not in str(error.value)


def test_duty_is_the_mean_of_each_minute(fire: Fire) -> None:
    path = fire(every_s=20.0, change=lambda row: row._replace(duty=(row.n % 3) / 2))
    hours, duty = minute_means(Record(path).ticks(1))
    assert list(hours[:3]) == [0.0, 1 / 60, 2 / 60]
    assert duty[:5].tolist() == [0.5] * 5


def test_places_are_spread_without_leaving_the_lane() -> None:
    assert spread([1.0, 2.0], 0.5, 0.0, 3.0) == [1.0, 2.0]
    assert spread([1.0, 1.1, 1.2], 0.5, 0.0, 3.0) == [1.0, 1.5, 2.0]
    assert spread([2.9, 2.9, 2.9], 0.5, 0.0, 3.0) == [2.0, 2.5, 3.0]
    assert spread([2.0] * 5, 1.0, 0.0, 2.0) == pytest.approx([0.0, 0.5, 1.0, 1.5, 2.0])
    assert spread([], 1.0, 0.0, 1.0) == []


def test_words_are_cut_to_their_room() -> None:
    page = Page()
    cut = page.cut("a rather long sentence", 7.0, 0.6)
    assert cut.endswith("…")
    assert page.width(cut, 7.0) <= 0.6
    assert page.cut("short", 7.0, 0.6) == "short"
