"""`stokehold forecast`, and what `stokehold check` says of a shell."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest

from controller import cli
from controller.commands import forecast as command
from controller.commands.clock_times import clock_time, start_time
from controller.errors import UsageError
from controller.forecast.forecast import forecast
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import unknown_kiln
from controller.forecast.kiln_of import kiln_of
from controller.forecast.models import FREE, FittedKiln, keep
from controller.forecast.pour_time import lights_s, work_back
from controller.physics.grey import typical
from controller.schedule.model import Hold, Ramp, Schedule

JOB = """
[pattern]
mass = "500 g"
fill = "30 %"
[shell]
dry = "6 kg"
wet = "6.6 kg"
[metal]
melt_time = "1 h"
"""


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("STOKEHOLD_HOME", str(tmp_path / "home"))
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def run(*words: str) -> int:
    return cli.main(list(words))


def short(at_most_s: float) -> Schedule:
    return Schedule("one", (Ramp("up", 400.0, 200.0), Hold("pour", 400.0, None, 15.0, at_most_s, 600.0)))


def test_it_tells_the_hours_the_people_the_furnace_and_the_cost_within_80_columns(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        run("forecast", "printed-pla-silica-shell", "--job", str(job), "--start", "21:00", "--price", "0.5")
        == 0
    )
    text = capsys.readouterr().out
    assert all(len(line) <= 80 for line in text.splitlines())
    words = " ".join(text.split())
    for wanted in (
        "Ready for the pour at",
        "Light the melting furnace at",
        "A person is needed",
        "which costs",
    ):
        assert wanted in words
    assert "nothing was learnt of this one yet" in words
    assert "dry, wet" in words
    assert re.search(r"1 +dry +21:00", text)
    assert "estimate" in words.lower()


def test_with_the_hour_of_the_pour_it_works_back_to_the_start(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("forecast", "printed-pla-silica-shell", "--job", str(job), "--pour-at", "16:30") == 0
    words = " ".join(capsys.readouterr().out.split())
    assert "For a pour at 16:30" in words
    assert "ready even at the late end" in words
    assert re.search(r"Light the melting furnace at 15:30", words)


def test_the_start_is_early_enough_for_the_late_end_unless_the_shell_cannot_wait_so_long() -> None:
    patient = forecast(short(7200.0), JobSheet(), unknown_kiln(6500.0), 300.0)
    hasty = forecast(short(60.0), JobSheet(), unknown_kiln(6500.0), 300.0)
    assert patient.ready_s is not None
    assert hasty.ready_s is not None
    assert work_back(patient) == (patient.ready_s.high, patient.ready_s.high - patient.ready_s.typical, True)
    assert work_back(hasty) == (hasty.ready_s.typical, 0.0, False)


def test_the_furnace_is_lit_so_long_before_the_pour_as_the_melt_takes() -> None:
    made = forecast(short(7200.0), JobSheet(melt_s=3000.0), unknown_kiln(6500.0), 300.0)
    lights = lights_s(made, 10000.0)
    assert lights.typical == 7000.0
    assert lights.low < 7000.0 < lights.high


def test_a_schedule_without_a_pour_cannot_be_worked_back(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("forecast", "first-drying-of-a-lining", "--pour-at", "16:30") == 2
    assert "never gets ready to pour" in capsys.readouterr().err


def test_what_stands_against_it_altogether_is_told_and_the_status_says_so(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job.write_text('[shell]\nmould = "gypsum-bonded"\n', encoding="utf-8")
    assert run("forecast", "printed-pla-silica-shell", "--job", str(job)) == 1
    assert "STOP: The schedule reaches 81" in capsys.readouterr().out
    assert run("check", "printed-pla-silica-shell", "--job", str(job)) == 1
    assert "STOP: The schedule reaches 81" in capsys.readouterr().out


def test_check_says_what_stands_against_it_on_which_kiln_with_which_shell(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("check", "printed-pla-silica-shell", "--job", str(job)) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "On the simulated kiln (--kiln names yours), with this shell: Note: " in told
    assert told.endswith("Nothing was found that stands against it.")
    assert run("check", "printed-pla-silica-shell") == 0
    assert "of which nothing was told (--job tells it):" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("forecast", "printed-pla-silica-shell", "--start", "25:00"), '--start: found "25:00"'),
        (("forecast", "printed-pla-silica-shell", "--pour-at", "noon"), '--pour-at: found "noon"'),
        (("forecast", "nothing"), 'found no file "nothing"'),
    ],
)
def test_what_is_asked_wrongly_is_told_in_a_line(
    words: tuple[str, ...], says: str, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words) == 2
    assert says in capsys.readouterr().err


def test_a_mistake_in_the_job_sheet_is_told_with_its_line(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job.write_text('[shell]\ndry = "6"\n', encoding="utf-8")
    assert run("forecast", "printed-pla-silica-shell", "--job", str(job)) == 2
    assert "job.toml:2: shell" in capsys.readouterr().err


@pytest.mark.parametrize("price", ["free", "-1", "nan", "1e9"])
def test_a_price_that_is_none_is_refused(price: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        run("forecast", "printed-pla-silica-shell", "--price", price)
    assert "expected a price for one kWh" in capsys.readouterr().err


def test_the_kiln_that_was_learnt_is_used_where_it_is_the_same_kiln(tmp_path: Path) -> None:
    covariance = tuple(tuple(0.01 if n == m else 0.0 for m in range(len(FREE))) for n in range(len(FREE)))
    keep(FittedKiln(typical(6500.0), covariance, 3, 12.0, 20.0, 815.0, 1.0, 1.0), tmp_path)
    assert kiln_of(6500.0, tmp_path).says == "as fitted to firing 3"  # of which there is no record
    other = kiln_of(8000.0, tmp_path)
    assert not other.load_known
    assert "is not used" in other.says
    assert "nothing was learnt" in kiln_of(6500.0, tmp_path / "none").says
    assert "nothing was learnt" in kiln_of(6500.0, None).says


def test_a_kiln_whose_fits_were_refused_is_forecast_with_wide_bands_and_says_why(tmp_path: Path) -> None:
    covariance = tuple(tuple(0.01 if n == m else 0.0 for m in range(len(FREE))) for n in range(len(FREE)))
    fitted = FittedKiln(typical(6500.0), covariance, 9, 12.0, 20.0, 815.0, 1.0, 1.0)
    keep(fitted.judged("it misses the air by 9.0 K"), tmp_path)
    (tmp_path / "models" / "firing-9-load-0123.json").write_text("{}")
    (tmp_path / "models" / "firing-10.json").write_text(
        "{}"
    )  # cannot be read: of the next one nothing is told
    assert "is not used" not in kiln_of(6500.0, tmp_path).says
    (tmp_path / "models" / "firing-10.json").unlink()
    kiln = kiln_of(6500.0, tmp_path)
    assert kiln.says.endswith("the model fitted to firing 9 is not used: it misses the air by 9.0 K")
    assert kiln.ways == kiln_of(6500.0, None).ways


def test_times_of_day_go_on_over_midnight_and_back() -> None:
    start = datetime(2026, 3, 1, 21, 0)
    assert clock_time(start, 3600.0) == "22:00"
    assert clock_time(start, 4 * 3600.0) == "01:00 +1d"
    assert start_time("20:00", start) == datetime(2026, 3, 2, 20, 0)
    with pytest.raises(UsageError, match="--pour-at"):
        start_time("20", start, "--pour-at")


def test_a_sheet_s_fields_are_told_as_words() -> None:
    assert [command._plain(name) for name in ("pattern_kg", "thickness_m", "mould", "sprue_part")] == [
        "pattern",
        "thickness",
        "mould",
        "sprue",
    ]


def test_findings_are_told_in_fahrenheit_where_that_is_asked_for() -> None:
    assert command.in_fahrenheit("It asks for 100 C/h near 40 C, behind by 48.5 K, 3.2 kg, in CO.") == (
        "It asks for 180 F/h near 104 F, behind by 87 F, 3.2 kg, in CO."
    )
