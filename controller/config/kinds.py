"""The kinds of value that a kiln's file holds: how each is read, and what a person is told it should be.

A kind is a row of data beside a field of `model.py`: `Annotated[float, seconds(0.1, 5)]`. Its `parse`
takes what tomllib gave and returns the value in the house's unit, or raises UnitError, whose words stand
in the message. A field's name less the kind's `suffix` is its key in the file: `timeout_s` is read
from `timeout = "300 ms"`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from controller.schedule.units import (
    UnitError,
    difference_k,
    duration_s,
    duration_text,
    flow_m3_per_h,
    rate_c_per_h,
    shown,
    temperature_c,
)
from controller.tariff import EXAMPLE, tariff_of
from controller.wire.thermocouple.calibration_table import read_calibration


@dataclass(frozen=True, slots=True)
class Kind:
    """How one value is read. `parse` raises UnitError."""

    parse: Callable[[object], object]
    suffix: str = ""


def text() -> Kind:
    """A text that is not empty."""

    def parse(value: object) -> str:
        if not isinstance(value, str) or not value.strip():
            raise UnitError(shown(value), "a text")
        return value.strip()

    return Kind(parse)


def flag() -> Kind:
    """Either true or false."""

    def parse(value: object) -> bool:
        if not isinstance(value, bool):
            raise UnitError(shown(value), "true or false")
        return value

    return Kind(parse)


def choice(*options: str) -> Kind:
    """One of a few words."""
    expected = " or ".join(f'"{option}"' for option in options)

    def parse(value: object) -> str:
        if value not in options:
            raise UnitError(shown(value), expected)
        return str(value)

    return Kind(parse)


def one_of(*numbers: int) -> Kind:
    """One of a few whole numbers."""
    expected = f"one of {', '.join(map(str, numbers))}"

    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or value not in numbers:
            raise UnitError(shown(value), expected)
        return value

    return Kind(parse)


def whole(lowest: int, highest: int, suffix: str = "") -> Kind:
    """A whole number within limits."""

    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not lowest <= value <= highest:
            raise UnitError(shown(value), f"a whole number from {lowest} to {highest}")
        return value

    return Kind(parse, suffix)


def level() -> Kind:
    """What is written to a coil or register: true, false or a whole number of 16 bits."""
    number = whole(0, 0xFFFF)
    return Kind(lambda value: int(value) if isinstance(value, bool) else number.parse(value))


def unit() -> Kind:
    """A unit's number. 0 is left out: behind a gateway it speaks to every unit, and none answers."""

    def parse(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not (1 <= value <= 247 or value == 255):
            raise UnitError(shown(value), "a unit from 1 to 247, or 255")
        return value

    return Kind(parse)


def number(lowest: float = -1e9, highest: float = 1e9) -> Kind:
    """A finite number within limits, without a unit."""
    expected = f"a number from {lowest:g} to {highest:g}"

    def parse(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not lowest <= value <= highest:
            raise UnitError(shown(value), expected)
        return float(value)

    return Kind(parse)


def numbers() -> Kind:
    """A list of numbers."""
    one = number(-1e39, 1e39)

    def parse(value: object) -> tuple[object, ...]:
        if not isinstance(value, list):
            raise UnitError(shown(value), "a list of numbers, such as [32767, -32768]")
        return tuple(one.parse(item) for item in value)

    return Kind(parse)


def calibration() -> Kind:
    """A calibration's table. Its mistakes are raised as CalibrationError, each with its own place."""
    return Kind(read_calibration)


def seconds(lowest_s: float, highest_s: float) -> Kind:
    """A duration within limits."""
    expected = f"a duration from {_duration(lowest_s)} to {_duration(highest_s)}"
    return _within(duration_s, lowest_s, highest_s, expected, "_s")


def tariff() -> Kind:
    """What a kilowatt-hour costs, with its currency in the person's own words."""

    def parse(value: object) -> str:
        if tariff_of(value) is None:
            raise UnitError(shown(value), f"a price such as {EXAMPLE}")
        return str(value).strip()

    return Kind(parse)


def celsius(lowest_c: float, highest_c: float) -> Kind:
    """A temperature within limits."""
    expected = f"a temperature from {lowest_c:g} C to {highest_c:g} C"
    return _within(temperature_c, lowest_c, highest_c, expected, "_c")


def kelvin(lowest_k: float, highest_k: float) -> Kind:
    """A difference of temperatures within limits."""
    expected = f"a temperature difference from {lowest_k:g} K to {highest_k:g} K"
    return _within(difference_k, lowest_k, highest_k, expected, "_k")


def rate(lowest: float, highest: float) -> Kind:
    """A rate of temperature within limits, in C per hour; "full" is none."""
    expected = f"a rate from {lowest:g} C/h to {highest:g} C/h"
    return _within(rate_c_per_h, lowest, highest, expected, "_c_per_h")


def flow(lowest: float, highest: float) -> Kind:
    """A flow of air within limits, in m3 per hour."""
    expected = f"a flow of air from {lowest:g} m3/h to {highest:g} m3/h"
    return _within(flow_m3_per_h, lowest, highest, expected, "_m3_per_h")


def quantity(suffix: str, units: Mapping[str, float], lowest: float, highest: float) -> Kind:
    """A number with one of `units`, each with its worth in the house's unit, which is the first."""
    first = next(iter(units))
    form = re.compile(rf"([+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?) *({'|'.join(map(re.escape, units))})")
    expected = f'a number with its unit, from "{lowest:g} {first}" to "{highest:g} {first}"'

    def convert(value: object) -> float:
        match = form.fullmatch(value.strip()) if isinstance(value, str) else None
        if match is None:
            raise UnitError(shown(value), expected)
        return float(match[1]) * units[match[2]]

    return _within(convert, lowest, highest, expected, suffix)


def _within(
    convert: Callable[[object], float | None], lowest: float, highest: float, expected: str, suffix: str
) -> Kind:
    def parse(value: object) -> float:
        try:
            number = convert(value)
        except UnitError as error:
            raise UnitError(error.found, expected) from None
        if number is None or not math.isfinite(number) or not lowest <= number <= highest:
            raise UnitError(shown(value), expected)
        return number

    return Kind(parse, suffix)


def _duration(seconds: float) -> str:
    return f"{seconds * 1000:g} ms" if seconds < 1 else duration_text(seconds)
