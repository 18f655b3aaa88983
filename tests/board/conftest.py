"""The simulated board, built once for all its tests, and the real driver on its line."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

import pytest

from controller.wire.board import Board, BoardConfig
from controller.wire.board_kiln import BoardHeatOutput, BoardInputs, Place, open_board
from tests.board import build
from tests.board.chip import Chip

CONTACTS = ("door", "emergency_stop", "extraction", "key")
READERS = {"air": Place(0), "load": Place(1), "enclosure": Place(0, cold=True)}


@pytest.fixture(scope="session")
def built(tmp_path_factory) -> Callable[..., tuple]:
    """Return a function that builds harness and firmware, and gives both; each firmware is built once."""
    lacking = build.missing()
    if lacking and os.environ.get("CI"):
        pytest.fail(f"not installed: {', '.join(lacking)}")
    if lacking:
        pytest.skip(f"needs {', '.join(lacking)}")
    harness = build.harness(tmp_path_factory.mktemp("harness"))
    known = {}

    def make(**numbers: int) -> tuple:
        key = tuple(sorted(numbers.items()))
        if key not in known:
            known[key] = build.firmware(tmp_path_factory.mktemp("firmware"), **numbers)
        return harness, known[key]

    return make


def driven(chip: Chip) -> Board:
    """Return the driver's line to a chip. It answers at once: the patience is for a busy machine."""
    config = BoardConfig(name="board", port=chip.line, timeout_s=1.0, budget_s=3.0)
    return Board(config, lambda: chip.now_s, 0.5)


@pytest.fixture
def run_chip(built) -> Iterator[Callable[..., tuple[Chip, Board]]]:
    """Return a function that switches on a board with other numbers, and gives the driver's line too."""
    made = []

    def run(**numbers: int) -> tuple[Chip, Board]:
        chip = Chip(*built(**numbers))
        chip.run(300)
        made.append((chip, driven(chip)))
        return made[-1]

    yield run
    for chip, board in made:
        board.close()
        chip.close()


@pytest.fixture
def chip(built) -> Iterator[Chip]:
    """Return a board with the firmware as shipped, switched on a moment ago."""
    board = Chip(*built())
    board.run(300)
    yield board
    board.close()


@pytest.fixture
def board(chip) -> Iterator[Board]:
    """Return the driver's line to that board."""
    line = driven(chip)
    yield line
    line.close()


@pytest.fixture
def kiln(chip) -> Iterator[tuple[BoardInputs, BoardHeatOutput]]:
    """Return the inputs and the heat output behind that board."""
    config = BoardConfig(name="board", port=chip.line, timeout_s=1.0, budget_s=3.0)
    inputs, heat = open_board(config, READERS, CONTACTS, lambda: chip.now_s, tick_s=1.0)
    yield inputs, heat
    inputs.close()
