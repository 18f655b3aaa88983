"""The queries give what was kept, and can change nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from controller.errors import RecordError, UsageError
from controller.record.curve import NO_STAGE
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.record.rows import FiringRow, TickRow

Ticks = Callable[..., TickRow]


def test_a_query_cannot_write(kept: Path) -> None:
    record = Record(kept)
    with record._engine.connect() as connection, pytest.raises(sa.exc.OperationalError, match="readonly"):
        connection.execute(sa.text("DELETE FROM tick"))
    assert len(record.ticks(1)) == 10


def test_the_list_tells_each_firing_in_a_line(kept: Path) -> None:
    (line,) = Record(kept).firings()
    assert (line.id, line.title, line.kiln_name, line.end_state) == (1, "Two steps", "Test kiln", "complete")
    assert (line.ticks, line.duration_s) == (10, 9.0)
    assert line.peak_air_c == pytest.approx(19.5 + 9 / 60)
    assert Record(kept).summary(1) == line


def test_the_list_pages_backwards(path: Path, firing_row: FiringRow) -> None:
    with Journal(path) as journal:
        for _ in range(5):
            journal.open_firing(firing_row)
    record = Record(path)
    assert [line.id for line in record.firings(2)] == [5, 4]
    assert [line.id for line in record.firings(2, before=4)] == [3, 2]
    (empty, *_) = record.firings(1)
    assert (empty.ticks, empty.peak_air_c, empty.duration_s, empty.end_state) == (0, None, 0.0, None)


def test_ticks_are_columns(kept: Path) -> None:
    curve = Record(kept).ticks(1)
    assert list(curve.t_s) == list(range(10))
    assert list(curve.utc_s) == [2_000_000_000.0 + n for n in range(10)]
    assert curve.air_c[6] == pytest.approx(19.6)
    assert np.isnan(curve.load_c).all()
    assert list(curve.heat_on) == [n % 4 == 0 for n in range(10)]
    assert list(curve.stage) == [0] * 5 + [1] * 5


def test_ticks_can_be_asked_for_in_part(kept: Path) -> None:
    record = Record(kept)
    assert list(record.ticks(1, after_n=6).n) == [7, 8, 9]
    assert list(record.ticks(1, after_n=6).t_s) == [7.0, 8.0, 9.0]
    assert list(record.ticks(1, every=4).n) == [0, 4, 8]
    assert len(record.ticks(1, after_n=9)) == 0


def test_a_firing_without_ticks_has_an_empty_curve(path: Path, firing_row: FiringRow) -> None:
    with Journal(path) as journal:
        journal.open_firing(firing_row)
    assert len(Record(path).ticks(1)) == 0
    assert len(Record(path).thinned(1)) == 0


def test_no_stage_is_no_stage(path: Path, firing_row: FiringRow, tick_row: Ticks) -> None:
    with Journal(path) as journal:
        journal.tick(journal.open_firing(firing_row), tick_row(0, stage=None))
    assert list(Record(path).ticks(1).stage) == [NO_STAGE]


def test_time_goes_on_when_the_computer_starts_anew(
    path: Path, firing_row: FiringRow, tick_row: Ticks
) -> None:
    with Journal(path) as journal:
        firing = journal.open_firing(firing_row)
        for n in range(4):
            journal.tick(firing, tick_row(n))
        for n in range(4, 7):  # the clock begins again at 2 s, a minute after the last tick
            journal.tick(firing, tick_row(n, mono_s=2.0 + n - 4, utc_s=2_000_000_063.0 + n - 4))
        journal.event(firing, "a", {}, "info", utc_s=2_000_000_001.0, mono_s=501.0)
        journal.event(firing, "b", {}, "info", utc_s=2_000_000_063.5, mono_s=2.5)
    record = Record(path)
    assert list(record.ticks(1).t_s) == [0, 1, 2, 3, 63, 64, 65]
    assert list(record.ticks(1, after_n=4).t_s) == [64, 65]
    assert [t_s for t_s, _ in record.rows(1)] == [0, 1, 2, 3, 63, 64, 65]
    assert [event.t_s for event in record.events(1)] == [1.0, 63.5]
    assert record.summary(1).duration_s == 65.0


def test_thinning_keeps_every_peak_gap_and_corner(path: Path, firing_row: FiringRow, tick_row: Ticks) -> None:
    with Journal(path) as journal:
        firing = journal.open_firing(firing_row)
        for n in range(20_000):
            row = tick_row(n, stage=0 if n < 7777 else 1, air_c=20.0 + n / 1000, load_c=10.0)
            if n == 3210:
                row = row._replace(air_c=999.0)
            if n == 15_003:
                row = row._replace(load_c=-40.0)
            if n == 9999:
                row = row._replace(limit_c=None)
            journal.tick(firing, row)
    whole, thinned = Record(path).ticks(1), Record(path).thinned(1, 300)
    assert len(thinned) <= 304  # and the ends, and the change of stage
    assert {0, 3210, 7776, 7777, 9999, 15_003, 19_999} <= set(thinned.n.tolist())
    assert (np.diff(thinned.n) > 0).all()
    assert thinned.air_c.tolist() == whole.air_c[thinned.n].tolist()  # real rows, not means


def test_a_short_curve_is_not_thinned(kept: Path) -> None:
    assert len(Record(kept).thinned(1, 10)) == 10


def test_events_requests_and_notes_come_with_their_times(kept: Path) -> None:
    record = Record(kept)
    (event,) = record.events(1)
    assert (event.kind, event.fields, event.severity, event.t_s) == (
        "stage_begins",
        {"stage": "dry"},
        "info",
        3.5,
    )
    (request,) = record.requests(1)
    assert (request.by, request.kind, request.accepted, request.says) == ("page", "hold", True, "held")
    assert request.t_s == 4.0
    assert [note.text for note in record.notes(1)] == ["two hairline cracks"]


@pytest.mark.parametrize("asked", ["1", "last"])
def test_a_firing_is_asked_for_by_number_or_as_the_last(kept: Path, asked: str) -> None:
    assert Record(kept).number(asked) == 1


def test_what_is_no_firing_is_told_in_a_line(kept: Path) -> None:
    with pytest.raises(RecordError, match='found no firing 2, expected a number up to 1, or "last"'):
        Record(kept).number("2")
    with pytest.raises(UsageError, match='found "first", expected a number or "last"'):
        Record(kept).number("first")


def test_an_empty_record_has_no_last_firing(path: Path) -> None:
    Journal(path).start().close()
    with pytest.raises(RecordError, match="found no firing, expected at least one"):
        Record(path).number("last")
    with pytest.raises(RecordError, match="of which there is none yet"):
        Record(path).firing(1)


def test_a_reader_does_not_stop_the_writer(journal: Journal, firing_row: FiringRow, tick_row: Ticks) -> None:
    firing = journal.open_firing(firing_row)
    journal.tick(firing, tick_row(0))
    journal.tick(firing, tick_row(1))
    until_s = time.monotonic() + 5
    while journal.waiting and time.monotonic() < until_s:
        time.sleep(0.005)  # another thread writes
    rows = Record(journal.path).rows(firing)
    assert next(rows)[1].n == 0  # a reading transaction is open now
    journal.tick(firing, tick_row(2))
    assert journal.close() == 0
    assert [tick.n for _, tick in rows] == [1]  # and sees the record as it was when it began
    assert len(Record(journal.path).ticks(firing)) == 3
