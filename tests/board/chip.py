"""The simulated board as an object: the firmware as compiled runs in simavr, in a process beside us.

Unpaced, the chip's time stands still but for what is asked: `run`, and some 20 ms for each exchange over
the line. Paced, it follows the clock on the wall. Times of edges are exact to the chip's cycle.
"""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import Literal, NamedTuple

HZ = 16_000_000
CONTACTS = ("door", "emergency_stop", "extraction", "key", "heat_proven", "main_proven")
WHAT = {"h": "heat", "m": "main", "r": "reset"}


class Edge(NamedTuple):
    """An output's change. `at_s` is the chip's time, `wall_s` that of `time.monotonic`."""

    what: str
    on: bool
    at_s: float
    wall_s: float


class Chip:
    """A board that is powered from the moment it is made. `line` is its serial port's path."""

    def __init__(self, harness: Path, elf: Path) -> None:
        self._process = subprocess.Popen(
            [str(harness), str(elf)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.line = self._read()
        self.edges: list[Edge] = []

    @property
    def now_s(self) -> float:
        """The chip's time: its cycles since it was made, resets or not."""
        return self._do("run 0")

    def run(self, ms: float) -> None:
        """Let the chip run."""
        self._do(f"run {ms:.0f}")

    def pace(self, on: bool) -> None:
        """Follow the clock on the wall, or stand still again."""
        self._do(f"pace {on:d}")

    def temperature(self, channel: int, c: float) -> None:
        """Set what a thermocouple measures; the converter shows quarters of a degree."""
        self._do(f"temp {channel} {round(c * 4)}")

    def cold_junction(self, channel: int, c: float) -> None:
        """Set a converter's own temperature; it shows sixteenths of a degree."""
        self._do(f"cold {channel} {round(c * 16)}")

    def sensor(self, channel: int, kind: str) -> None:
        """Make a sensor fail: open, ground, supply, absent, unsaid; or mend it: none."""
        self._do(f"sensor {channel} {kind}")

    def contact(self, name: str, well: bool) -> None:
        """Close a contact (all is well), or open it."""
        self._do(f"contact {CONTACTS.index(name)} {well:d}")

    def reset(self, kind: Literal["power", "external", "brown-out"], *, spoil_memory: bool = False) -> None:
        """Reset the chip. simavr has no supply voltage: a brown-out is a reset that sets its flag."""
        if spoil_memory:
            self._do("spoil")
        self._do(f"reset {kind}")

    def hang(self, how: Literal["loop", "all"]) -> None:
        """Send the program counter astray: the main loop only, or with the interrupts stopped."""
        self._do(f"hang {how}")

    def taken(self, count: int) -> None:
        """Wait until so many bytes have come in over the line since the chip was made."""
        self._do(f"taken {count}")

    def given(self) -> int:
        """Return how many bytes have gone out over the line since the chip was made."""
        self._process.stdin.write("given\n")
        self._process.stdin.flush()
        count = int(self._read())
        self._done()
        return count

    def heat(self) -> bool:
        """Return whether the relay's pin is driven high now."""
        return self._level("heat")

    def main(self) -> bool:
        """Return whether the main contactor's pin is driven high now."""
        return self._level("main")

    def news(self) -> list[Edge]:
        """Return the edges since this, `heat` or `main` was last asked. All of them are kept in `edges`."""
        self._process.stdin.write("edges\n")
        self._process.stdin.flush()
        fresh = [self._edge(self._read()) for _ in range(int(self._read()))]
        self._done()
        self.edges += fresh
        return fresh

    def close(self) -> None:
        """Switch everything off."""
        self._process.stdin.close()
        self._process.wait(timeout=5)
        self._process.stdout.close()

    def _level(self, what: str) -> bool:
        self.news()
        return next((edge.on for edge in reversed(self.edges) if edge.what == what), False)

    def _edge(self, text: str) -> Edge:
        what, on, cycle, wall_ns = text.split()
        return Edge(WHAT[what], on == "1", int(cycle) / HZ, int(wall_ns) / 1e9)

    def _do(self, command: str) -> float:
        self._process.stdin.write(command + "\n")
        self._process.stdin.flush()
        return self._done()

    def _done(self) -> float:
        answer = self._read()
        if not answer.startswith("ok "):
            raise AssertionError(f"the harness answered {answer!r}")
        return int(answer.removeprefix("ok ")) / HZ

    def _read(self) -> str:
        text = self._process.stdout.readline()
        if not text:
            raise AssertionError("the harness has ended")
        return text.rstrip("\n")
