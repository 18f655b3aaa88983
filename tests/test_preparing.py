"""What is asked before a start: the list, the commissioning, certificates; what is kept of the answers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from controller.commands.controller import told_at_the_start
from controller.commissioning.store import save
from controller.config import KilnConfig
from controller.errors import StokeholdError
from controller.preparing import Preparing, certificates_due
from controller.schedule.index import profile
from controller.schedule.reader import load_schedule
from controller.wire.thermocouple import Calibration
from controller.wire.thermocouple.calibration import Point
from tests.commissioning.hands import CONFIG, REAL
from tests.commissioning.test_validity import DAY, all_results

PLA = load_schedule(profile("printed-pla-silica-shell"))
DUE = date(2031, 4, 5)


def preparing(config: KilnConfig, home: Path, today: date = DAY) -> Preparing:
    return Preparing(config, home, lambda: today)


def prepared(config: KilnConfig, home: Path) -> dict[str, Any]:
    items = preparing(config, home).asked(PLA).get("items", [])
    return {"by": "Ada's phone", "ticked": [item["id"] for item in items], "reachable": "Ada, 12"}


def certified(config: KilnConfig) -> KilnConfig:
    calibration = Calibration((Point(0.0, 0.5), Point(1000.0, -1.5)), DUE, "invented 7")
    return replace(
        config, readers=config.readers | {"air": replace(config.readers["air"], calibration=calibration)}
    )


def test_a_prepared_start_on_a_commissioned_kiln_is_let_through(tmp_path: Path) -> None:
    save(tmp_path, REAL.name, all_results())
    preparing(REAL, tmp_path).check(PLA, prepared(REAL, tmp_path))
    assert preparing(REAL, tmp_path).asked(PLA)["says"] == ""


def test_without_a_commissioning_only_a_person_who_stays_may_start(tmp_path: Path) -> None:
    message = prepared(REAL, tmp_path)
    with pytest.raises(StokeholdError, match="commissioning is not complete"):
        preparing(REAL, tmp_path).check(PLA, message)
    with pytest.raises(StokeholdError, match="commissioning is not complete"):
        preparing(REAL, tmp_path).check(PLA, message | {"attended": "yes"})
    preparing(REAL, tmp_path).check(PLA, message | {"attended": True})
    kinds = dict(preparing(REAL, tmp_path).events(message | {"attended": True}))
    assert "not done yet" in kinds["commissioning_missing"]["says"]


@pytest.mark.parametrize("left_out", ["vent", "extraction", "surroundings", "shell", "limit"])
def test_what_was_not_looked_at_refuses_the_start(tmp_path: Path, left_out: str) -> None:
    message = prepared(CONFIG, tmp_path)
    message["ticked"].remove(left_out)
    with pytest.raises(StokeholdError):
        preparing(CONFIG, tmp_path).check(PLA, message)


@pytest.mark.parametrize("ticked", ["vent", [1, 2], {"vent": True}, None])
def test_a_list_that_is_no_list_is_refused_in_words(tmp_path: Path, ticked: object) -> None:
    with pytest.raises(StokeholdError, match="expected a list"):
        preparing(CONFIG, tmp_path).check(PLA, prepared(CONFIG, tmp_path) | {"ticked": ticked})


def test_what_was_answered_is_kept_with_the_firing(tmp_path: Path) -> None:
    message = prepared(CONFIG, tmp_path)
    ((kind, fields),) = preparing(CONFIG, tmp_path).events(message)
    assert kind == "prefire_checked"
    assert fields == {
        "by": "Ada's phone",
        "ticked": ", ".join(message["ticked"]),
        "reachable": "Ada, 12",
        "attended": False,
    }


def test_a_certificate_counts_until_the_day_before_it_is_due(tmp_path: Path) -> None:
    config = certified(CONFIG)
    assert certificates_due(config, date(2031, 4, 4)) == ()
    assert certificates_due(config, DUE) == (("air", DUE),)
    assert certificates_due(CONFIG, DUE) == ()
    told = dict(preparing(config, tmp_path, DUE).events(prepared(config, tmp_path)))
    assert told["certificate_due"] == {"sensor": "air", "due_on": "2031-04-05"}


def test_the_controller_says_at_its_start_how_its_kiln_stands(tmp_path: Path) -> None:
    assert "simulated = true" in told_at_the_start(CONFIG, tmp_path, DAY)[0]
    assert "not complete" in told_at_the_start(REAL, tmp_path, DAY)[0]
    save(tmp_path, REAL.name, all_results())
    assert told_at_the_start(REAL, tmp_path, DAY) == ["commissioning complete and not out of date"]
    assert "air" in told_at_the_start(certified(CONFIG), tmp_path, DUE)[1]
