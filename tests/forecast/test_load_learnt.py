"""What the fitted firing told of its load is worked out once, from the record, and kept beside the model."""

from __future__ import annotations

from math import nan
from pathlib import Path

import pytest

from controller.forecast import load_learnt
from controller.forecast.job import JobSheet
from controller.forecast.kiln_of import kiln_of
from controller.forecast.known import Known, known
from controller.forecast.load_fit import Factors, with_factors
from controller.forecast.models import FREE, HISTORY_NAME, FittedKiln, keep
from controller.forecast.past import Seen
from controller.physics.grey import typical
from controller.record.jobs import write_job
from controller.record.journal import Journal
from controller.record.rows import FiringRow
from tests.record.conftest import FIRING, a_tick

FACTORS = Factors(1.1, 0.9, 1.2, 2.0, 1.0, 3.0, 1.01, 0.1)
WEIGHED = '[shell]\ndry = "6 kg"\nwet = "6.5 kg"\nmould = "silica shell"\n'


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A kiln that was fitted to its first firing, of a minute."""
    with Journal(tmp_path / "record.db", flush_every_s=0.01) as journal:
        firing = journal.open_firing(FiringRow(*FIRING))
        for n in range(61):
            journal.tick(firing, a_tick(n, load_c=20.0))
    covariance = tuple(tuple(0.01 if n == m else 0.0 for m in range(len(FREE))) for n in range(len(FREE)))
    keep(FittedKiln(typical(6500.0), covariance, firing, 12.0, 20.0, 815.0, 1.0, nan), tmp_path)
    return tmp_path


class Counting:
    """The fit of the load, which would take seconds."""

    def __init__(self) -> None:
        self.asked: list[tuple[Known, int]] = []

    def __call__(self, _kiln: object, job: Known, seen: Seen) -> Factors:
        self.asked.append((job, len(seen.air_c)))
        return FACTORS


@pytest.fixture
def fits(monkeypatch: pytest.MonkeyPatch) -> Counting:
    counting = Counting()
    monkeypatch.setattr(load_learnt, "load_factors", counting)
    return counting


def test_a_weighed_shell_is_learnt_once_and_kept(home: Path, fits: Counting) -> None:
    write_job(home / "record.db", 1, "page", WEIGHED, 1.0)
    first = kiln_of(6500.0, home)
    assert first.water_known
    assert first.load_dry_kg == 6.0
    assert (first.dries, first.film, first.reads, first.sees) == (2.0, 3.0, 1.01, 0.1)
    ((job, minutes),) = fits.asked
    assert job.dry_kg is not None
    assert minutes == 2
    assert kiln_of(6500.0, home) == first
    assert len(fits.asked) == 1


def test_another_sheet_or_a_spoilt_file_is_learnt_anew(home: Path, fits: Counting) -> None:
    write_job(home / "record.db", 1, "page", WEIGHED, 1.0)
    kiln_of(6500.0, home)
    (kept,) = (home / HISTORY_NAME).glob("*-load-*.json")
    kept.write_text('{"w": "heavy"}')
    assert kiln_of(6500.0, home).water_known
    assert len(fits.asked) == 2
    write_job(home / "record.db", 1, "page", WEIGHED.replace("6 kg", "5 kg"), 2.0)
    assert kiln_of(6500.0, home).load_dry_kg == 5.0
    assert len(fits.asked) == 3


@pytest.mark.parametrize("sheet", [None, "[shell]\ncoats = 9\n", "[of]\nanother = 'version'\n"])
def test_a_shell_that_was_not_weighed_leaves_the_fitted_kiln(
    home: Path, fits: Counting, sheet: str | None
) -> None:
    if sheet is not None:
        write_job(home / "record.db", 1, "page", sheet, 1.0)
    kiln = kiln_of(6500.0, home)
    assert not kiln.water_known
    assert kiln.load_known
    assert fits.asked == []


def test_what_was_learnt_is_put_on_the_kiln_that_was_fitted() -> None:
    from controller.forecast.kiln_known import fitted_kiln

    covariance = tuple(tuple(0.0 for _ in FREE) for _ in FREE)
    kiln = fitted_kiln(FittedKiln(typical(6500.0), covariance, 1, 12.0, 20.0, 815.0, 1.0, nan), FREE)
    learnt = with_factors(kiln, known(JobSheet(dry_kg=6.0, wet_kg=6.5)), FACTORS)
    assert learnt.kiln.load_m2 == pytest.approx(0.9 * kiln.kiln.load_m2)
    assert learnt.load_dry_kg == 6.0
    assert learnt.sees == 0.1


def test_a_load_that_sees_no_elements_is_kept_and_one_of_a_number_that_cannot_be_is_not(
    home: Path, fits: Counting, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_job(home / "record.db", 1, "page", WEIGHED, 1.0)
    monkeypatch.setattr(load_learnt, "load_factors", lambda *_: FACTORS._replace(sees=-0.02))
    assert kiln_of(6500.0, home).sees == -0.02
    monkeypatch.setattr(load_learnt, "load_factors", fits)
    assert kiln_of(6500.0, home).sees == -0.02
    (kept,) = (home / HISTORY_NAME).glob("*-load-*.json")
    kept.write_text(kept.read_text().replace("2.0", "-2.0"))
    assert kiln_of(6500.0, home).sees == 0.1
