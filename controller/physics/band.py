"""A value that is known only within limits: low, typical, high, and where that comes from.

Rules: a value without a good source is a band and is marked weak, and whatever is made from it is shown
with its band. A value with a good source may be a band of no width (`exactly`).
"""

from __future__ import annotations

from typing import NamedTuple


class Band(NamedTuple):
    """A value's limits, in the unit of the name it is kept under. `weak`: no source better than memory."""

    low: float
    typical: float
    high: float
    source: str
    weak: bool = True

    def scaled(self, factor: float) -> Band:
        """Return the band times a factor above zero."""
        return Band(self.low * factor, self.typical * factor, self.high * factor, self.source, self.weak)

    def at(self, level: int) -> float:
        """Return the low (0), typical (1) or high (2) value."""
        return (self.low, self.typical, self.high)[level]

    def holds(self, value: float) -> bool:
        """Tell whether a value lies within the band."""
        return self.low <= value <= self.high


def exactly(value: float, source: str, *, weak: bool = False) -> Band:
    """Return a value that is taken as known."""
    return Band(value, value, value, source, weak)


def about(value: float, part: float, source: str, *, weak: bool = True) -> Band:
    """Return a value of zero or more known to within `part` of itself: 0.1 is 10 % either way."""
    return Band(value * (1.0 - part), value, value * (1.0 + part), source, weak)


def times(one: Band, other: Band, source: str) -> Band:
    """Return the product of two bands of values that are not negative; lows meet lows, highs meet highs."""
    return Band(
        one.low * other.low,
        one.typical * other.typical,
        one.high * other.high,
        source,
        one.weak or other.weak,
    )


def over(one: Band, other: Band, source: str) -> Band:
    """Return the quotient of two bands of values above zero: the low is low over high."""
    return Band(
        one.low / other.high,
        one.typical / other.typical,
        one.high / other.low,
        source,
        one.weak or other.weak,
    )
