"""What a person ticks off at a checkpoint: what its schedule says, or the usual list."""

from __future__ import annotations

from controller.schedule.model import Checkpoint

# What somebody does at any stop of a shell on its way: common practice, no source.
USUAL = (
    "Looked at the shell all round for cracks",
    "What was cracked is patched, or nothing was",
    "Nothing that drips or burns is left in the kiln",
    "Door shut, nobody reaches in, extraction runs",
)


def to_tick(stage: Checkpoint) -> tuple[str, ...]:
    """Return the lines to tick off, in their order; none where the schedule's own list is empty."""
    return USUAL if stage.tick is None else stage.tick
