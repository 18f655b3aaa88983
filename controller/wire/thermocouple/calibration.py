"""A sensor's own corrections, from its calibration certificate. Pure; today's date is handed in.

A correction is added to what the sensor indicates. Between two points of the certificate it follows a
straight line; outside them the nearest point's correction is kept and the result says so (`within`).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import NamedTuple

from controller.errors import StokeholdError
from controller.wire.thermocouple.errors import ThermocoupleError

# Twice the widest tolerance that a base-metal type has in a kiln (class 2, 9 K at 1200 C), rounded: a sensor
# that is further off is replaced, not corrected. Common practice, no source.
LARGEST_K = 20.0


class Mistake(NamedTuple):
    """What is wrong with a calibration: the keys that lead there, what was found, what was expected."""

    path: tuple[str | int, ...]
    found: str
    expected: str

    def __str__(self) -> str:
        where = ".".join(map(str, self.path)) or "calibration"
        return f"{where}: found {self.found}, expected {self.expected}"


class CalibrationError(StokeholdError, ValueError):
    """All mistakes of a calibration at once, one a line."""

    def __init__(self, mistakes: tuple[Mistake, ...]) -> None:
        super().__init__("\n".join(str(mistake) for mistake in mistakes))
        self.mistakes = mistakes


class Point(NamedTuple):
    """One row of a certificate: at this indicated temperature in C, add so many kelvin."""

    indicated_c: float
    correction_k: float


class Corrected(NamedTuple):
    """A corrected temperature in C; `within` is False where the certificate has no points around it."""

    t_c: float
    correction_k: float
    within: bool


@dataclass(frozen=True, slots=True)
class Calibration:
    """The corrections of one sensor, from cold to hot, and the certificate that they come from.

    `due_on` is the first day on which the certificate no longer counts. Raises CalibrationError.
    """

    points: tuple[Point, ...]
    due_on: date
    certificate: str

    def __post_init__(self) -> None:
        if mistakes := tuple(_mistakes(self)):
            raise CalibrationError(mistakes)

    def corrected(self, t_c: float) -> Corrected:
        """Return what the sensor's `t_c` truly is. Raises ThermocoupleError when not finite."""
        if not isfinite(t_c):
            raise ThermocoupleError("indicated temperature", f"{t_c} C", "a finite one to correct")
        correction_k = self._correction_k(t_c)
        within = self.points[0].indicated_c <= t_c <= self.points[-1].indicated_c
        return Corrected(t_c + correction_k, correction_k, within)

    def due(self, today: date) -> bool:
        """Return whether the sensor is to be calibrated anew."""
        return today >= self.due_on

    def _correction_k(self, t_c: float) -> float:
        above = bisect_right(self.points, t_c, key=lambda point: point.indicated_c)
        if above == 0 or above == len(self.points):
            return self.points[max(above - 1, 0)].correction_k
        (low_c, low_k), (high_c, high_k) = self.points[above - 1 : above + 1]
        return low_k + (high_k - low_k) * (t_c - low_c) / (high_c - low_c)


def _mistakes(calibration: Calibration) -> Iterator[Mistake]:
    if not calibration.certificate.strip():
        yield Mistake(("certificate",), "no text", "what names the certificate: number, who issued it, when")
    if not calibration.points:
        yield Mistake(("points",), "no points", "at least one point")
    for place, point in enumerate(calibration.points):
        yield from _point_mistakes(place, point)
    for place, (low, high) in enumerate(zip(calibration.points, calibration.points[1:], strict=False), 1):
        yield from _pair_mistakes(place, low, high)


def _point_mistakes(place: int, point: Point) -> Iterator[Mistake]:
    if not isfinite(point.indicated_c):
        yield Mistake(("points", place, "at"), f"{point.indicated_c} C", "a finite temperature")
    if not abs(point.correction_k) <= LARGEST_K:  # also so for NaN
        expected = f"at most {LARGEST_K:g} K either way: a sensor that is further off is replaced"
        yield Mistake(("points", place, "correction"), f"{point.correction_k:g} K", expected)


def _pair_mistakes(place: int, low: Point, high: Point) -> Iterator[Mistake]:
    if high.indicated_c <= low.indicated_c:
        expected = f"more than the point before it ({low.indicated_c:g} C)"
        yield Mistake(("points", place, "at"), f"{high.indicated_c:g} C", expected)
    elif sum(high) <= sum(low):
        expected = "corrections under which a hotter indication stays the hotter temperature"
        yield Mistake(("points", place, "correction"), f"{high.correction_k:g} K", expected)
