"""A stage in words: what it does, what it wants of a person, and what happens if nobody comes."""

from __future__ import annotations

from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Stage, Then
from controller.schedule.units import duration_text, rate_text, temperature_text


def what_it_does(stage: Stage, unit: str = "C") -> str:
    """Return a stage's kind and how it is carried out, in C or F: `"ramp, 60 C/h"`."""
    match stage:
        case Ramp():
            return f"ramp, {rate_text(stage.rate_c_per_h, unit)}"
        case Hold():
            return "hold" if stage.for_s is not None else "hold until released"
        case Checkpoint():
            return "checkpoint, heat off" if stage.heat == "off" else "checkpoint, heat kept"
        case Cool():
            return (
                "cool, heat off"
                if stage.rate_c_per_h is None
                else f"cool, {rate_text(stage.rate_c_per_h, unit)}"
            )


def needs_person(stage: Stage) -> bool:
    """Tell whether a stage waits for a person."""
    return isinstance(stage, Checkpoint) or (isinstance(stage, Hold) and stage.for_s is None)


def if_nobody_comes(stage: Stage, unit: str = "C") -> str:
    """Return what a stage that waits for a person does when nobody comes, as a sentence; else nothing."""
    if isinstance(stage, Hold) and stage.for_s is None and stage.at_most_s is not None:
        return f"If nobody comes it goes on after {duration_text(stage.at_most_s)}."
    if not isinstance(stage, Checkpoint):
        return ""
    if stage.after_s is None:
        return "If nobody comes it keeps waiting."
    return f"If nobody comes within {duration_text(stage.after_s)} it {_then(stage.then, unit)}."


def _then(then: Then, unit: str) -> str:
    if then.at_c is not None:
        return f"keeps waiting at {temperature_text(then.at_c, unit)}"
    return {"keep waiting": "keeps waiting", "go on": "goes on", "stop": "stops the firing"}[then.action]
