"""Text with a unit, to numbers and back: the only place where Fahrenheit and minutes are known.

Files and screens write `"1500 F"` or `"2 h 30 min"`; everything inside is degrees Celsius, kelvin
differences, C per hour and seconds. A number without a unit is an error, never a guess.

Rules: a unit is written as in the tables below, capitals matter (`K` is kelvin, `k` is nothing); a
number has a point for its decimals and no commas; what is not finite is refused.

Source of the factors: NIST Special Publication 811 (2008), appendix B.8: t/C = (t/F - 32) / 1.8,
T/K = t/C + 273.15; a difference of 1.8 F is 1 K; a cubic foot is 0.028316847 m3.
"""

from __future__ import annotations

import math
import re

ABSOLUTE_ZERO_C = -273.15
FREEZING_F = 32.0
F_PER_K = 1.8  # degrees Fahrenheit in one kelvin

TEMPERATURE_FORM = 'a temperature with its unit, such as "815 C", "1500 F" or "1088 K"'
DIFFERENCE_FORM = 'a temperature difference with its unit, such as "10 K", "10 C" or "18 F"'
DURATION_FORM = 'a duration with its unit, such as "45 min", "2 h", "1 h 30 min" or "200 ms"'
FLOW_FORM = 'a flow of air with its unit, such as "20 m3/h", "12 cfm" or "8 l/s"'
RATE_FORM = 'a rate with its unit, such as "60 C/h", "100 F/h" or "1 K/min", or "full"'

_SECONDS = {"d": 86400.0, "h": 3600.0, "min": 60.0, "s": 1.0, "ms": 0.001}
_PER_HOUR = {"h": 1.0, "min": 60.0, "s": 3600.0}
_M3_PER_H = {"m3/h": 1.0, "m3/min": 60.0, "m3/s": 3600.0, "l/s": 3.6, "l/min": 0.06, "cfm": 1.69901082}
_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?"
_DEGREES = re.compile(rf"({_NUMBER}) *°?([CF]|K)")
_RATE = re.compile(rf"({_NUMBER}) *°?([CFK]) */ *(h|min|s)")
_FLOW = re.compile(rf"({_NUMBER}) *({'|'.join(_M3_PER_H)})")
_PART = re.compile(rf"({_NUMBER}) *([a-z]+)(?: +|$)")


class UnitError(ValueError):
    """A value that is not what it should be: `found` and `expected`, each ready to stand in a sentence.

    `index`: which item of a list it is, from 0; None where it is no list.
    """

    def __init__(self, found: str, expected: str, index: int | None = None) -> None:
        super().__init__(f"found {found}, expected {expected}")
        self.found = found
        self.expected = expected
        self.index = index


def shown(value: object) -> str:
    """Return a file's value as a person wrote it, printable and short enough for one line."""
    if isinstance(value, str):
        return f'"{one_line(value)}"'
    return one_line(str(value).lower() if isinstance(value, bool) else str(value))


def one_line(text: str, longest: int = 60) -> str:
    """Return a text on one line, cut short, with a mark for every character that cannot be printed."""
    line = "".join(char if char.isprintable() else "\ufffd" for char in " ".join(text.split()))
    return line if len(line) <= longest else f"{line[: longest - 3]}..."


def temperature_c(value: object) -> float:
    """Return `"815 C"`, `"1500 F"` or `"1088 K"` in degrees Celsius. Raises UnitError."""
    number, unit = _degrees(value, TEMPERATURE_FORM)
    celsius = {"C": number, "F": from_fahrenheit(number), "K": number + ABSOLUTE_ZERO_C}[unit]
    if celsius < ABSOLUTE_ZERO_C - 1e-9:  # rounding of -459.67 F
        raise UnitError(shown(value), "a temperature above absolute zero (-273.15 C)")
    return max(celsius, ABSOLUTE_ZERO_C)


def difference_k(value: object) -> float:
    """Return `"10 K"`, `"10 C"` or `"18 F"`, a difference of temperatures, in kelvin. Raises UnitError."""
    number, unit = _degrees(value, DIFFERENCE_FORM)
    return number / F_PER_K if unit == "F" else number


def duration_s(value: object) -> float:
    """Return `"45 min"`, `"1 h 30 min"` or `"200 ms"` in seconds, never negative. Raises UnitError.

    Parts go from the larger unit to the smaller, each unit at most once: d, h, min, s, ms.
    """
    text = _text(value, DURATION_FORM)
    parts = [(float(number), _SECONDS.get(unit)) for number, unit in _PART.findall(text)]
    sizes = [size for _, size in parts if size is not None]
    falling = sizes == sorted(set(sizes), reverse=True)
    if not parts or _PART.sub("", text) or len(sizes) < len(parts) or not falling:
        raise _wrong(value, DURATION_FORM)
    if any(number < 0 for number, _ in parts):
        raise UnitError(shown(value), "a duration that is not negative")
    seconds = sum(number * size for (number, _), size in zip(parts, sizes, strict=True))
    return _finite(seconds, value, DURATION_FORM)


def rate_c_per_h(value: object) -> float | None:
    """Return `"60 C/h"`, `"100 F/h"` or `"1 K/min"` in C per hour; None for `"full"`. Raises UnitError."""
    text = _text(value, RATE_FORM)
    if text == "full":
        return None
    match = _RATE.fullmatch(text)
    if match is None:
        raise _wrong(value, RATE_FORM)
    kelvin = float(match[1]) / (F_PER_K if match[2] == "F" else 1.0)
    return _finite(kelvin * _PER_HOUR[match[3]], value, RATE_FORM)


def flow_m3_per_h(value: object) -> float:
    """Return `"20 m3/h"`, `"12 cfm"` or `"8 l/s"` in m3 an hour, never negative. Raises UnitError."""
    match = _FLOW.fullmatch(_text(value, FLOW_FORM))
    if match is None:
        raise _wrong(value, FLOW_FORM)
    if float(match[1]) < 0.0:
        raise UnitError(shown(value), "a flow that is not negative")
    return _finite(float(match[1]) * _M3_PER_H[match[2]], value, FLOW_FORM)


def from_fahrenheit(fahrenheit: float) -> float:
    """Return degrees Fahrenheit in degrees Celsius."""
    return (fahrenheit - FREEZING_F) / F_PER_K


def to_fahrenheit(celsius: float) -> float:
    """Return degrees Celsius in degrees Fahrenheit."""
    return celsius * F_PER_K + FREEZING_F


def to_kelvin(celsius: float) -> float:
    """Return degrees Celsius in kelvin."""
    return celsius - ABSOLUTE_ZERO_C


def temperature_text(celsius: float, unit: str = "C", digits: int = 0) -> str:
    """Return a temperature for a person, in C, F or K: `"815 C"`."""
    value = {"C": celsius, "F": to_fahrenheit(celsius), "K": to_kelvin(celsius)}[unit]
    return f"{_plain(value, digits)} {unit}"


def rate_text(rate: float | None, unit: str = "C") -> str:
    """Return a rate in C per hour for a person, in C, F or K per hour: `"60 C/h"`, or `"full"`."""
    if rate is None:
        return "full"
    return f"{_plain(rate * F_PER_K if unit == 'F' else rate, 0 if abs(rate) >= 10 else 1)} {unit}/h"


def duration_text(seconds: float) -> str:
    """Return a duration for a person: `"45 s"`, `"15 min"`, `"1 h 05 min"`; then to the minute."""
    if round(seconds) < 60:
        return f"{round(seconds)} s"
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def _plain(value: float, digits: int) -> str:
    """Return a rounded number that is never "-0"."""
    return f"{round(value, digits) + 0.0:.{digits}f}"


def _text(value: object, expected: str) -> str:
    if not isinstance(value, str):
        raise _wrong(value, expected)
    return value.strip()


def _wrong(value: object, expected: str) -> UnitError:
    """Return the error for a value that cannot be read; a bare number is told that its unit is missing."""
    bare = not isinstance(value, bool) and re.fullmatch(_NUMBER, str(value).strip()) is not None
    return UnitError(f"{shown(value)}, without a unit" if bare else shown(value), expected)


def _degrees(value: object, expected: str) -> tuple[float, str]:
    match = _DEGREES.fullmatch(_text(value, expected))
    if match is None:
        raise _wrong(value, expected)
    return _finite(float(match[1]), value, expected), match[2]


def _finite(number: float, value: object, expected: str) -> float:
    if not math.isfinite(number):
        raise UnitError(f"{shown(value)}, which is not finite", expected)
    return number
