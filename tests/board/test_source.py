"""What can be said of the firmware without running it."""

from __future__ import annotations

import re
import subprocess

import pytest

from controller.wire import board_line
from tests.board.build import FIRMWARE

pytestmark = pytest.mark.wire

FLASH_BYTES, MEMORY_BYTES = 32 * 1024, 2048  # of the ATmega328P
PORT_D = "0x0b"  # as `out`, `sbi` and `cbi` address it; 0x2B as `sts` does


def disassembled(elf) -> list[str]:
    """Return the firmware's instructions."""
    return subprocess.run(
        ["avr-objdump", "-d", "--no-show-raw-insn", str(elf)], capture_output=True, text=True, check=True
    ).stdout.splitlines()


def test_the_outputs_are_driven_from_one_place_and_switched_off_from_one_more(built) -> None:
    _, elf = built()
    drives = [line for line in disassembled(elf) if re.search(rf"\b(out|sbi|sts)\s+({PORT_D}|0x002B),", line)]
    assert len(drives) == 2
    off = [line for line in drives if re.search(rf"out\s+{PORT_D}, r1\b", line)]  # r1 is zero by convention
    assert len(off) == 1
    sources = {path.name: path.read_text().count("PORTD") for path in sorted(FIRMWARE.glob("*.[ch]"))}
    assert {name: count for name, count in sources.items() if count} == {"heat.c": 2}


def test_nothing_happens_after_a_reset_before_the_outputs_are_off(built) -> None:
    code = "\n".join(disassembled(built()[1]))
    start = code[code.index("<__ctors_end>:") :]
    before = start[: start.index(f"{PORT_D}, r1")].splitlines()[1:]
    assert len(before) < 10  # clearing r1 and the status register, and the stack pointer


@pytest.mark.parametrize("sensors", [1, 2, 3])
def test_it_is_small(built, sensors) -> None:
    sizes = subprocess.run(
        ["avr-size", str(built(SENSORS=sensors)[1])], capture_output=True, text=True, check=True
    )
    text, data, bss = (int(word) for word in sizes.stdout.splitlines()[1].split()[:3])
    assert text + data < FLASH_BYTES / 8
    assert data + bss < MEMORY_BYTES / 4  # the stack has the rest


def test_it_can_be_read_in_a_sitting() -> None:
    lines = {path.name: len(path.read_text().splitlines()) for path in FIRMWARE.glob("*.[ch]")}
    assert max(lines.values()) < 200
    assert sum(lines.values()) < 750


@pytest.mark.parametrize("numbers", [{"SENSORS": 4}, {"SENSORS": 0}, {"LIMIT_C": 2000}, {"LIMIT_C": 10}])
def test_numbers_that_make_no_sense_are_not_built(built, numbers) -> None:
    with pytest.raises(RuntimeError, match="SENSORS is 1 to 3; LIMIT_C is 50 to 1372"):
        built(**numbers)


@pytest.mark.parametrize("sensors", [1, 3])
def test_it_tells_what_it_was_built_for(built, sensors, run_chip) -> None:
    chip, board = run_chip(SENSORS=sensors, LIMIT_C=1100)
    status = board.acknowledge()
    assert len(status.sensors) == sensors
    assert board.identity[1:] == (board_line.VERSION, sensors, 1100.0, 30_000, 10_000, 0)
    board.order(3000, False)
    chip.temperature(sensors - 1, 1099.75)
    chip.run(1000)
    assert chip.heat()
    chip.temperature(sensors - 1, 1100.0)
    chip.run(110)
    assert not chip.heat()
