"""`stokehold check` shows a schedule in words, a table and a plot, and tells mistakes with status 2."""

from __future__ import annotations

import argparse
import re
from datetime import datetime
from pathlib import Path

import pytest

from controller.commands import check
from controller.errors import StokeholdError, UsageError
from controller.schedule.index import find, names
from controller.schedule.keys import SCHEDULE_KEYS, STAGE_KEYS
from controller.schedule.located import FileProblems
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Then
from controller.schedule.plan import plan
from controller.schedule.reader import load_schedule
from controller.schedule.terminal import ROWS, hour_marks, plot_text
from controller.schedule.words import if_nobody_comes, needs_person, what_it_does

NINE_PM = datetime(2026, 3, 1, 21, 0)


def run(*words: str) -> int:
    parser = argparse.ArgumentParser()
    check.arguments(parser)
    return check.run(parser.parse_args(words))


@pytest.fixture(autouse=True)
def eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("FORCE_COLOR", raising=False)


@pytest.mark.parametrize("name", names())
def test_a_profile_is_shown_in_eighty_columns_without_colour(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(name, "--start", "21:00") == 0
    out = capsys.readouterr().out
    schedule = load_schedule(find(name))
    assert schedule.title in out
    assert "\x1b" not in out
    assert max(len(line) for line in out.splitlines()) <= 80
    for number in range(1, len(schedule.stages) + 1):
        assert re.search(rf"^ *{number} ", out, re.MULTILINE)


def test_clock_times_lengths_and_what_a_person_does_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("printed-pla-silica-shell", "--start", "21:00") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "1 dry ramp, 60 C/h 20 C 90 C 1 h 10 min 21:00" in out
    assert "2 dry through hold 90 C 90 C 45 min 22:10" in out
    assert "200 C 185 C ~ 15 min 01:06 +1d" in out
    assert "end ~ 11 h 48 min 08:47 +1d" in out
    assert "6. 01:06 +1d Heat is off. Look for cracks" in out
    assert "If nobody comes within 45 min it keeps waiting at 150 C." in out
    assert "If nobody comes it goes on after 4 h." in out
    assert "proven to run, or there is no heat, in stage 4, 5, 7 to 9." in out


def test_fahrenheit_is_shown_when_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("printed-pla-silica-shell", "--start", "21:00", "--unit", "F") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "68 F 194 F 1 h 10 min 21:00" in out
    assert "hold 194 F 194 F 45 min 22:10" in out
    assert "ramp, 540" in out
    assert "1500 F" in out
    assert "keeps waiting at 302 F" in out
    assert " C " not in out


def test_an_assumed_full_rate_and_a_ceiling_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    run("empty-shell-reheat")
    assert '"full" is taken as 300 C/h' in capsys.readouterr().out
    run("castable-resin-gypsum")
    out = capsys.readouterr().out
    assert '"full"' not in out
    assert "Its ceiling is 730 C" in out


def test_a_schedule_that_needs_nobody_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "s.toml"
    path.write_text('title = "T"\n[[stage]]\nkind = "ramp"\nname = "up"\nto = "90 C"\nrate = "60 C/h"\n')
    assert run(str(path)) == 0
    assert "never: it runs through by itself." in capsys.readouterr().out


@pytest.mark.parametrize("columns", ["40", "60", "72"])
def test_a_narrow_terminal_keeps_stages_and_lengths(
    columns: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    run("printed-pla-silica-shell", "--start", "21:00")
    out = capsys.readouterr().out
    assert max(len(line) for line in out.splitlines()) <= int(columns)
    assert "1 h 10 min" in out
    assert "…" not in out


def test_mistakes_are_raised_with_status_2(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text('title = "T"\n[[stage]]\nkind = "ramp"\nto = "90"\n')
    with pytest.raises(FileProblems) as raised:
        run(str(path))
    assert raised.value.exit_status == 2
    assert len(raised.value.problems) == 3


DEMO_KILN = Path(check.__file__).parents[1] / "simulator" / "demo_kiln.toml"


@pytest.mark.parametrize("name", names())
def test_every_profile_fits_the_demo_kiln_if_it_may_fire_for_long_enough(name: str, tmp_path: Path) -> None:
    """A first drying takes days; how long a firing may take is for each kiln's owner to say."""
    patient = tmp_path / "kiln.toml"
    text = DEMO_KILN.read_text(encoding="utf-8")
    patient.write_text(re.sub(r'longest_firing = "[^"]*"', 'longest_firing = "96 h"', text), encoding="utf-8")
    assert run(name, "--kiln", str(patient)) == 0


def test_the_kilns_own_full_rate_is_used(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    slow = tmp_path / "kiln.toml"
    text = DEMO_KILN.read_text(encoding="utf-8")
    slow.write_text(re.sub(r'full_rate = "[^"]*"', 'full_rate = "200 C/h"', text), encoding="utf-8")
    assert run("empty-shell-reheat", "--kiln", str(slow)) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "4 heat ramp, full 300 C 816 C 2 h 35 min" in out
    assert '"full" is taken as' not in out


def test_a_kiln_that_is_too_cool_or_has_no_extraction_is_told(tmp_path: Path) -> None:
    weak = tmp_path / "kiln.toml"
    text = DEMO_KILN.read_text(encoding="utf-8")
    text = re.sub(r'^ceiling = "[^"]*"', 'ceiling = "800 C"', text, flags=re.MULTILINE)
    text = re.sub(r"^\[contact\.extraction\][^\n]*\n([^\n\[]+\n)*", "", text, flags=re.MULTILINE)
    weak.write_text(text, encoding="utf-8")
    with pytest.raises(FileProblems) as raised:
        run("printed-pla-silica-shell", "--kiln", str(weak))
    wheres = {problem.where for problem in raised.value.problems}
    assert wheres >= {'stage 10 "fire", to', 'stage 11 "sinter", at', 'stage 4 "melt", extraction'}
    assert all(problem.file == str(find("printed-pla-silica-shell")) for problem in raised.value.problems)


@pytest.mark.parametrize(
    "words",
    [(), ("nothing",), ("wax-silica-shell", "--start", "25:00"), ("wax-silica-shell", "--start", "9")],
)
def test_what_is_asked_wrongly_is_one_line_with_status_2(words: tuple[str, ...]) -> None:
    with pytest.raises(StokeholdError) as raised:
        run(*words)
    assert raised.value.exit_status == 2
    assert "expected" in str(raised.value)
    assert "\n" not in str(raised.value)


def test_every_key_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--keys") == 0
    out = capsys.readouterr().out
    for key in (*SCHEDULE_KEYS, *(key for keys in STAGE_KEYS.values() for key in keys)):
        assert f" {key.name} " in out
    for kind in STAGE_KEYS:
        assert f'[[stage]] kind = "{kind}"' in out


def test_the_start_is_the_next_time_that_the_clock_shows_it() -> None:
    now = datetime(2026, 3, 1, 20, 30, 5)
    assert check._start_time("21:00", now) == datetime(2026, 3, 1, 21, 0)
    assert check._start_time("7:05", now) == datetime(2026, 3, 2, 7, 5)
    assert check._start_time(None, now) == datetime(2026, 3, 1, 20, 30)
    with pytest.raises(UsageError):
        check._start_time("21:60", now)


@pytest.mark.parametrize("utf8", [True, False])
def test_the_plot_has_its_size_its_clock_and_its_stops(utf8: bool) -> None:
    schedule = load_schedule(find("printed-pla-silica-shell"))
    text = plot_text(schedule, plan(schedule, 20.0, 300.0), NINE_PM, 80, utf8=utf8)
    lines = text.splitlines()
    assert len(lines) == ROWS
    assert {len(line) for line in lines} == {80}
    assert "22:00" in lines[-1]
    assert any(line.startswith(" 800 C") for line in lines)
    inside = "".join(line[8:] for line in lines[:-2])
    assert re.findall(r"[0-9]+", inside) == ["12", "6"]
    assert text.isascii() is not utf8


def test_the_plot_falls_where_the_plan_falls_and_rises_where_it_rises() -> None:
    """In ASCII each column has its lowest star: read back, the plot must be the plan."""
    schedule = load_schedule(find("castable-resin-gypsum"))
    planned = plan(schedule, 20.0, 300.0)
    rows = plot_text(schedule, planned, NINE_PM, 100, utf8=False).splitlines()[1:-2]
    left = rows[0].index("|") + 1
    width = len(rows[0]) - 1 - left
    top_c = 1000.0 if any("1000 C" in row for row in rows) else 800.0
    for column in range(0, width, 7):
        stars = [index for index, row in enumerate(rows) if row[left + column] == "*"]
        level_c = top_c * (1 - (sum(stars) / len(stars)) / (len(rows) - 1))
        at_s = planned.total_s * column / (width - 1)
        assert level_c == pytest.approx(planned.at_c(at_s), abs=1.2 * top_c / len(rows))


def test_hours_are_marked_whole_and_no_closer_than_there_is_room() -> None:
    start = datetime(2026, 3, 1, 20, 30)
    assert list(hour_marks(start, 2.4 * 3600, 80)) == [(0.5, "21:00"), (1.5, "22:00")]
    assert list(hour_marks(start, 12 * 3600, 80)) == [
        (1.5, "22:00"),
        (3.5, "00:00"),
        (5.5, "02:00"),
        (7.5, "04:00"),
        (9.5, "06:00"),
        (11.5, "08:00"),
    ]
    assert list(hour_marks(start, 200 * 3600, 40)) == [(51.5, "+3d"), (123.5, "+6d"), (195.5, "+9d")]


def test_stages_in_words() -> None:
    look = Checkpoint("c", "Look.", "off", None, 3600.0, Then("go on"), 900.0)
    forever = Checkpoint("c", "Look.", "keep", None, None, Then("keep waiting"), 900.0)
    pour = Hold("h", 815.0, None, 10.0, 14400.0)
    assert what_it_does(Ramp("r", 90.0, 60.0)) == "ramp, 60 C/h"
    assert what_it_does(Ramp("r", 90.0, None), "F") == "ramp, full"
    assert what_it_does(Hold("h", 90.0, 60.0, 10.0)) == "hold"
    assert what_it_does(pour) == "hold until released"
    assert what_it_does(look) == "checkpoint, heat off"
    assert what_it_does(forever) == "checkpoint, heat kept"
    assert what_it_does(Cool("c", 90.0, None)) == "cool, heat off"
    assert what_it_does(Cool("c", 90.0, 50.0), "F") == "cool, 90 F/h"
    assert [
        needs_person(stage) for stage in (look, pour, Hold("h", 9.0, 1.0, 1.0), Cool("c", 9.0, None))
    ] == [True, True, False, False]
    assert if_nobody_comes(look) == "If nobody comes within 1 h it goes on."
    assert if_nobody_comes(forever) == "If nobody comes it keeps waiting."
    assert if_nobody_comes(pour) == "If nobody comes it goes on after 4 h."
    assert if_nobody_comes(Ramp("r", 90.0, 60.0)) == ""


@pytest.mark.parametrize(
    ("then", "words"),
    [
        (Then("keep waiting", 150.0), "keeps waiting at 302 F"),
        (Then("keep waiting"), "keeps waiting"),
        (Then("stop"), "stops the firing"),
    ],
)
def test_what_happens_when_nobody_comes_in_words(then: Then, words: str) -> None:
    stage = Checkpoint("c", "Look.", "off", None, 2700.0, then, 900.0)
    assert if_nobody_comes(stage, "F") == f"If nobody comes within 45 min it {words}."
