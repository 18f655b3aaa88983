"""The job sheet that comes with a start: read by the controller before anything begins."""

from __future__ import annotations

import subprocess
import sys

import pytest

from controller.demo import JOB
from controller.errors import StokeholdError
from controller.forecast.job_words import UNREADABLE, words_of
from controller.job_told import told_job
from controller.record.jobs import LONGEST_JOB

SHEET = 'title = "Otter"\n[pattern]\nmass = "480 g"\nmaterial = "PLA"\n'


def test_a_sheet_is_optional_and_comes_back_as_it_was_written() -> None:
    assert told_job({}) == told_job({"job": None}) == told_job({"job": " \n"}) == ""
    assert told_job({"job": SHEET}) == SHEET


def test_a_sheet_with_mistakes_refuses_the_start_and_names_each_line() -> None:
    wrong = '[pattern]\nmass = "480"\n[shell]\ncoats = 90\n'
    with pytest.raises(StokeholdError) as told:
        told_job({"job": wrong})
    assert [line.split(": ")[0] for line in str(told.value).splitlines()] == ["job sheet:2", "job sheet:4"]


@pytest.mark.parametrize("job", [7, ["a"], {"pattern": {}}, "#" * (LONGEST_JOB + 1)])
def test_what_is_no_sheet_is_refused_in_one_line(job: object) -> None:
    with pytest.raises(StokeholdError, match="expected a job sheet's text of at most 20000 characters"):
        told_job({"job": job})


def test_reading_a_sheet_brings_no_numbers_and_no_models_into_the_controller() -> None:
    code = "import sys, controller.forecast.job_file; print(sorted({m.split('.')[0] for m in sys.modules}))"
    found = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    assert "'controller'" in found
    assert "numpy" not in found
    assert "scipy" not in found


def test_a_sheet_in_one_line_of_words() -> None:
    assert words_of(SHEET) == "Otter, 480 g of PLA"
    assert words_of("") == "nothing is told"
    assert words_of('[from]\nanother = "version"\n') == UNREADABLE
    assert words_of(JOB.read_text(encoding="utf-8")) == (
        "Heron on a post, upper half, 500 g of PLA, silica shell, 9 coats, 6 kg dry, 6.6 kg wet, "
        "silicon bronze at 1090 C"
    )
