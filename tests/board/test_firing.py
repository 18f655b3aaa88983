"""A whole accelerated firing: plant, guard, core, control, the real driver, and the firmware as compiled.

The chip's relay and contactor pins switch the simulated plant, at the times at which the chip moved
them; the plant's thermocouples go back into the converters. Everything between is the real one.
"""

from __future__ import annotations

import pytest

from controller.firing import Cue, Request, State
from controller.guard import Guard, LatchFile, Limits
from controller.schedule.reader import read_schedule
from controller.simulator.plant import Plant
from controller.tick import Equipment, TickLoop
from controller.wire.board import BoardConfig
from controller.wire.board_kiln import Place, open_board
from tests.board.chip import Chip
from tests.in_process import DEMO_PLAN, InProcess

pytestmark = pytest.mark.wire

TICK_S = 2.0
CONTACTS = ("door", "emergency_stop", "extraction", "key")
SCHEDULE = """
title = "A short firing on the board"

[[stage]]
kind = "ramp"
name = "dry"
to = "50 C"
rate = "300 C/h"

[[stage]]
kind = "hold"
name = "soak"
at = "50 C"
for = "1 min"
band = "10 C"

[[stage]]
kind = "checkpoint"
name = "patch"
says = "Look for cracks."
heat = "off"
expect = "1 min"

[[stage]]
kind = "ramp"
name = "rise"
to = "60 C"
rate = "300 C/h"

[[stage]]
kind = "cool"
name = "down"
to = "58 C"
"""


class OnChip:
    """A plant whose relay and contactor are a chip's pins. The chip's time is the only one."""

    def __init__(self, chip: Chip, plant: Plant) -> None:
        self.chip = chip
        self.plant = plant
        self.on_s = 0.0
        self._show()
        chip.run(200)  # until the first readings are in
        self._start_s = self._seen_s = chip.now_s
        self._ticks = 0

    @property
    def now_s(self) -> float:
        """The chip's time."""
        return self.chip.now_s

    def advance(self, dt_s: float) -> None:
        """Let the chip come to the next tick, and the plant with it."""
        self._ticks += 1
        self.chip.run(1000 * (self._start_s + self._ticks * dt_s - self.chip.now_s))
        for edge in self.chip.news():
            self._follow(edge.at_s)
            if edge.what == "heat":
                self.plant.set_heat(edge.on)
            elif edge.what == "main":
                self.plant.set_main(edge.on)
        self._follow(self.chip.now_s)
        self._show()

    def _follow(self, at_s: float) -> None:
        self.on_s += (at_s - self._seen_s) * self.plant.relay_closed
        self.plant.advance(at_s - self._seen_s)
        self._seen_s = at_s

    def _show(self) -> None:
        for channel, c in enumerate(self.plant.readings()):
            self.chip.temperature(channel, c)


@pytest.fixture
def kiln(built, tmp_path):
    """Return the whole loop on a board with three sensors."""
    chip = Chip(*built(SENSORS=3))
    chip.run(300)
    config = BoardConfig(name="board", port=chip.line, timeout_s=1.0, budget_s=3.0)
    readers = {"air": Place(0), "load": Place(1), "limit": Place(2)}
    inputs, output = open_board(config, readers, CONTACTS, lambda: chip.now_s, tick_s=TICK_S)
    guard = Guard(
        output, Limits(ceiling_c=900.0, lease_s=6.0), LatchFile(tmp_path / "latches.json"), lambda: chip.now_s
    )
    loop = TickLoop(guard, DEMO_PLAN, Equipment(frozenset(CONTACTS), True), 300.0)
    yield InProcess(OnChip(chip, Plant(start_c=40.0)), inputs, loop, TICK_S)
    inputs.close()
    chip.close()


def test_a_whole_firing_runs_on_the_board(kiln) -> None:
    ticks = []
    firing = kiln.fire(read_schedule(SCHEDULE, "short.toml"), ticks.append)
    assert firing.state is State.COMPLETE
    assert [tick.polled.errors for tick in ticks if tick.polled.errors] == []
    assert not any(tick.verdict.trip or tick.verdict.cut for tick in ticks)
    assert max(tick.polled.readings["air"].value_c for tick in ticks) == pytest.approx(60.0, abs=5.0)
    granted_s = TICK_S * sum(tick.grant.heat for tick in ticks)
    on_s = kiln.plant.on_s
    assert granted_s > 60.0
    # Heat goes on two exchanges after a tick begins, and off two exchanges after another: the relay was
    # closed for as long as heat was granted, to a few milliseconds a switch.
    assert on_s == pytest.approx(granted_s, rel=0.02)
    assert not kiln.plant.chip.heat()
    assert not kiln.plant.chip.main()


def test_a_controller_that_dies_in_mid_firing_leaves_no_heat_and_an_open_main_contactor(kiln) -> None:
    chip = kiln.plant.chip
    ticked = kiln.tick(Request(Cue.START, schedule=read_schedule(SCHEDULE, "short.toml")))
    for _ in range(60):
        if ticked.grant.heat and chip.heat():
            break
        ticked = kiln.tick()
    assert chip.heat()
    assert chip.main()
    last_s = chip.now_s
    chip.run(15_000)
    off_s, open_s = (edge.at_s for edge in chip.news() if not edge.on)
    assert off_s - last_s < 6.0  # the lease
    assert open_s - last_s < 10.0  # the silence that a board bears
    assert not chip.heat()
    assert not chip.main()
