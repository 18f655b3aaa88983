"""Builds what the tests of the board run: the firmware with avr-gcc, and the simulated board around it."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[2]
FIRMWARE = ROOT / "hardware_notes" / "board"
HARNESS = ROOT / "tests" / "board" / "harness"
PROGRAMS = {"avr-gcc": "gcc-avr", "cc": "gcc", "make": "make"}
FILES = {
    "/usr/lib/avr/include/avr/io.h": "avr-libc",
    "/usr/include/simavr/sim_avr.h": "libsimavr-dev",
    "/usr/include/libelf.h": "libelf-dev",
}


def missing() -> list[str]:
    """Return the packages (Debian's names) that must be installed before anything here can be built."""
    programs = [package for name, package in PROGRAMS.items() if shutil.which(name) is None]
    return programs + [package for name, package in FILES.items() if not Path(name).exists()]


def harness(folder: Path) -> Path:
    """Build the simulated board into a folder; return its program."""
    _make(HARNESS, folder)
    return folder / "harness"


def firmware(folder: Path, **numbers: int) -> Path:
    """Build the firmware into a folder, with numbers such as SENSORS=3; return its ELF file."""
    _make(FIRMWARE, folder, *(f"{name}={value}" for name, value in numbers.items()))
    return folder / "board.elf"


def _make(where: Path, folder: Path, *numbers: str) -> None:
    command = ["make", "--no-print-directory", "-C", str(where), f"BUILD={folder}", *numbers]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    if made.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} failed:\n{made.stdout}{made.stderr}")
