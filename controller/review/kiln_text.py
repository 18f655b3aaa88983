"""The few things that a review wants from the kiln's configuration, as it was kept with the firing.

A review reads the past, so nothing here is checked and nothing here fails: what cannot be read is None.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

from controller.schedule.units import UnitError, rate_c_per_h
from controller.tariff import Tariff, tariff_of

WATTS = {"W": 1.0, "kW": 1000.0}


def heater_power_w(kiln_text: str) -> float | None:
    """Return the power of the elements (W) as the kiln's file states it."""
    heater = _table(kiln_text).get("heater")
    stated = heater.get("power") if isinstance(heater, dict) else None
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(k?W)\s*", stated) if isinstance(stated, str) else None
    return float(match[1]) * WATTS[match[2]] if match else None


def tariff(kiln_text: str) -> Tariff | None:
    """Return what energy cost, as the kiln's file states it; None: it does not."""
    return tariff_of(_table(kiln_text).get("tariff"))


def relay_life(kiln_text: str) -> int | None:
    """Return how many cycles the kiln's file expects of the relay; None: it does not say."""
    stated = _table(kiln_text).get("relay_life")
    return stated if isinstance(stated, int) and not isinstance(stated, bool) else None


def full_rate_c_per_h(kiln_text: str) -> float | None:
    """Return what "full" meant for this kiln's setpoint (C/h)."""
    stated = _table(kiln_text).get("full_rate")
    try:
        return rate_c_per_h(stated) if isinstance(stated, str) else None
    except UnitError:
        return None


def _table(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {}
