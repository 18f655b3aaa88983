"""One kiln has one controller, whatever home each would have; the lock dies with its owner."""

from __future__ import annotations

import signal
import subprocess
from pathlib import Path

import pytest

from controller.assemble import lock_kiln
from controller.config import read_kiln
from controller.errors import UsageError
from controller.simulator.process import demo_config
from tests.processes.conftest import House, command, until

pytestmark = pytest.mark.wire


def second(house: House, home: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command("controller", "--kiln", str(house.config), "--home", str(home), "--speed", "60"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_a_second_controller_with_a_home_of_its_own_is_refused_until_the_first_is_gone(
    house: House, tmp_path: Path
) -> None:
    first = house.start()
    refused = second(house, tmp_path / "other")
    _, told = refused.communicate(timeout=20)
    assert refused.returncode == 2
    assert "another controller holds the heater at 127.0.0.1" in told
    assert told.count("\n") == 1
    first.send_signal(signal.SIGKILL)
    first.wait()
    now = second(house, tmp_path / "other")
    house.processes.append(now)
    until((tmp_path / "other" / "channel.sock").exists)
    assert now.poll() is None


def test_the_same_heater_by_another_name_is_the_same_and_another_heater_is_not() -> None:
    port = 59321  # nothing listens there: a lock asks nobody
    text = demo_config(port)
    with lock_kiln(read_kiln(text, "one.toml")):
        with pytest.raises(UsageError, match="another controller"):
            lock_kiln(read_kiln(text.replace('"127.0.0.1"', '"localhost"'), "two.toml"))
        lock_kiln(read_kiln(demo_config(port + 1), "three.toml")).close()
    lock_kiln(read_kiln(text, "one.toml")).close()
