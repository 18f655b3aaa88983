"""The job sheets that a firing carries: kept with its start, made newer later, never changed."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.errors import RecordError, UsageError
from controller.record.export import export_job
from controller.record.jobs import LONGEST_JOB, JobSeen, job_of, jobs_of, write_job
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.record.rows import FiringRow, TickRow

SHEET = 'title = "Otter"\n[pattern]\nmass = "480 g"\n'
NEWER = SHEET + 'drained = "310 g"\n'


def test_a_sheet_comes_with_the_firing_and_a_newer_one_counts(path: Path, firing_row: FiringRow) -> None:
    with Journal(path) as journal:
        firing = journal.open_firing(firing_row)
        journal.job(firing, "page", SHEET, 10.0)
    assert job_of(path, firing) == JobSeen(1, 10.0, "page", SHEET)
    write_job(path, firing, "console", NEWER, 20.0)
    assert [sheet.text for sheet in jobs_of(path, firing)] == [SHEET, NEWER]
    assert job_of(path, firing) == JobSeen(2, 20.0, "console", NEWER)


def test_a_newer_sheet_is_written_beside_a_journal_that_goes_on(
    journal: Journal, firing_row: FiringRow, tick_row: Callable[..., TickRow]
) -> None:
    firing = journal.open_firing(firing_row)
    journal.job(firing, "page", SHEET, 10.0)
    written(journal)
    write_job(journal.path, firing, "console", NEWER, 20.0)
    journal.tick(firing, tick_row(0))
    written(journal)
    assert [sheet.by for sheet in jobs_of(journal.path, firing)] == ["page", "console"]
    assert (len(Record(journal.path).ticks(firing)), journal.lost) == (1, 0)


def written(journal: Journal) -> None:
    end_s = time.monotonic() + 5.0
    while journal.waiting and time.monotonic() < end_s:
        time.sleep(0.01)
    assert journal.waiting == 0


def test_a_firing_without_a_sheet_has_none_and_exports_none(kept: Path, tmp_path: Path) -> None:
    assert job_of(kept, 1) is None
    assert export_job(Record(kept), 1, tmp_path / "firing.csv") is None
    assert list(tmp_path.glob("*.toml")) == []


def test_the_sheet_is_exported_beside_the_ticks_as_it_was_written(kept: Path, tmp_path: Path) -> None:
    write_job(kept, 1, "page", NEWER, 20.0)
    written = export_job(Record(kept), 1, tmp_path / "firing.csv")
    assert written == tmp_path / "firing.job.toml"
    assert written.read_text(encoding="utf-8") == NEWER


@pytest.mark.parametrize("text", ["", " \n", "#" * (LONGEST_JOB + 1)])
def test_an_empty_or_endless_sheet_is_refused(kept: Path, text: str) -> None:
    with pytest.raises(UsageError, match="expected 1 to 20000"):
        write_job(kept, 1, "page", text, 20.0)
    assert jobs_of(kept, 1) == []


def test_a_sheet_of_no_firing_is_refused_in_one_line(kept: Path) -> None:
    with pytest.raises(RecordError, match="found no firing 9"):
        write_job(kept, 9, "page", SHEET, 20.0)
