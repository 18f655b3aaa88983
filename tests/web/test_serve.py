"""The page's process: bound to this machine, one line when its port is taken, gone with its parent."""

from __future__ import annotations

import argparse
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from controller.commands import web as command
from controller.errors import UsageError
from tests.web.conftest import wait_for
from web.serve import PARENT_POLL_S, bind

LAUNCH = """
import argparse, sys
from controller.commands import web
parser = argparse.ArgumentParser()
web.arguments(parser)
sys.exit(web.run(parser.parse_args()))
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def launch(port: int, home: Path, *more: str) -> list[str]:
    return [sys.executable, "-c", LAUNCH, "--port", str(port), "--home", str(home), *more]


def answers(port: int) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}/api/health").status_code == 200
    except httpx.TransportError:
        return False


def test_it_listens_on_loopback_only() -> None:
    with bind(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


@pytest.mark.parametrize("port", [70000, -1])
def test_a_port_that_is_none_is_one_line(port: int) -> None:
    with pytest.raises(UsageError, match=f"the page cannot be served on port {port}: "):
        bind(port)


def test_a_port_in_use_is_one_line_and_status_two(tmp_path: Path) -> None:
    with bind(0) as taken:
        port = taken.getsockname()[1]
        parser = argparse.ArgumentParser()
        command.arguments(parser)
        args = parser.parse_args(["--port", str(port), "--home", str(tmp_path)])
        with pytest.raises(UsageError) as caught:
            command.run(args)
    assert str(caught.value) == (
        f"the page cannot be served on port {port}: another program uses it; choose one with --port"
    )
    assert caught.value.exit_status == 2


@pytest.mark.wire
def test_it_serves_without_a_controller_and_ends_quietly_when_told(tmp_path: Path) -> None:
    port = free_port()
    with subprocess.Popen(launch(port, tmp_path), stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        wait_for(lambda: answers(port), 15)
        with httpx.stream("GET", f"http://127.0.0.1:{port}/api/live") as stream:
            assert next(stream.iter_lines()).startswith("id: ")
            process.terminate()
            out, err = process.communicate(timeout=10)
    assert (out, err) == (b"", b"")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.wire
def test_it_ends_when_its_parent_dies(tmp_path: Path) -> None:
    """The parent is killed outright: nothing tells the page's process but the change of its parent."""
    port = free_port()
    parent_code = "import subprocess, sys; subprocess.run(sys.argv[1:])"
    parent = subprocess.Popen([sys.executable, "-c", parent_code, *launch(port, tmp_path, "--with-parent")])
    try:
        wait_for(lambda: answers(port), 15)
    finally:
        parent.kill()
        parent.wait(5)
    wait_for(lambda: not answers(port), 10)


@pytest.mark.wire
def test_without_with_parent_it_outlives_its_parent(tmp_path: Path) -> None:
    port = free_port()
    parent_code = """
import subprocess, sys
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
print(child.pid, flush=True)
child.wait()
"""
    command = [sys.executable, "-c", parent_code, *launch(port, tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        child = int(parent.stdout.readline())
        try:
            wait_for(lambda: answers(port), 15)
            parent.kill()
            parent.wait(5)
            time.sleep(3 * PARENT_POLL_S)
            assert answers(port)
        finally:
            os.kill(child, signal.SIGTERM)
    wait_for(lambda: not answers(port), 10)
