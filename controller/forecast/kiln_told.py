"""What a kiln's file tells a forecast, read from its text alone.

Processes that never reach the kiln (the page's) may not know its wires. The file was checked whole when the
controller read it, so what is not good here is taken as not told.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from typing import Any, NamedTuple

from controller.errors import UsageError
from controller.review.kiln_text import full_rate_c_per_h, heater_power_w
from controller.schedule.units import UnitError, duration_s, flow_m3_per_h

USUAL_FULL_RATE_C_PER_H = 300.0
"""The default of the kiln's file (`config.model`; a test holds them equal), and of its longest firing."""
USUAL_LONGEST_S = 48 * 3600.0


class KilnTold(NamedTuple):
    """A kiln as a forecast asks for it."""

    name: str
    power_w: float
    full_rate_c_per_h: float
    longest_s: float
    vent_m3_per_h: float | None


def kiln_told(text: str) -> KilnTold:
    """Return what a kiln's file tells. Raises UsageError: it tells no power."""
    power_w = heater_power_w(text)
    if power_w is None:
        raise UsageError("the kiln's file: found no heater's power, expected one")
    return KilnTold(
        name=str(_value(text, "name") or "kiln"),
        power_w=power_w,
        full_rate_c_per_h=full_rate_c_per_h(text) or USUAL_FULL_RATE_C_PER_H,
        longest_s=_read(duration_s, _value(text, "longest_firing")) or USUAL_LONGEST_S,
        vent_m3_per_h=_read(flow_m3_per_h, _value(text, "vent", "flow")),
    )


def _value(text: str, *path: str) -> object:
    """Return what stands at a path of the file; None where nothing does, or the file is no TOML."""
    try:
        at: Any = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None
    for key in path:
        at = at.get(key) if isinstance(at, dict) else None
    return at


def _read(parse: Callable[[object], float], value: object) -> float | None:
    try:
        return None if value is None else parse(value)
    except UnitError:
        return None
