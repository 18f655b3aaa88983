"""Text with a unit, to kilograms, metres and parts of one: the units of a job sheet that `units` has not.

As in `controller.schedule.units`: a number without a unit is an error, never a guess, and what is not
finite or out of reason is refused. Factors: NIST Special Publication 811 (2008), appendix B.8: a pound
is 0.45359237 kg, an inch 25.4 mm; an ounce is a sixteenth of a pound.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from controller.schedule.forms import Form
from controller.schedule.units import (
    DURATION_FORM,
    TEMPERATURE_FORM,
    UnitError,
    duration_s,
    shown,
    temperature_c,
)

POUND_KG = 0.45359237
INCH_M = 0.0254

_MASSES = {"g": 1e-3, "kg": 1.0, "oz": POUND_KG / 16.0, "lb": POUND_KG}
_LENGTHS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH_M}
_PARTS = {"%": 0.01}
_NUMBER = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?) *([a-z%]+)")

MASS_FORM = 'a mass with its unit, such as "480 g", "3.2 kg", "17 oz" or "7 lb"'
LENGTH_FORM = 'a length with its unit, such as "9 mm", "0.9 cm" or "0.35 in"'
PART_FORM = 'a part in per cent, such as "20 %"'


def mass_kg(least_kg: float, most_kg: float) -> Form:
    """Return the form of a mass within limits, read as kg."""
    return _within(_MASSES, MASS_FORM, least_kg, most_kg, f"from {least_kg * 1000:g} g to {most_kg:g} kg")


def length_m(least_m: float, most_m: float) -> Form:
    """Return the form of a length within limits, read as m."""
    words = f"from {least_m * 1000:g} mm to {most_m * 1000:g} mm"
    return _within(_LENGTHS, LENGTH_FORM, least_m, most_m, words)


def part(least: float, most: float) -> Form:
    """Return the form of a part in per cent within limits, read as a part of one."""
    return _within(_PARTS, PART_FORM, least, most, f"from {least * 100:g} % to {most * 100:g} %")


def whole(least: int, most: int) -> Form:
    """Return the form of a whole number within limits, which has no unit."""
    expected = f"a whole number from {least} to {most}"

    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise UnitError(shown(value), expected)
        return value

    return read


def celsius(least_c: float, most_c: float) -> Form:
    """Return the form of a temperature within limits, read as C."""

    def read(value: object) -> float:
        words = f"{TEMPERATURE_FORM}, from {least_c:g} C to {most_c:g} C"
        return _limited(temperature_c(value), value, words, least_c, most_c)

    return read


def seconds(least_s: float, most_s: float) -> Form:
    """Return the form of a duration within limits, read as s."""

    def read(value: object) -> float:
        words = f"{DURATION_FORM}, from {least_s / 60:g} min to {most_s / 3600:g} h"
        return _limited(duration_s(value), value, words, least_s, most_s)

    return read


def _within(units: Mapping[str, float], form: str, least: float, most: float, words: str) -> Form:
    def read(value: object) -> float:
        match = _NUMBER.fullmatch(value.strip()) if isinstance(value, str) else None
        if match is None or match[2] not in units:
            raise UnitError(shown(value), form)
        return _limited(float(match[1]) * units[match[2]], value, f"{form}, {words}", least, most)

    return read


def _limited(number: float, value: object, expected: str, least: float, most: float) -> float:
    slack = 1e-9 * max(abs(least), abs(most))  # rounding of a unit's factor
    if not math.isfinite(number) or not least - slack <= number <= most + slack:
        raise UnitError(shown(value), expected)
    return number
