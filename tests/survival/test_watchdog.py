"""systemd is told that ticks go on by the ticks themselves, and by nothing else."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.watchdog import Watchdog
from tests.processes.conftest import House, command, until


@pytest.fixture
def systemd(tmp_path: Path) -> Iterator[socket.socket]:
    """What systemd listens on."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(tmp_path / "notify"))
        listener.setblocking(False)
        yield listener


def told(listener: socket.socket) -> list[str]:
    """Return what has been told since the last look."""
    messages = []
    with contextlib.suppress(BlockingIOError):
        while True:
            messages.append(listener.recv(4096).decode())
    return messages


def test_the_first_tick_says_ready_and_later_ones_say_that_it_lives(
    systemd: socket.socket, tmp_path: Path
) -> None:
    now = [100.0]
    environment = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "20000000"}
    watchdog = Watchdog(environment, lambda: now[0])
    assert told(systemd) == []
    watchdog.ticked()
    assert told(systemd) == ["READY=1\nWATCHDOG=1"]
    for _ in range(49):
        now[0] += 0.1
        watchdog.ticked()
    assert told(systemd) == []
    now[0] += 0.2
    watchdog.ticked()
    assert told(systemd) == ["WATCHDOG=1"]
    watchdog.stopping()
    assert told(systemd) == ["STOPPING=1"]


def test_without_ticks_nothing_is_told(systemd: socket.socket, tmp_path: Path) -> None:
    Watchdog({"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "1000"}, lambda: 1.0)
    assert told(systemd) == []


@pytest.mark.parametrize("pid", [None, "1"])
def test_without_a_watchdog_of_its_own_only_ready_is_told(
    systemd: socket.socket, tmp_path: Path, pid: str | None
) -> None:
    environment = {"NOTIFY_SOCKET": str(tmp_path / "notify")}
    if pid is not None:
        environment |= {"WATCHDOG_USEC": "1000000", "WATCHDOG_PID": pid}
    now = [0.0]
    watchdog = Watchdog(environment, lambda: now[0])
    for _ in range(5):
        watchdog.ticked()
        now[0] += 10.0
    assert told(systemd) == ["READY=1\nWATCHDOG=1"]


def test_without_systemd_nothing_happens() -> None:
    watchdog = Watchdog({}, lambda: 0.0)
    watchdog.ticked()
    watchdog.stopping()


def test_a_socket_that_is_gone_troubles_no_tick(tmp_path: Path) -> None:
    Watchdog({"NOTIFY_SOCKET": str(tmp_path / "nowhere")}, lambda: 0.0).ticked()


@pytest.mark.wire
def test_a_controller_whose_ticks_stop_falls_silent(
    house: House, systemd: socket.socket, tmp_path: Path
) -> None:
    controller = subprocess.Popen(
        command("controller", "--kiln", str(house.config), "--home", str(house.home), "--speed", "60"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "400000"},
    )
    house.processes.append(controller)
    heard: list[str] = []
    until(lambda: heard.extend(told(systemd)) or len(heard) >= 3)
    assert heard[0] == "READY=1\nWATCHDOG=1"
    assert set(heard[1:]) == {"WATCHDOG=1"}
    # The kiln no longer answers: ticks go on, in the longest time that the wire may take, without heat.
    controller.send_signal(signal.SIGSTOP)
    told(systemd)
    time.sleep(0.5)
    assert told(systemd) == []
    controller.send_signal(signal.SIGCONT)
    until(lambda: told(systemd))
    controller.terminate()
    until(lambda: heard.extend(told(systemd)) or "STOPPING=1" in heard)
