"""A property against temperature, as values at even steps, read by straight lines between them.

Outside its range a curve keeps its first or last value: no property is guessed beyond its table.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple


class Curve(NamedTuple):
    """`values[i]` is the property at `first_c + i * step_k`; a single value is a constant."""

    first_c: float
    step_k: float
    values: tuple[float, ...]

    def scaled(self, factor: float) -> Curve:
        """Return the curve with every value times a factor."""
        return Curve(self.first_c, self.step_k, tuple(value * factor for value in self.values))


def constant(value: float) -> Curve:
    """Return a property that does not depend on temperature."""
    return Curve(0.0, 1.0, (value,))


def through(points: tuple[tuple[float, float], ...], step_k: float) -> Curve:
    """Return the curve through (C, value) points that rise in C, at even steps from the first to the last."""
    first_c, last_c = points[0][0], points[-1][0]
    count = round((last_c - first_c) / step_k)
    return Curve(first_c, step_k, tuple(_between(points, first_c + i * step_k) for i in range(count + 1)))


def at(curve: Curve, c: float) -> float:
    """Return the property at `c` degrees Celsius."""
    first_c, step_k, values = curve
    place = (c - first_c) / step_k
    if place <= 0.0:
        return values[0]
    index = int(place)
    if index >= len(values) - 1:
        return values[-1]
    return values[index] + (place - index) * (values[index + 1] - values[index])


def _between(points: tuple[tuple[float, float], ...], c: float) -> float:
    for (c0, v0), (c1, v1) in pairwise(points):
        if c <= c1:
            return v0 + (v1 - v0) * (c - c0) / (c1 - c0)
    return points[-1][1]
