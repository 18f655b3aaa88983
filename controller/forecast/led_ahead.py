"""The air led above the load in a run ahead, by the firing's own rule, in shorter steps than the run's."""

from __future__ import annotations

from typing import NamedTuple

from controller.schedule.leading import Led, lead

LONGEST_S = 10.0
"""The rule smooths the load over a minute: in steps of 10 s it finds a rate within a tenth."""


class Asked(NamedTuple):
    """What the load is asked (None: the heat is off), and what air and load show, C."""

    load_setpoint_c: float | None
    air_c: float
    load_c: float


def led_ahead(
    led: Led | None, was: Asked, now: Asked, margin_k: float, fastest_c_per_h: float, dt_s: float
) -> Led | None:
    """Return the leading `dt_s` later, with `air_c` as what the air is asked; None: the heat is off."""
    if now.load_setpoint_c is None:
        return None
    began_c = now.load_setpoint_c if was.load_setpoint_c is None else was.load_setpoint_c
    slope_c_per_h = 3600.0 * (now.load_setpoint_c - began_c) / dt_s
    count = max(1, round(dt_s / LONGEST_S))
    for n in range(1, count + 1):
        part = n / count
        led = lead(
            led,
            began_c + part * (now.load_setpoint_c - began_c),
            slope_c_per_h,
            margin_k,
            was.air_c + part * (now.air_c - was.air_c),
            was.load_c + part * (now.load_c - was.load_c),
            fastest_c_per_h,
            dt_s / count,
        )
    return led
