"""`stokehold kiln` and `stokehold fault` as a person meets them: processes, ports, signals, clear lines."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from pymodbus.client import ModbusTcpClient

from controller.config import load_kiln
from controller.simulator import process

pytestmark = pytest.mark.wire

STOKEHOLD = [sys.executable, "-W", "error", "-m", "controller.cli"]


def stokehold(*args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*STOKEHOLD, *args], capture_output=True, text=True, timeout=30, check=False)


def port_said(kiln: subprocess.Popen[str]) -> int:
    assert kiln.stdout is not None
    line = kiln.stdout.readline()
    assert line.startswith("listening on 127.0.0.1:"), line
    return int(line.rsplit(":", 1)[1])


@contextmanager
def running(*args: str) -> Iterator[tuple[subprocess.Popen[str], int]]:
    command = [*STOKEHOLD, "kiln", "--port", "0", *args]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as kiln:
        try:
            yield kiln, port_said(kiln)
        finally:
            kiln.kill()


@contextmanager
def client_of(port: int) -> Iterator[ModbusTcpClient]:
    client = ModbusTcpClient("127.0.0.1", port=port, timeout=2.0, retries=0)
    try:
        assert client.connect()
        yield client
    finally:
        client.close()


def door_is_closed(port: int) -> bool:
    with client_of(port) as client:
        return bool(client.read_discrete_inputs(0, count=1, device_id=3).bits[0])


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_kiln_ends_cleanly_when_told(number: signal.Signals) -> None:
    with running() as (kiln, port):
        with client_of(port):  # also while someone is connected
            kiln.send_signal(number)
            assert kiln.wait(10) == 0
        assert kiln.stderr is not None
        assert kiln.stderr.read() == ""


def test_it_listens_on_the_loopback_address_only() -> None:
    with running() as (_, port):
        listening = (
            Path("/proc/net/tcp").read_text().splitlines() + Path("/proc/net/tcp6").read_text().splitlines()
        )
        local = [line.split()[1] for line in listening if line.split()[3] == "0A"]
        assert [place for place in local if place.endswith(f":{port:04X}")] == [f"0100007F:{port:04X}"]


def test_a_port_in_use_is_one_clear_line() -> None:
    with running() as (_, port):
        second = stokehold("kiln", "--port", str(port))
    assert second.returncode == 2
    assert second.stderr == f"port {port}: found another program on it, expected a free port on 127.0.0.1\n"
    assert second.stdout == ""


def test_the_written_configuration_leads_to_this_kiln(tmp_path: Path) -> None:
    with running("--write-config", str(tmp_path / "kiln.toml")) as (_, port):
        assert load_kiln(tmp_path / "kiln.toml").buses["main"].port == port


def test_it_starts_as_warm_as_asked_and_runs_as_fast_as_asked() -> None:
    with running("--start-at", "400", "--speed", "600") as (_, port), client_of(port) as client:
        air_c = client.read_input_registers(0, count=1, device_id=1).registers[0] / 10.0
        assert 200.0 < air_c < 401.0
        # Nothing is left in the shell that could boil or burn.
        assert client.read_input_registers(6, count=2, device_id=99).registers == [0, 0]
        first, early_s, _ = kiln_seconds(client)
        time.sleep(0.5)
        last, _, late_s = kiln_seconds(client)
        assert last - first <= 600.0 * (late_s - early_s) + 1.0
        assert last - first >= 600.0 * 0.5 - 1.0


def kiln_seconds(client: ModbusTcpClient) -> tuple[int, float, float]:
    """What the kiln's clock shows, and the wall's before and after it was asked."""
    before_s = time.monotonic()
    high, low = client.read_input_registers(9, count=2, device_id=99).registers
    return (high << 16) + low, before_s, time.monotonic()


def test_it_moves_on_when_nobody_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted within: from outside, asking moves it on as well. It ends here because its parent changes."""
    moved: list[float] = []
    parents = iter([7, 7, 7, 7, 8])
    monkeypatch.setattr(process.os, "getppid", lambda: next(parents))
    monkeypatch.setattr(process.ModbusFace, "catch_up", lambda _face: moved.append(time.monotonic()))
    order = process.Order(port=0, speed=1.0, seed=1, start_c=20.0, config=None, due=(), parent=7)
    asyncio.run(process.run(order, lambda _line: None))
    assert len(moved) == 4
    assert process.STRIDE_S <= 0.25
    assert moved[-1] - moved[0] == pytest.approx(3.0 * process.STRIDE_S, abs=2.0)


def test_a_fault_is_switched_from_outside() -> None:
    with running() as (_, port):
        assert door_is_closed(port)
        done = stokehold("fault", "door_opened", "on", "--port", str(port))
        assert (done.returncode, done.stdout) == (0, "door_opened is on\n")
        assert not door_is_closed(port)
        stokehold("fault", "door_opened", "off", "--port", str(port))
        assert door_is_closed(port)


def test_the_faults_are_listed_without_a_kiln() -> None:
    done = stokehold("fault", "list")
    assert done.returncode == 0
    assert "relay_welded" in done.stdout


@pytest.mark.parametrize(
    ("args", "line"),
    [
        (
            ("fault", "air_opn", "on"),
            "fault: found 'air_opn', expected one that `stokehold fault list` shows",
        ),
        (("fault", "air_open"), "fault air_open: found neither on nor off, expected one of them"),
        (
            ("fault", "air_open", "on", "--port", "1"),
            "port 1: found no fault panel on 127.0.0.1, expected a kiln",
        ),
        (("kiln", "--port", "70000"), "--port: found 70000, expected 0 to 65535"),
        (("kiln", "--port", "0", "--speed", "0"), "speed: found 0, expected a number above 0"),
        (
            ("kiln", "--port", "0", "--start-at", "5000"),
            "--start-at: found 5000, expected 0 to 1300 (degrees C)",
        ),
        (
            ("kiln", "--port", "0", "--fault", "air_open"),
            "fault air_open: found 'air_open', expected NAME@SECONDS",
        ),
    ],
)
def test_what_cannot_be_is_one_clear_line(args: tuple[str, ...], line: str) -> None:
    done = stokehold(*args)
    assert done.returncode == 2
    assert done.stderr.startswith(line)
    assert done.stderr.count("\n") == 1


def test_something_that_is_no_kiln_is_one_clear_line() -> None:
    with socket.create_server(("127.0.0.1", 0)) as stranger:
        port = stranger.getsockname()[1]

        def hang_up() -> None:
            stranger.accept()[0].close()

        rudeness = threading.Thread(target=hang_up)
        rudeness.start()
        done = stokehold("fault", "air_open", "on", "--port", str(port))
        rudeness.join()
    assert done.returncode == 2
    assert done.stderr.startswith(f"port {port}: found no fault panel on 127.0.0.1, expected a kiln")
    assert done.stderr.count("\n") == 1


def test_with_its_parent_it_ends_too() -> None:
    """A parent that is killed cannot end its child: the child notices."""
    command = [*STOKEHOLD, "kiln", "--port", "0", "--with-parent"]
    code = (
        "import subprocess, sys, time\n"
        f"kiln = subprocess.Popen({command!r}, stdout=subprocess.PIPE)\n"
        "print(kiln.pid, kiln.stdout.readline().decode().strip(), flush=True)\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        pid = int(parent.stdout.readline().split()[0])
        parent.kill()
    deadline_s = time.monotonic() + 10.0
    while alive(pid) and time.monotonic() < deadline_s:
        time.sleep(0.05)
    ended = not alive(pid)
    if not ended:
        os.kill(pid, signal.SIGKILL)  # it is ours, and would stay for ever
    assert ended


def alive(pid: int) -> bool:
    """Whether a process runs; one that has ended and waits to be counted does not."""
    try:
        os.kill(pid, 0)
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (ProcessLookupError, FileNotFoundError):
        return False
