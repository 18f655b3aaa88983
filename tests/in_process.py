"""The whole loop without a wire: the simulated plant, the guard, the core and the control, in one process.

What the wire does, this does by calling the plant; everything else is the real one. Used by the bench
and by tests that need a firing but no sockets.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from controller.control import Plan, Switching, Tuning
from controller.firing import OPEN, Cue, Firing, Request, State
from controller.guard import Guard, LatchFile, Limits
from controller.schedule.model import Checkpoint, Hold, Schedule
from controller.simulator.plant import Plant
from controller.tick import Equipment, Ticked, TickLoop
from controller.wire.inputs import Polled
from controller.wire.reading import Contact, Reading

_new_tuple = tuple.__new__  # as in the plant: what stands in for the wire should cost next to nothing

CONTACTS = ("door", "emergency_stop", "extraction", "key")

# What the demo kiln's file says of its control (controller/simulator/demo_kiln.toml).
DEMO_PLAN = Plan(Tuning(0.08, 500.0), Switching(2.0, 1.0, 1.0), 6500.0, 35e3, 3.0)


# What may be wrong with the controller's own computer: what the service would tell the tick, by its number.
TROUBLES: dict[str, Callable[[int], dict[str, float | str]]] = {
    "computer_slow": lambda n: {"late_s": 1.0} if n % 3 == 0 else {},
    "clock_set": lambda n: {"clock_step_s": -86_400.0} if n % 300 == 0 else {},
    "disk_full": lambda n: {"record_trouble": "the disk is full"},
}


class PlantOutput:
    """The heat output of a plant in the same process; silent when the heater's unit is."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant

    def energise(self, lease_s: float) -> None:
        """Heat, with the lease in the plant's own relay."""
        self._heard()
        if self._plant.faults and self._plant.answers("heater") == "refuses":
            raise OSError("device failure")
        self._plant.set_heat(True, lease_s)

    def drop(self) -> None:
        """No heat."""
        self._heard()
        self._plant.set_heat(False)

    def close_main(self) -> None:
        """Close the main contactor."""
        self._heard()
        self._plant.set_main(True)

    def open_main(self) -> None:
        """Open the main contactor."""
        self._heard()
        self._plant.set_main(False)

    def _heard(self) -> None:
        if self._plant.faults and self._plant.answers("heater") == "silent":
            raise OSError("no answer")


class PlantInputs:
    """What the wire would give for this plant; a silent unit's readings keep their old times."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self._heard_s = plant.now_s

    def poll(self) -> Polled:
        """Return one poll."""
        plant = self._plant
        heater_silent = False
        if plant.faults:
            heater_silent = plant.answers("heater") == "silent"
            if plant.answers("reader") == "silent":
                return self._polled((None, None, None), "no answer", self._heard_s, heater_silent)
        self._heard_s = plant.now_s
        return self._polled(plant.readings(), "open", plant.now_s, heater_silent)

    def _polled(
        self, values: tuple[float | None, ...], fault: str, at_s: float, heater_silent: bool
    ) -> Polled:
        plant = self._plant
        contacts, now_s = plant.contacts, plant.now_s
        air_c, load_c, limit_c = values
        silent = bool(plant.faults) and plant.answers("contacts") == "silent"
        seen = (
            contacts.door_closed,
            contacts.emergency_stop_released,
            contacts.extraction_running,
            contacts.key_in,
        )
        return Polled(
            {
                "air": _new_tuple(Reading, (air_c, None if air_c is not None else fault, at_s)),
                "load": _new_tuple(Reading, (load_c, None if load_c is not None else fault, at_s)),
                "limit": _new_tuple(Reading, (limit_c, None if limit_c is not None else fault, at_s)),
                "enclosure": _new_tuple(Reading, (plant.enclosure_c(), None, at_s)),
            },
            {
                role: _new_tuple(Contact, (None, "no answer", now_s) if silent else (on, None, now_s))
                for role, on in zip(CONTACTS, seen, strict=True)
            },
            None if heater_silent else plant.heat_aux,
            None if heater_silent else plant.main_aux,
            (),
        )


@dataclass
class InProcess:
    """A plant under a tick loop, one simulated second (or `tick_s`) at a time."""

    plant: Plant
    inputs: PlantInputs
    loop: TickLoop
    tick_s: float
    trouble: str = ""

    def tick(self, *requests: Request, late_s: float = 0.0, **told: float | str) -> Ticked:
        """Run one tick, then let the plant go on for one period. `told`: what the service would tell.

        `trouble`: one of `TROUBLES` that stands with the controller's own computer.
        """
        now_s = self.plant.now_s
        if self.trouble:
            trouble = TROUBLES[self.trouble](round(now_s / self.tick_s))
            late_s = float(trouble.pop("late_s", late_s))
            told = trouble | told
        ticked = self.loop.tick(self.inputs.poll(), now_s, now_s, self.tick_s, late_s, requests, **told)  # type: ignore[arg-type]
        self.plant.advance(self.tick_s)
        return ticked

    def fire(self, schedule: Schedule, on_tick: Callable[[Ticked], None] | None = None) -> Firing:
        """Run a schedule to its end; a person comes to every checkpoint and pour when it is expected."""
        ticked = self.tick(Request(Cue.START, schedule=schedule))
        assert ticked.outputs.answers[0].taken, ticked.outputs.answers
        for _ in itertools.count():
            if on_tick is not None:
                on_tick(ticked)
            firing = ticked.firing
            if firing.state not in OPEN:
                return firing
            ticked = self.tick(*self._released(firing, schedule))
        raise AssertionError("unreachable")

    def _released(self, firing: Firing, schedule: Schedule) -> tuple[Request, ...]:
        """Release what waits for a person, once it has waited for as long as the schedule expects."""
        if firing.state is State.RUNNING and firing.waiting in ("person", "pour"):
            stage = schedule.stages[firing.stage]
            if isinstance(stage, Checkpoint | Hold) and firing.progress.clock_s >= stage.expect_s:
                return (Request(Cue.RELEASE),)
        return ()


def in_process(
    plant: Plant,
    plan: Plan,
    folder: Path,
    *,
    ceiling_c: float = 900.0,
    tick_s: float = 1.0,
    longest_firing_s: float = 36 * 3600.0,
    **own: float,
) -> InProcess:
    """Put a plant under a fresh loop. `folder` keeps the latches. `own`: more of the guard's numbers."""
    limits = Limits(ceiling_c=ceiling_c, lease_s=3.0 * tick_s, longest_firing_s=longest_firing_s, **own)
    guard = Guard(PlantOutput(plant), limits, LatchFile(folder / "latches.json"), lambda: plant.now_s)
    loop = TickLoop(guard, plan, Equipment(frozenset(CONTACTS), True), 300.0)
    return InProcess(plant, PlantInputs(plant), loop, tick_s)
