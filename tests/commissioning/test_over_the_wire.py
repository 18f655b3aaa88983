"""The whole course over Modbus, on a kiln in a process of its own, with hands at its fault panel."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from pymodbus.client import ModbusTcpClient

from controller.clock import SystemClock
from controller.commissioning.course import lead
from controller.commissioning.parts import fingerprints
from controller.commissioning.result import Check, Done, Result
from controller.commissioning.rig import Bench
from controller.commissioning.store import load, save
from controller.commissioning.table import steps
from controller.config import load_kiln
from controller.simulator import faults
from controller.simulator.units import Panel
from controller.wire.kiln_wire import open_wire
from tests.commissioning.hands import FAULT_OF, Hands

pytestmark = pytest.mark.wire

SPEED = 30.0
START_C = 40.0  # warm enough that a thermocouple that reads low and then does not has been "warmed" by 2.7 K
DAY = date(2031, 4, 5)


class Panelled(Hands):
    """A person whose hands are the simulated kiln's fault panel."""

    def __init__(self, port: int) -> None:
        super().__init__()
        self._client = ModbusTcpClient("127.0.0.1", port=port, timeout=2.0, retries=0)
        assert self._client.connect()
        self.answers["thermometer"] = f"{START_C:g} C"
        self.repeats = 0
        for role in ("air", "load", "limit"):
            self.acts[f"] sensor_{role}:"] = lambda role=role: self.turn(f"{role}_reads_low", True)
            self.acts[f"Warm the {role} "] = lambda role=role: self.turn(f"{role}_reads_low", False)
        for fault, opens, closes in FAULT_OF.values():
            self.acts[opens] = lambda fault=fault: self.turn(fault, True)
            self.acts[closes] = lambda fault=fault: self.turn(fault, False)

    def turn(self, fault: str, on: bool) -> None:
        reply = self._client.write_coil(faults.number(fault), on, device_id=Panel.number)
        assert not reply.isError()

    def heat_or_main(self) -> bool:
        """Whether the kiln itself says that relay or main contactor is closed."""
        reply = self._client.read_discrete_inputs(0, count=2, device_id=2)
        return any(reply.bits[:2])

    def ask(self, question: str) -> str:
        if "Type again" in question and self.repeats < 3:  # a busy computer may spoil one measurement of time
            self.repeats += 1
            return "again"
        return super().ask(question)

    def close(self) -> None:
        self._client.close()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[Bench, Panelled]]:
    config = tmp_path / "kiln.toml"
    command = [sys.executable, "-m", "controller.cli", "kiln", "--port", "0", "--speed", str(SPEED)]
    command += ["--start-at", str(START_C), "--write-config", str(config)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as kiln:
        assert kiln.stdout is not None
        hands = Panelled(int(kiln.stdout.readline().strip().rsplit(":", 1)[1]))
        try:
            yield Bench(load_kiln(config), tmp_path, SystemClock(SPEED), hands, open_wire, 0.02), hands
        finally:
            hands.close()
            kiln.kill()


def test_the_whole_course_over_a_real_wire(bench: tuple[Bench, Panelled]) -> None:
    made, hands = bench
    assert lead(made, "Ada", lambda: DAY), "\n".join(hands.told)
    kept = load(made.home)
    assert kept["lease"].done.figures["hardware_lease"] == 1.0
    assert kept["low_heat"].done.figures["to_c"] >= 60.0
    assert kept["model"].done.passed
    assert not hands.heat_or_main()


def test_a_reversed_thermocouple_and_a_dead_relay_are_found_over_a_real_wire(
    bench: tuple[Bench, Panelled],
) -> None:
    made, hands = bench
    hands.repeats = 3
    hands.acts["Warm the air "] = lambda: hands.turn("air_reversed", True)
    assert not lead(made, "Ada", lambda: DAY)
    assert "FAIL  air: polarity" in "\n".join(hands.told)
    assert not hands.heat_or_main()


def test_a_command_that_is_ended_in_the_low_heat_leaves_relay_and_main_contactor_open(
    bench: tuple[Bench, Panelled],
) -> None:
    made, hands = bench
    done = Done((Check("it", "well", "well", True),))
    before = {
        step.name: Result(step.name, date.today(), "Ada", "1", done, fingerprints(made.config, step))
        for step in steps(made.config)
        if step.name not in ("low_heat", "model")
    }
    save(made.home, made.config.name, before)
    command = [sys.executable, "-m", "controller.cli", "commission", "--kiln", made.config.file]
    command += ["--home", str(made.home), "--by", "Ada", "--step", "low_heat", "--speed", str(SPEED)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write("yes\n")
        process.stdin.flush()
        for line in process.stdout:
            if line.startswith("  air "):
                break
        assert hands.heat_or_main()
        process.send_signal(signal.SIGTERM)
        assert process.wait(10.0) == 130
    assert not hands.heat_or_main()
    assert "low_heat" not in load(made.home)
