"""Which registers and bits we want, and the fewest questions that fetch them all. Pure planning.

Every question to an instrument is a round trip, so points of one unit and one function that lie near
each other are read as one block. Rules: every point is in exactly one block, which holds all of it; a
block is never longer than a Modbus answer can be.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

Function = Literal["coil", "discrete", "input", "holding"]

# The longest answers of the Modbus application protocol: 125 registers, 2000 bits (from memory; the
# same limits stand in pymodbus' requests).
LIMITS: dict[Function, int] = {"coil": 2000, "discrete": 2000, "input": 125, "holding": 125}

# Unwanted values that may be fetched between two wanted ones: eight registers are 16 bytes, far less
# than the 24 bytes and the turnaround that a second question and its answer cost.
GAP = 8


@dataclass(frozen=True, slots=True, order=True)
class Point:
    """`count` registers or bits from `address` (counted from zero) of one unit."""

    unit: int
    function: Function
    address: int
    count: int = 1

    @property
    def end(self) -> int:
        """Return the first address after this point."""
        return self.address + self.count


@dataclass(frozen=True, slots=True, order=True)
class Part:
    """Where a point lies in a block: point number `index` of those planned, from `start` to `end`."""

    index: int
    start: int
    end: int


@dataclass(frozen=True, slots=True, order=True)
class Block:
    """One question: `count` registers or bits from `address`, and the points that it answers."""

    unit: int
    function: Function
    address: int
    count: int
    parts: tuple[Part, ...]


def plan(points: Mapping[int, Point], gap: int = GAP) -> list[Block]:
    """Return the blocks to read, in the order of unit, function and address; points go by any number."""
    return [_block(run, points) for run in _runs(points, gap)]


def split(block: Block) -> list[Block]:
    """Return smaller blocks for a block that an instrument refused; none when it holds one point only.

    Some instruments refuse a whole question when one register between the wanted ones does not exist.
    First the gaps go; if that changes nothing, every point is asked for by itself.
    """
    points = {part.index: _point(block, part) for part in block.parts}
    runs = list(_runs(points, gap=0))
    if len(runs) == 1:
        runs = [[index] for index in points]
    return [_block(run, points) for run in runs] if len(runs) > 1 else []


def _runs(points: Mapping[int, Point], gap: int) -> Iterator[list[int]]:
    """Yield the indices of points that go into one block."""
    run: list[int] = []
    for index in sorted(points, key=lambda i: points[i]):
        if run and not _joins(points[index], [points[i] for i in run], gap):
            yield run
            run = []
        run.append(index)
    if run:
        yield run


def _joins(point: Point, run: list[Point], gap: int) -> bool:
    """Return whether a block of `run` may be lengthened to hold `point`, which lies at its end or after."""
    first, end = run[0], max(p.end for p in run)
    return (
        (point.unit, point.function) == (first.unit, first.function)
        and point.address - end <= gap
        and max(point.end, end) - first.address <= LIMITS[point.function]
    )


def _block(run: list[int], points: Mapping[int, Point]) -> Block:
    first = points[run[0]]
    count = max(points[i].end for i in run) - first.address
    parts = tuple(Part(i, points[i].address - first.address, points[i].end - first.address) for i in run)
    return Block(first.unit, first.function, first.address, count, parts)


def _point(block: Block, part: Part) -> Point:
    return Point(block.unit, block.function, block.address + part.start, part.end - part.start)
