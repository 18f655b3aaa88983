"""The journal keeps everything, in order, once, and never makes its caller wait."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Event

import pytest
import sqlalchemy as sa

from controller.errors import RecordError
from controller.record import journal as journal_module
from controller.record import tables
from controller.record.journal import SQL, Journal, write_note
from controller.record.queries import Record
from controller.record.rows import FiringRow, TickRow

Ticks = Callable[..., TickRow]


def wait_for(true: Callable[[], object], at_most_s: float = 5.0) -> None:
    """Wait until something another thread does is done."""
    until_s = time.monotonic() + at_most_s
    while not true():
        assert time.monotonic() < until_s, "waited in vain"
        Event().wait(0.005)


def numbers(path: Path) -> list[int]:
    with closing(sqlite3.connect(path)) as connection:
        return [n for (n,) in connection.execute("SELECT n FROM tick ORDER BY firing, n")]


def test_what_is_put_in_comes_out_the_same(kept: Path, firing_row: FiringRow, tick_row: Ticks) -> None:
    record = Record(kept)
    firing = record.firing(1)
    assert (firing.start, firing.end_state) == (firing_row, "complete")
    assert (firing.ended_utc_s, firing.ended_mono_s) == (2_000_000_010.0, 510.0)
    assert [tick for _, tick in record.rows(1)] == [tick_row(n, stage=0 if n < 5 else 1) for n in range(10)]


def test_a_value_that_is_unknown_stays_unknown(
    journal: Journal, firing_row: FiringRow, tick_row: Ticks
) -> None:
    firing = journal.open_firing(firing_row)
    nothing = tick_row(0, stage=None, setpoint_c=None, air_c=None, limit_c=None, main_on=None)
    journal.tick(firing, nothing)
    journal.close()
    assert [tick for _, tick in Record(journal.path).rows(firing)] == [nothing]


def test_the_code_that_proves_presence_is_not_kept(kept: Path) -> None:
    (request,) = Record(kept).requests(1)
    assert request.args == {"why": "a look"}
    assert b"4711" not in kept.read_bytes()


def test_firings_are_numbered_on_across_a_restart(path: Path, firing_row: FiringRow) -> None:
    with Journal(path) as first:
        assert [first.open_firing(firing_row), first.open_firing(firing_row)] == [1, 2]
    with Journal(path) as second:
        assert second.open_firing(firing_row) == 3


def test_a_commit_comes_by_itself(journal: Journal, firing_row: FiringRow, tick_row: Ticks) -> None:
    journal.tick(journal.open_firing(firing_row), tick_row(0))
    wait_for(lambda: journal.waiting == 0)
    assert numbers(journal.path) == [0]


def test_a_locked_record_is_written_later_in_order_and_once(
    journal: Journal, firing_row: FiringRow, tick_row: Ticks
) -> None:
    firing = journal.open_firing(firing_row)
    wait_for(lambda: journal.waiting == 0)
    with closing(sqlite3.connect(journal.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        begun_s = time.monotonic()
        for n in range(300):
            journal.tick(firing, tick_row(n))
        assert time.monotonic() - begun_s < 5.0  # 300 ticks that waited for the lock would take 300 s
        wait_for(lambda: journal.healthy)
        assert "another program has locked it" in str(journal.healthy)
        assert journal.waiting == 300
        for n in range(300, 400):
            journal.tick(firing, tick_row(n))
        other.execute("ROLLBACK")
    wait_for(lambda: journal.waiting == 0)
    assert numbers(journal.path) == list(range(400))
    assert (journal.healthy, journal.lost) == (None, 0)


def test_a_full_disk_is_told_and_outlived(
    path: Path, firing_row: FiringRow, tick_row: Ticks, monkeypatch: pytest.MonkeyPatch
) -> None:
    from controller.record import opening

    pages = {"most": 1}  # SQLite says SQLITE_FULL beyond this many pages, just as on a full disk

    def on_a_small_disk(file: Path, mode: opening.Mode, wait_s: float) -> sqlite3.Connection:
        connection = plain_connect(file, mode, wait_s)
        connection.execute(f"PRAGMA max_page_count = {pages['most']}")
        return connection

    with Journal(path) as first:
        first.open_firing(firing_row)
    plain_connect = opening.connect
    monkeypatch.setattr(opening, "connect", on_a_small_disk)
    with Journal(path, flush_every_s=0.01) as journal:
        for n in range(500):
            journal.tick(1, tick_row(n))
        wait_for(lambda: journal.healthy)
        assert "the disk is full; 500 rows wait" in str(journal.healthy)
        assert numbers(path) == []
        pages["most"] = 10_000
        wait_for(lambda: journal.healthy is None)
    assert numbers(path) == list(range(500))


def test_when_memory_is_full_the_oldest_ticks_make_way(
    path: Path, firing_row: FiringRow, tick_row: Ticks
) -> None:
    journal = Journal(path, capacity=50)
    firing = journal.open_firing(firing_row)
    for n in range(100):
        journal.tick(firing, tick_row(n))
    assert (journal.waiting, journal.lost) == (50, 51)
    journal.start()
    assert journal.close() == 0
    assert numbers(path) == list(range(51, 100))
    assert Record(path).firing(firing).start == firing_row


def test_a_record_that_vanished_is_told_not_made_anew(
    journal: Journal, firing_row: FiringRow, tick_row: Ticks, monkeypatch: pytest.MonkeyPatch
) -> None:
    firing = journal.open_firing(firing_row)
    wait_for(lambda: journal.waiting == 0)
    journal._forget_connection()
    for file in journal.path.parent.glob("record.db*"):
        file.unlink()
    journal.tick(firing, tick_row(0))
    wait_for(lambda: journal.healthy)
    assert "it was removed" in str(journal.healthy)
    assert not journal.path.exists()


def test_a_record_that_is_removed_while_it_is_open_is_told_and_when_it_is_back_nothing_is_missing(
    journal: Journal, firing_row: FiringRow, tick_row: Ticks
) -> None:
    firing = journal.open_firing(firing_row)
    wait_for(lambda: journal.waiting == 0)
    aside = journal.path.parent / "aside"
    aside.mkdir()
    files = list(journal.path.parent.glob("record.db*"))
    for file in files:
        file.rename(aside / file.name)
    journal.tick(firing, tick_row(0))
    wait_for(lambda: journal.healthy)
    assert "it was removed; 1 rows wait" in str(journal.healthy)
    journal.path.touch()
    wait_for(lambda: "another file is in its place" in str(journal.healthy))
    for file in files:
        (aside / file.name).rename(file)
    wait_for(lambda: journal.waiting == 0)
    assert numbers(journal.path) == [0]


def test_an_impossible_row_does_not_stop_the_others(
    journal: Journal, firing_row: FiringRow, tick_row: Ticks, caplog: pytest.LogCaptureFixture
) -> None:
    firing = journal.open_firing(firing_row)
    for row in (tick_row(0), tick_row(1, state=None), tick_row(2, faults=object()), tick_row(0), tick_row(3)):
        journal.tick(firing, row)
    journal.tick(77, tick_row(0))
    assert journal.close() == 0
    assert numbers(journal.path) == [0, 3]
    assert (journal.lost, journal.healthy) == (4, None)
    assert "refused tick" in caplog.text


def test_a_disk_that_hangs_is_told(
    journal: Journal, firing_row: FiringRow, monkeypatch: pytest.MonkeyPatch
) -> None:
    inside, go_on = Event(), Event()

    def hang(batch: object) -> int:
        inside.set()
        go_on.wait(5)
        return 0

    monkeypatch.setattr(journal, "_write", hang)
    monkeypatch.setattr(journal_module, "SLOW_AFTER_S", 0.02)
    journal.open_firing(firing_row)
    assert inside.wait(5)
    wait_for(lambda: journal.healthy)
    assert "has not answered" in str(journal.healthy)
    assert journal.close(within_s=0.01) == 1  # it does not wait for ever, and says what is not written
    go_on.set()


def test_the_latest_firing_without_an_end_is_found_after_a_crash(
    path: Path, firing_row: FiringRow, tick_row: Ticks
) -> None:
    with Journal(path) as journal:
        assert journal.latest_unfinished() is None
        journal.close_firing(journal.open_firing(firing_row), "complete", 1.0)
        journal.tick(journal.open_firing(firing_row), tick_row(7))
    with Journal(path) as journal:
        found = journal.latest_unfinished()
        assert found is not None
        assert (found.firing.id, found.last) == (2, tick_row(7))
        journal.close_firing(2, "aborted", 2.0)
    with Journal(path) as journal:
        assert journal.latest_unfinished() is None


def test_a_note_is_written_beside_a_running_journal(journal: Journal, firing_row: FiringRow) -> None:
    firing = journal.open_firing(firing_row)
    wait_for(lambda: journal.waiting == 0)
    write_note(journal.path, firing, "bench", "patched", 5.0)
    assert [(note.by, note.text) for note in Record(journal.path).notes(firing)] == [("bench", "patched")]


def test_a_note_for_no_firing_is_one_line(kept: Path) -> None:
    with pytest.raises(RecordError, match=r"found no firing 9, expected a number up to 1") as error:
        write_note(kept, 9, "bench", "?", 5.0)
    assert "\n" not in str(error.value)


def test_the_writers_statements_name_the_columns_in_the_order_of_the_rows() -> None:
    def columns(kind: str) -> list[str]:
        return SQL[kind].split("(")[1].split(")")[0].replace('"', "").split(", ")

    assert columns("begin") == ["id", *FiringRow._fields]
    assert columns("tick") == ["firing", *TickRow._fields] == [c.name for c in tables.tick.c]
    assert columns("event") == ["firing", "utc_s", "mono_s", "kind", "fields", "severity"]
    assert columns("request")[3:] == ["by", "kind", "args", "accepted", "says", "n"]


def test_the_writer_waits_for_the_disk_and_minds_foreign_keys(journal: Journal) -> None:
    assert journal._engine is not None
    with journal._engine.connect() as connection:
        found = [connection.scalar(sa.text(f"PRAGMA {name}")) for name in ("synchronous", "foreign_keys")]
        assert found == [2, 1]
        assert connection.scalar(sa.text("PRAGMA journal_mode")) == "wal"
