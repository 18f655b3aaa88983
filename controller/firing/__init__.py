"""What is happening: the pure core of a firing. No clock, no I/O, no randomness."""

from controller.firing.model import Answer, Event, Firing, Inputs, Outputs, Progress, Request
from controller.firing.states import GOING_OUT, HEATING, OPEN, TABLE, Cue, State
from controller.firing.step import accepts, person_needed, stage_of, step

__all__ = [
    "GOING_OUT",
    "HEATING",
    "OPEN",
    "TABLE",
    "Answer",
    "Cue",
    "Event",
    "Firing",
    "Inputs",
    "Outputs",
    "Progress",
    "Request",
    "State",
    "accepts",
    "person_needed",
    "stage_of",
    "step",
]
