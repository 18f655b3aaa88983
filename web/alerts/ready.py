"""When the shell will be ready, by the forecast: read from the page's live estimate. Pure.

An estimate, told as one: with its band. Moments are of the kiln's own monotonic clock, as in a frame.
"""

from __future__ import annotations

from math import isfinite
from typing import Any, NamedTuple

from controller.live import Frame

# An estimate that was worked out longer ago, s of the wall, is none: then the schedule's plan is told.
STALE_S = 900.0


class Ready(NamedTuple):
    """Earliest, likely and latest moment of being ready, and when that was worked out, s of the kiln."""

    firing: int
    made_s: float
    low_s: float
    typical_s: float
    high_s: float


def ready(answer: dict[str, Any]) -> Ready | None:
    """Return what GET /api/estimates says; None where it says nothing of being ready."""
    band = answer.get("ready_s") if answer.get("ok") else None
    if band is None or any(not isinstance(band[end], int | float) for end in ("low", "typical", "high")):
        return None
    moments = [answer["mono_s"] + band[end] for end in ("low", "typical", "high")]
    return Ready(answer["firing"], answer["mono_s"], *moments) if all(map(isfinite, moments)) else None


def counts(known: Ready | None, frame: Frame) -> bool:
    """Return whether an estimate is of this firing, and not too old."""
    if known is None or known.firing != frame["firing"]:
        return False
    return 0.0 <= (frame["mono_s"] - known.made_s) / frame["speed"] <= STALE_S
