"""Small helpers for tests of the firing: schedules in a line, ticks in a loop."""

from __future__ import annotations

from dataclasses import replace

from controller.firing import Cue, Event, Firing, Inputs, Outputs, Request, step
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Stage, Then

RAMP = Ramp("up", 100.0, 60.0)
HOLD = Hold("soak", 100.0, 600.0, 5.0)
POUR = Hold("pour", 100.0, None, 5.0, at_most_s=3600.0, says="Pour now.")
CHECK = Checkpoint("look", "Look at it.", "off", 300.0, None, Then("keep waiting"), 900.0)
COOL = Cool("down", 40.0, 120.0)
LET_FALL = Cool("fall", 40.0, None)


def schedule(*stages: Stage) -> Schedule:
    """Return a schedule of these stages."""
    return Schedule("test", stages)


def started(*stages: Stage, air_c: float = 20.0) -> Firing:
    """Return a firing that has just started."""
    firing, outputs = step(
        Firing(), Inputs(0.0, air_c, requests=(Request(Cue.START, schedule=schedule(*stages)),))
    )
    assert outputs.answers[0].taken
    return firing


class Run:
    """A firing, ticked with readings that follow the setpoint unless told otherwise."""

    def __init__(self, firing: Firing, tick_s: float = 1.0) -> None:
        self.firing = firing
        self.tick_s = tick_s
        self.events: list[Event] = []
        self.outputs: Outputs | None = None

    def tick(self, seconds: float | None = None, *cues: Cue, **inputs: object) -> Outputs:
        """Run one tick of `seconds`; without `air_c` the air is at the setpoint."""
        setpoint_c = self.firing.setpoint_c
        given: dict[str, object] = {"air_c": setpoint_c if setpoint_c is not None else 20.0}
        given |= inputs
        base = Inputs(self.tick_s if seconds is None else seconds, None)
        self.firing, outputs = step(
            self.firing,
            base._replace(requests=tuple(Request(cue, key) for key, cue in enumerate(cues)), **given),  # type: ignore[arg-type]
        )
        self.events += outputs.events
        self.outputs = outputs
        return outputs

    def pass_time(self, seconds: float, **inputs: object) -> None:
        """Tick for so many seconds."""
        for _ in range(round(seconds / self.tick_s)):
            self.tick(None, **inputs)

    def kinds(self) -> list[str]:
        """Return the kinds of event so far."""
        return [event.kind for event in self.events]


__all__ = ["CHECK", "COOL", "HOLD", "LET_FALL", "POUR", "RAMP", "Run", "replace", "schedule", "started"]
