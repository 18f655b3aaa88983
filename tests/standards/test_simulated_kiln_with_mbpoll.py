"""The simulated kiln against `mbpoll`, a Modbus client of another hand (Debian package mbpoll, libmodbus).

What the program's own client and server agree upon might be wrong in both; mbpoll shares no code with
them. Data model, functions and exceptions: Modbus Application Protocol Specification V1.1b3.
mbpoll counts references from 1.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

pytestmark = pytest.mark.wire

SPEED = 50.0
READER, HEATER, CONTACTS, PANEL = "1", "2", "3", "99"
COIL, DISCRETE, INPUT, HOLDING = "0", "1", "3", "4"  # mbpoll's names of the four tables


class Poll:
    """mbpoll, asked once at a time."""

    def __init__(self, port: int) -> None:
        self._port = port

    def _run(self, *args: str) -> subprocess.CompletedProcess[str]:
        command = ["mbpoll", "-m", "tcp", "-p", str(self._port), "-1", "-o", "1", *args]
        return subprocess.run(command, capture_output=True, text=True, timeout=20, check=False)

    def read(self, unit: str, table: str, reference: int, count: int = 1, *options: str) -> list[str]:
        done = self._run(
            "-a", unit, "-t", table, "-r", str(reference), "-c", str(count), *options, "127.0.0.1"
        )
        assert done.returncode == 0, done.stderr
        return [
            re.sub(r" \(.*\)", "", value) for value in re.findall(r"^\[\d+\]:\s+(.*)$", done.stdout, re.M)
        ]

    def write(self, unit: str, table: str, reference: int, value: int) -> None:
        done = self._run("-a", unit, "-t", table, "-r", str(reference), "127.0.0.1", str(value))
        assert done.returncode == 0, done.stderr
        assert "Written 1 reference" in done.stdout

    def refusal(self, unit: str, table: str, reference: int) -> str:
        done = self._run("-a", unit, "-t", table, "-r", str(reference), "127.0.0.1")
        return done.stderr


@pytest.fixture(scope="module")
def kiln() -> Iterator[Poll]:
    if shutil.which("mbpoll") is None:
        pytest.fail("mbpoll is not installed; this check needs it: apt-get install mbpoll")
    command = [sys.executable, "-m", "controller.cli", "kiln", "--port", "0", "--speed", f"{SPEED:g}"]
    with subprocess.Popen(
        [*command, "--start-at", "300", "--with-parent"], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        line = process.stdout.readline()
        try:
            yield Poll(int(line.rsplit(":", 1)[1]))
        finally:
            process.terminate()
            assert process.wait(10) == 0


def test_it_reads_the_temperatures_in_tenths(kiln: Poll) -> None:
    air, load, limit, enclosure = (int(value) / 10.0 for value in kiln.read(READER, INPUT, 1, 4))
    assert 200.0 < air < 301.0
    assert abs(air - limit) < 15.0
    assert abs(air - load) < 30.0
    assert 20.0 < enclosure < 60.0


def test_it_reads_them_as_floats_in_both_orders_of_words(kiln: Poll) -> None:
    big = [float(value) for value in kiln.read(READER, f"{INPUT}:float", 11, 3, "-B")]
    swapped = [float(value) for value in kiln.read(READER, f"{INPUT}:float", 21, 3)]
    assert len(big) == len(swapped) == 3
    assert all(200.0 < value < 301.0 for value in big)
    assert swapped == pytest.approx(big, abs=15.0)


def test_it_sees_a_broken_thermocouple(kiln: Poll) -> None:
    kiln.write(PANEL, COIL, 1, 1)  # air_open
    assert kiln.read(READER, INPUT, 1) == ["32767"]
    assert kiln.read(READER, f"{INPUT}:float", 11, 1, "-B") in (["nan"], ["-nan"])
    kiln.write(PANEL, COIL, 1, 0)
    assert kiln.read(READER, INPUT, 1) != ["32767"]


def test_it_switches_the_heat_and_reads_it_back(kiln: Poll) -> None:
    kiln.write(HEATER, HOLDING, 1, 0)
    kiln.write(HEATER, COIL, 2, 1)
    kiln.write(HEATER, COIL, 1, 1)
    assert kiln.read(HEATER, COIL, 1, 2) == ["1", "1"]
    assert kiln.read(HEATER, DISCRETE, 1, 2) == ["1", "1"]
    assert kiln.read(PANEL, INPUT, 9) == ["6500"]
    kiln.write(HEATER, COIL, 1, 0)
    assert kiln.read(HEATER, DISCRETE, 1, 2) == ["0", "1"]
    assert kiln.read(PANEL, INPUT, 9) == ["0"]


def test_it_sees_the_lease_end_by_itself(kiln: Poll) -> None:
    lease_s = 60.0  # of the kiln's time; a little more than a second on the wall
    ended = int(kiln.read(PANEL, INPUT, 5)[0])
    kiln.write(HEATER, HOLDING, 1, int(lease_s * 1000))
    assert kiln.read(HEATER, HOLDING, 1) == ["60000"]
    kiln.write(HEATER, COIL, 2, 1)
    start_s = time.monotonic()
    kiln.write(HEATER, COIL, 1, 1)
    assert kiln.read(HEATER, DISCRETE, 1) == ["1"]
    while kiln.read(HEATER, DISCRETE, 1) == ["1"]:
        assert time.monotonic() - start_s < 5.0, "the lease did not end"
    assert time.monotonic() - start_s >= lease_s / SPEED
    assert kiln.read(HEATER, COIL, 1) == ["0"]
    assert int(kiln.read(PANEL, INPUT, 5)[0]) == ended + 1


def test_it_reads_the_contacts(kiln: Poll) -> None:
    assert kiln.read(CONTACTS, DISCRETE, 1, 5) == ["1"] * 5


def test_it_is_refused_what_is_not_there(kiln: Poll) -> None:
    assert "Illegal data address" in kiln.refusal(READER, INPUT, 200)
    assert "Target device failed to respond" in kiln.refusal("42", INPUT, 1)
