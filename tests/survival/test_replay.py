"""A recorded firing runs again through the core and the guard, tick for tick, whatever happened in it."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from controller.cli import main
from controller.record.queries import Record
from controller.replay import replay
from tests.processes.conftest import SHORTER, House, command, until

pytestmark = [pytest.mark.wire, pytest.mark.timeout(120)]


SHELVED = {"alarm_shelved"}


def fault(house: House, name: str, state: str) -> None:
    subprocess.run(command("fault", name, state, "--port", str(house.kiln_port)), check=True)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The record of two firings: one that was held, killed, restarted and ended; one that tripped."""
    house = House(tmp_path_factory.mktemp("replayed"))
    try:
        controller = house.start()
        house.fire(SHORTER)
        until(lambda: "checkpoint_reached" in {event.kind for event in house.record.events(1)}, 40)
        assert house.client.ask({"request": "hold", "by": "page"})["ok"]
        assert house.ask("restart")["ok"]
        fault(house, "door_opened", "on")
        until(lambda: "door_open" in [row.reasons for _, row in house.record.rows(1)])
        shelve = {"request": "shelve", "by": "page", "alarm": "door_open", "minutes": 30}
        assert house.client.ask(shelve) == {"ok": True, "says": "shelved for 30 min"}
        assert house.client.ask(shelve | {"minutes": "for ever"})["ok"] is False
        until(lambda: SHELVED & {event.kind for event in house.record.events(1)})
        ticks = len(list(house.record.rows(1)))
        until(lambda: len(list(house.record.rows(1))) > ticks + 5)
        controller.kill()
        controller.wait()
        (house.home / "channel.sock").unlink()
        fault(house, "door_opened", "off")
        house.start()
        until(lambda: house.state() == "held")
        assert house.ask("restart")["ok"]
        until(lambda: house.ask("release")["ok"])
        until(lambda: house.record.firing(1).end_state == "complete", 60)
        assert house.ask("reset")["ok"]
        house.fire()
        fault(house, "air_open", "on")
        until(lambda: house.record.firing(2).end_state == "aborted", 30)
    finally:
        house.end()
    return house.home / "record.db"


def test_every_tick_comes_out_again_as_it_was(kept: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, legs in ((1, 2), (2, 1)):
        done = replay(Record(kept), number)
        assert done.difference is None
        assert done.legs == legs
        assert done.ticks == len(list(Record(kept).rows(number)))
    assert main(["replay", "1", "--record", str(kept)]) == 0
    assert "in 2 runs of the controller, all the same again" in capsys.readouterr().out


def test_a_shelved_alarm_gives_no_heat_and_who_shelved_it_is_kept(kept: Path) -> None:
    record = Record(kept)
    shelved = next(event for event in record.events(1) if event.kind in SHELVED)
    assert shelved.fields == {"row": "door_open", "by": "page", "minutes": 30}
    after = [row for t_s, row in record.rows(1) if t_s > shelved.t_s][:5]
    assert len(after) == 5
    assert all("door_open" in row.reasons.split() for row in after)
    assert not any(row.heat_on for row in after)


@pytest.mark.parametrize(
    ("column", "value"),
    [("heat_on", "1 - heat_on"), ("duty", "duty + 1e-12"), ("air_c", "air_c + 300"), ("state", "'held'")],
)
def test_the_first_tick_that_was_changed_is_found(
    kept: Path, tmp_path: Path, column: str, value: str, capsys: pytest.CaptureFixture[str]
) -> None:
    changed = tmp_path / "record.db"
    for file in kept.parent.glob("record.db*"):
        shutil.copy(file, tmp_path / file.name)
    n = next(row.n for _, row in Record(kept).rows(1) if row.state == "running" and row.setpoint_c) + 40
    with closing(sqlite3.connect(changed)) as record, record:
        record.execute(f"UPDATE tick SET {column} = {value} WHERE firing = 1 AND n = {n}")
    found = replay(Record(changed), 1).difference
    assert found is not None
    assert found.n == n
    assert main(["replay", "1", "--record", str(changed)]) == 1
    assert f"tick {n}, " in capsys.readouterr().out


def test_a_tick_that_is_missing_is_told(kept: Path, tmp_path: Path) -> None:
    for file in kept.parent.glob("record.db*"):
        shutil.copy(file, tmp_path / file.name)
    n = [row.n for _, row in Record(kept).rows(1)][50]
    with closing(sqlite3.connect(tmp_path / "record.db")) as record, record:
        record.execute(f"DELETE FROM tick WHERE firing = 1 AND n = {n}")
    found = replay(Record(tmp_path / "record.db"), 1).difference
    assert found is not None
    assert (found.n, found.what) == (n + 1, "tick")


def test_a_firing_of_an_older_record_is_one_clear_line(
    kept: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for file in kept.parent.glob("record.db*"):
        shutil.copy(file, tmp_path / file.name)
    with closing(sqlite3.connect(tmp_path / "record.db")) as record, record:
        record.execute("DELETE FROM leg")
    assert main(["replay", "1", "--record", str(tmp_path / "record.db")]) == 2
    told = capsys.readouterr().err
    assert "found nothing to run it again by" in told
    assert told.count("\n") == 1
