"""Firings laid over each other: the moments at which they can be made to begin together. Pure.

A firing can be aligned on its start, on the beginning of a stage of its own schedule (stages of two firings
are the same when they have the same name), or on the pour: the moment at which the record says that the
shell was ready for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from controller.record.rows import EventSeen
from controller.review.measures import StageSeen

POUR = "pour_ready"


class Moments(NamedTuple):
    """Seconds since a firing's first tick. `pour_s` None: it never was ready for the pour."""

    stages: dict[str, float]
    pour_s: float | None


def moments(stages: Iterable[StageSeen], events: Iterable[EventSeen]) -> Moments:
    """Return what a firing can be aligned on; of two stages with one name, the first counts."""
    begins: dict[str, float] = {}
    for stage in stages:
        begins.setdefault(stage.name, stage.begins_s)
    pours = (event.t_s for event in events if event.kind == POUR)
    return Moments(begins, min(pours, default=None))


def shared(all_moments: Sequence[Moments]) -> list[str]:
    """Return the stages that two or more firings have (of one firing: its own), in the first one's order."""
    wanted = min(2, len(all_moments))
    names = dict.fromkeys(name for each in all_moments for name in each.stages)
    return [name for name in names if sum(name in each.stages for each in all_moments) >= wanted]
