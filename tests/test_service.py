"""The service in one process: a plant for a kiln, and a clock that is handed in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from controller import assemble
from controller.assemble import tick_loop
from controller.clock import ManualClock
from controller.config import load_kiln
from controller.errors import StokeholdError
from controller.firing import State
from controller.guard import LatchFile
from controller.presence import Presence, read_code
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.replay import replay
from controller.service import AWAY_S, Service
from controller.simulator.plant import Plant
from controller.tick import Ticked
from controller.wire.inputs import Polled
from controller.wire.reading import Contact
from tests.in_process import PlantInputs, PlantOutput

DEMO = Path(assemble.__file__).parent / "simulator" / "demo_kiln.toml"
SCHEDULE = """
title = "A short one"

[[stage]]
kind = "ramp"
name = "up"
to = "200 C"
rate = "300 C/h"

[[stage]]
kind = "hold"
name = "soak"
for = "5 h"
"""


class Prepared:
    """Everything was looked at."""

    def check(self, schedule: object, message: object) -> None:
        """Refuse nothing."""

    def events(self, message: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
        """Keep who started."""
        yield "prefire_checked", {"by": message["by"], "ticked": "", "reachable": "", "attended": False}


class Keyed(PlantInputs):
    """The plant's inputs, with a wired key beside them; None: it cannot be read."""

    key_on: bool | None = False

    def poll(self) -> Polled:
        """Return one poll."""
        polled = super().poll()
        key = Contact(self.key_on, None if self.key_on is not None else "no answer", 0.0)
        return polled._replace(contacts=polled.contacts | {"presence": key})


class Run:
    """A service that ticks when it is told to."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.plant = folder, Plant()
        config = load_kiln(DEMO)
        latches = LatchFile(folder / "latches.json")
        self.loop = tick_loop(config, PlantOutput(self.plant), latches, lambda: self.plant.now_s)  # type: ignore[arg-type]
        self.tick_s = config.tick_s
        self.inputs = Keyed(self.plant)
        self.clock = ManualClock(self.plant.now_s, 1e9)
        self.journal = Journal(folder / "record.db").start()
        self.service = Service(
            config,
            self.loop,
            self.inputs,  # type: ignore[arg-type]
            self.journal,
            self.clock,
            Presence(folder, self.clock.now_s, lambda _code: None),
            preparing=Prepared(),  # type: ignore[arg-type]
        )

    def asks(self, request: str, **more: object) -> None:
        """Ask for something in the next tick, with the code on the console."""
        message = {"request": request, "by": "test", "presence": read_code(self.folder), **more}
        self.service._asked.append(self.service._asking.understand(message))

    @property
    def newest(self) -> Ticked:
        assert self.service._newest is not None
        return self.service._newest

    def ticks(self, count: int = 1, dt_s: float | None = None) -> None:
        """Run ticks; `dt_s`: the time before each, where that is not a tick's."""
        for _ in range(count):
            passes_s = self.tick_s if dt_s is None else dt_s
            self.clock.advance(passes_s)
            self.plant.advance(passes_s)
            self.service._tick(self.clock.now_s(), passes_s, passes_s - self.tick_s)


@pytest.fixture
def run(tmp_path: Path) -> Iterator[Run]:
    made = Run(tmp_path)
    yield made
    made.journal.close()


def hot(run: Run, recovery: str = "") -> Run:
    """Return it in its hold at 200 C."""
    run.asks("start", schedule=SCHEDULE + recovery)
    run.ticks(1200)
    assert run.loop.firing.state is State.RUNNING
    assert run.loop.firing.setpoint_c == 200.0
    return run


def test_after_hours_in_which_nobody_ticked_the_firing_is_held_with_the_heat_off_for_a_person(
    run: Run,
) -> None:
    """A program that was stopped and went on, or whose computer slept, was away like one that had died."""
    hot(run).ticks(1, dt_s=5 * 3600.0)
    for _ in range(150):
        assert run.loop.firing.state is State.HELD
        assert run.newest.outputs.setpoint_c is None
        assert not run.newest.grant.heat
        assert not run.plant.main_coil
        run.ticks()
    run.asks("restart")
    run.ticks(2)
    assert run.loop.firing.state is State.RESTARTING
    assert run.loop.firing.rejoin_c == 200.0
    assert run.loop.firing.setpoint_c == pytest.approx(run.newest.polled.readings["load"].value_c, abs=1.5)
    run.journal.close()
    kinds = [event.kind for event in Record(run.folder / "record.db").events(1)]
    assert kinds.count("interrupted") == kinds.count("recovery_waits") == 1
    assert replay(Record(run.folder / "record.db"), 1).difference is None


def test_a_schedule_that_says_so_is_resumed_after_it_at_its_own_rate(run: Run) -> None:
    hot(run, '\n[recovery]\nresume_within = "10 min"\n').ticks(1, dt_s=500.0)
    assert not run.newest.grant.heat
    run.ticks(10)
    assert run.loop.firing.rejoin_c == 200.0
    assert run.loop.firing.setpoint_c is not None
    assert run.loop.firing.setpoint_c < 195.0


def test_a_busy_computer_is_no_outage(run: Run) -> None:
    hot(run).ticks(1, dt_s=AWAY_S)
    run.ticks()
    assert run.loop.firing.state is State.RUNNING


def test_what_goes_out_goes_on_going_out_and_what_has_ended_stays_so(run: Run) -> None:
    hot(run).asks("abort")
    run.ticks(1, dt_s=1000.0)
    assert run.loop.firing.state in (State.ABORTING, State.ABORTED)
    run.ticks(3)
    assert run.loop.firing.state is State.ABORTED
    run.ticks(1, dt_s=1000.0)
    assert run.loop.firing.state is State.ABORTED


def test_a_start_in_the_tick_of_an_abort_is_no_firing_that_runs_and_never_heats(run: Run) -> None:
    run.asks("abort")
    run.loop.guard.withdraw()  # as an abort does at once
    run.asks("start", schedule=SCHEDULE)
    run.ticks(5)
    assert run.loop.firing.state is State.ABORTED


def test_of_two_starts_in_one_tick_only_the_one_that_was_taken_is_kept_with_the_firing(run: Run) -> None:
    run.asks("start", schedule=SCHEDULE, by="first", job="")
    run.asks("start", schedule=SCHEDULE, by="second")
    run.ticks()
    run.journal.close()
    told = [event for event in Record(run.folder / "record.db").events(1) if event.kind == "prefire_checked"]
    assert [event.fields["by"] for event in told] == ["first"]


def test_a_key_that_was_just_turned_proves_presence_until_it_cannot_be_read(run: Run) -> None:
    run.ticks()
    run.inputs.key_on = True
    run.ticks()
    run.asks("clear", presence=None)
    run.inputs.key_on = None
    run.ticks()
    with pytest.raises(StokeholdError, match="needs the code"):
        run.asks("clear", presence=None)
    run.inputs.key_on = True  # still turned, or turned again: nobody saw it
    run.ticks()
    with pytest.raises(StokeholdError, match="needs the code"):
        run.asks("clear", presence=None)
    run.inputs.key_on = False
    run.ticks()
    run.inputs.key_on = True
    run.ticks()
    run.asks("clear", presence=None)
