"""Whatever becomes of the disk, the kiln is fired on, the person is told, and nothing is lost afterwards."""

from __future__ import annotations

import os
import resource
import sqlite3
import time

import pytest

from tests.processes.conftest import House, until
from tests.survival.help import alarms, frame, heat_is_on, numbers, without_a_hole

pytestmark = [pytest.mark.wire, pytest.mark.timeout(120)]


def the_firing_goes_on(house: House, ticks: int = 30) -> None:
    """Ticks go on in the running state, and the kiln gets heat."""
    first = frame(house)["n"]
    until(lambda: heat_is_on(house))
    until(lambda: frame(house)["n"] > first + ticks)
    assert frame(house)["state"] == "running"


def nothing_is_missing(house: House) -> None:
    """All that waited is written, in order and once."""
    reached = frame(house)["n"]
    until(lambda: numbers(house)[-1] > reached, 30)
    assert without_a_hole(numbers(house))


def test_a_disk_that_takes_no_more_is_told_and_outlived(house: House) -> None:
    controller = house.start()
    house.fire()
    until(lambda: house.state() == "running")
    # What the system says of a file that may not grow is, for the writer, a disk that takes no more.
    free = resource.prlimit(controller.pid, resource.RLIMIT_FSIZE)
    full = os.stat(house.home / "record.db-wal").st_size
    resource.prlimit(controller.pid, resource.RLIMIT_FSIZE, (full, free[1]))
    until(lambda: "record_trouble" in alarms(house))
    the_firing_goes_on(house)
    resource.prlimit(controller.pid, resource.RLIMIT_FSIZE, free)
    until(lambda: "record_trouble" not in alarms(house))
    nothing_is_missing(house)
    assert "alarm_warning" in {event.kind for event in house.record.events(1)}


def test_a_record_that_is_locked_for_minutes_is_told_and_outlived(house: House) -> None:
    house.start()
    house.fire()
    until(lambda: house.state() == "running")
    other = sqlite3.connect(house.home / "record.db", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        began_s = time.monotonic()
        until(lambda: "record_trouble" in alarms(house))
        the_firing_goes_on(house)
        until(lambda: time.monotonic() - began_s > 3.0)  # three minutes of the kiln's time
    finally:
        other.execute("ROLLBACK")
        other.close()
    until(lambda: "record_trouble" not in alarms(house))
    nothing_is_missing(house)


def test_a_record_that_is_removed_is_told_and_the_firing_goes_on(house: House) -> None:
    controller = house.start()
    house.fire()
    until(lambda: house.state() == "running")
    for file in house.home.glob("record.db*"):
        file.unlink()
    until(lambda: "record_trouble" in alarms(house))
    the_firing_goes_on(house)
    assert not (house.home / "record.db").exists()
    assert house.client.ask({"request": "abort", "by": "test"})["ok"]
    until(lambda: not heat_is_on(house))
    controller.terminate()
    _, told = controller.communicate(timeout=20)
    assert controller.returncode == 1
    assert "rows could not be written to the record" in told
    assert "Traceback" not in told
