"""The commands that read and annotate the record."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest

from controller import home
from controller.cli import main
from controller.record.jobs import jobs_of
from controller.record.observed import observations
from controller.record.queries import Record
from controller.review.observed import gather

Fire = Callable[..., Path]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def command(*words: str) -> tuple[int, str, str]:
        status = main(list(words))
        out, err = capsys.readouterr()
        return status, out, err

    return command


Run = Callable[..., tuple[int, str, str]]


def test_firings_are_listed(fire: Fire, run: Run) -> None:
    path = fire(title="Cup [b]9[/b]", end_state="aborted")
    status, out, _ = run("firings", "--record", str(path))
    assert status == 0
    assert {"[b]9[/b]", "aborted", "7:48"} <= set(out.split())


def test_no_record_is_one_line_and_a_status(run: Run, tmp_path: Path) -> None:
    status, out, err = run("firings", "--record", str(tmp_path / "none.db"))
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "found no such file" in err


def test_a_report_prints_where_it_is_and_what_it_measured(fire: Fire, run: Run, tmp_path: Path) -> None:
    status, out, _ = run("report", "last", "--record", str(fire()), "--out", str(tmp_path / "out"))
    assert status == 0
    paths = [Path(line) for line in out.splitlines()[:2]]
    assert [path.is_file() for path in paths] == [True, True]
    assert any(
        line.startswith("Worst overshoot at a hold") and line.endswith(" K") for line in out.splitlines()
    )


def test_an_export_goes_to_standard_output_or_a_file(fire: Fire, run: Run, tmp_path: Path) -> None:
    record = str(fire())
    status, out, _ = run("export", "1", "--record", record)
    assert status == 0
    assert len(list(csv.reader(io.StringIO(out, newline="")))) == 1 + len(Record(Path(record)).ticks(1))
    file = tmp_path / "x.csv"
    status, said, _ = run("export", "1", "--record", record, "--out", str(file))
    assert (status, file.read_bytes().decode()) == (0, out)
    assert str(file) in said


def test_an_export_that_cannot_be_written_is_one_line(fire: Fire, run: Run, tmp_path: Path) -> None:
    status, _, err = run("export", "1", "--record", str(fire()), "--out", str(tmp_path / "no" / "x.csv"))
    assert (status, err.count("\n")) == (2, 1)
    assert "cannot be written" in err


def test_a_note_is_kept(fire: Fire, run: Run) -> None:
    path = fire()
    status, out, _ = run("note", "last", "cup", "chipped,  glued", "--record", str(path))
    assert (status, out) == (0, "Firing 1: noted.\n")
    assert Record(path).notes(1)[-1].text == "cup chipped, glued"


def test_an_empty_note_is_refused(fire: Fire, run: Run) -> None:
    path = fire()
    status, _, err = run("note", "last", "  ", "--record", str(path))
    assert (status, err.count("\n")) == (2, 1)
    assert len(Record(path).notes(1)) == 1


def test_the_record_is_in_the_home_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("STOKEHOLD_HOME", str(tmp_path / "kiln"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    assert home.record_path() == tmp_path / "kiln" / "record.db"
    monkeypatch.setenv("STOKEHOLD_HOME", "")
    assert home.default_home() == tmp_path / "state" / "stokehold"
    monkeypatch.setenv("XDG_STATE_HOME", "relative")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert home.default_home() == tmp_path / ".local" / "state" / "stokehold"
    assert home.record_path("elsewhere.db") == Path("elsewhere.db")


def test_a_casting_is_rated_with_reasons(fire: Fire, run: Run) -> None:
    path = fire()
    status, out, _ = run(
        "rate", "last", "scrap", "--why", "misrun", "cold  shut", "misrun", "--record", str(path)
    )
    assert (status, out) == (0, "Firing 1: scrap (misrun, cold shut).\n")
    rating = gather(observations(path, 1)).rating
    assert rating is not None
    assert (rating.rating, rating.reasons, rating.by) == ("scrap", ("misrun", "cold shut"), "console")


def test_a_casting_of_no_firing_is_one_line(fire: Fire, run: Run) -> None:
    status, out, err = run("rate", "7", "good", "--record", str(fire()))
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "found no firing 7" in err


def test_a_job_sheet_is_shown_made_newer_and_exported(fire: Fire, run: Run, tmp_path: Path) -> None:
    path = fire()
    record = ("--record", str(path))
    assert run("job", "last", *record)[:2] == (1, "Firing 1 carries no job sheet.\n")
    sheet = tmp_path / "job.toml"
    sheet.write_text('title = "Otter"\n[pattern]\ndrained = "310 g"\n', encoding="utf-8")
    assert run("job", "1", str(sheet), *record)[0] == 0
    assert run("job", "1", *record)[:2] == (0, sheet.read_text(encoding="utf-8"))
    out = tmp_path / "firing.csv"
    assert "firing.job.toml: its job sheet" in run("export", "1", *record, "--out", str(out))[1]
    sheet.write_text('[pattern]\ndrained = "310"\n', encoding="utf-8")
    status, _, err = run("job", "1", str(sheet), *record)
    assert (status, "job.toml:2" in err) == (2, True)
    assert len(jobs_of(path, 1)) == 1
