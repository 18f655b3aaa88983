"""Learning after each firing: when it is due, what may replace what, and who begins with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from threading import Event

import pytest

from controller import assemble, learner
from controller.cli import main
from controller.config import load_kiln
from controller.control import Control
from controller.firing import Cue, Request, State
from controller.forecast.fit_compare import compared, missed
from controller.forecast.models import FREE, FittedKiln, from_text, keep, load
from controller.home import RECORD_NAME
from controller.known_kiln import known_kiln
from controller.learner import Learner
from controller.physics.grey import GreyKiln
from controller.record.curve import Curve
from controller.record.journal import Journal
from controller.record.kiln_models import due, kiln_models, write_model
from controller.record.queries import Record
from controller.record.rows import FiringRow
from controller.schedule.reader import read_schedule
from controller.simulator.plant import Plant
from tests.forecast.test_learn import DEMO, KILN, record
from tests.in_process import DEMO_PLAN, in_process

START = FiringRow(1e9, 0.0, "one", "", "one.toml", "kiln", '[heater]\npower = "6500 W"\n', "1", 1.0, True)
SHORT = """
title = "short"
[[stage]]
kind = "ramp"
name = "up"
to = "40 C"
rate = "full"
"""


def fitted(kiln: GreyKiln = KILN, firing: int = 1, refused: str = "") -> FittedKiln:
    covariance = tuple(tuple(0.01 * (a == b) for b in range(len(FREE))) for a in range(len(FREE)))
    return FittedKiln(kiln, covariance, firing, 2.0, 20.0, 400.0, 0.5, 0.6, 10.0, refused)


@pytest.fixture(scope="module")
def fired(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Curve]:
    """One firing of KILN, long enough to have stretches that a fit does not use."""
    home = tmp_path_factory.mktemp("fired")
    record(home, hours=3.0)
    return home, Record(home / RECORD_NAME).ticks(1)


def test_the_true_kiln_misses_nothing_and_a_false_one_does(fired: tuple[Path, Curve]) -> None:
    _, curve = fired
    true, false = missed(KILN, curve), missed(KILN._replace(chamber_j_per_k=16e3, probe_s=60.0), curve)
    assert true.level_k < 1.0
    assert true.change_k < 0.25  # ticks of 4 s blur the pulses
    assert true.unknown < 0.2
    assert false.unknown > 2.0 * true.unknown  # a fire excuses it, and that counts
    assert false.score > 1.3 * true.score


def test_a_fit_that_went_astray_does_not_take_a_good_one_s_place(fired: tuple[Path, Curve]) -> None:
    _, curve = fired
    astray = fitted(KILN._replace(chamber_j_per_k=16e3, probe_s=60.0), firing=2)
    refused = compared(astray, fitted(), curve).refused
    assert "the model of firing 1 only by" in refused
    assert compared(fitted(firing=2), astray, curve).refused == ""
    assert compared(fitted(firing=2), fitted(), curve).refused == ""
    bad = fitted(firing=2, refused="it misses")
    assert compared(bad, astray, curve) == bad


def test_what_is_learnt_is_in_the_record_with_its_firing_and_a_refusal_with_its_reason(
    fired: tuple[Path, Curve], monkeypatch: pytest.MonkeyPatch
) -> None:
    home, _ = fired
    path = home / RECORD_NAME
    good = fitted(firing=7)
    keep(good, home)
    astray = fitted(KILN._replace(chamber_j_per_k=16e3, probe_s=60.0))
    monkeypatch.setattr("controller.forecast.fit.fit", lambda *_: astray)
    assert main(["learn", "1", "--home", str(home)]) == 1
    (row,) = kiln_models(path)
    assert row.firing == 1
    assert "the model of firing 7 only by" in row.refused
    assert from_text(row.text, "record").kiln == astray.kiln
    assert load(home) == good  # the good one is still in use


def test_a_firing_too_short_to_learn_from_is_not_asked_about_again(tmp_path: Path) -> None:
    record(tmp_path, hours=0.2)
    path = tmp_path / RECORD_NAME
    assert due(path) == 1
    assert main(["learn", "1", "--home", str(tmp_path)]) == 2
    (row,) = kiln_models(path)
    assert "less than 1 h of record" in row.refused
    assert due(path) is None


def test_only_the_newest_firing_is_due_and_only_once_it_has_ended(tmp_path: Path) -> None:
    path = tmp_path / RECORD_NAME
    with Journal(path, flush_every_s=0.01) as journal:
        first = journal.open_firing(START)
        journal.close_firing(first, "complete", 1e9)
        second = journal.open_firing(START)
    assert due(path) is None
    with Journal(path, flush_every_s=0.01) as journal:
        journal.close_firing(second, "aborted", 1e9)
    assert due(path) == second
    write_model(path, second, 1e9, "", "{}")
    assert due(path) is None


def test_the_learner_learns_once_from_each_firing(tmp_path: Path) -> None:
    learnt: list[int] = []
    watching = Learner(tmp_path, lambda _home, firing: learnt.append(firing))
    assert watching.look() is None  # there is no record yet
    path = tmp_path / RECORD_NAME
    for _ in range(2):
        with Journal(path, flush_every_s=0.01) as journal:
            journal.close_firing(journal.open_firing(START), "complete", 1e9)
        for _ in range(3):
            watching.look()  # nothing is kept here: a fit that dies is not begun again and again
    assert learnt == [1, 2]


def test_the_learner_ends_when_it_is_told_to_also_within_a_fit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record(tmp_path, hours=2.0)
    monkeypatch.setattr(learner.os, "nice", lambda _by: 0)
    stop = Event()
    stop.set()
    learner.learn_on(tmp_path, stop)
    assert kiln_models(tmp_path / RECORD_NAME) == []


def test_a_new_model_is_taken_between_firings_and_never_within_one(tmp_path: Path) -> None:
    config = load_kiln(DEMO)
    learnt = assemble.control_plan(config, fitted(firing=3))
    assert learnt.kiln == known_kiln(KILN)
    assert learnt.known_by == "the model fitted to firing 3"
    assert assemble.control_plan(config).known_by == "the numbers in the kiln's file"
    kiln = in_process(Plant(water_kg=0.0, plastic_kg=0.0), DEMO_PLAN, tmp_path)
    kiln.tick(Request(Cue.START, schedule=read_schedule(SHORT, "short")))
    for _ in range(60):
        kiln.tick()
    kiln.loop.renew(learnt)
    assert kiln.loop.plan == DEMO_PLAN  # it heats: no bump
    assert kiln.loop.carries().control.feedback.integral != 0.0
    while kiln.tick().firing.state is not State.COMPLETE:
        pass
    kiln.loop.renew(learnt)
    assert kiln.loop.plan == learnt
    assert kiln.loop.carries().control.feedback == Control().feedback
    assert replace(learnt, known_by="") != DEMO_PLAN
