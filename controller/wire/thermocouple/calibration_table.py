"""A calibration as it stands in a kiln's file, read into a `Calibration`; all mistakes at once.

    [reader.load.calibration]
    certificate = "number 0417, the test house in Eastmoor, 2 March 2026"
    due = 2027-03-02                     # a date without quotation marks
    points = [
      { at = "200 C", correction = "0.4 K" },
      { at = "800 C", correction = "-1.2 K" },
    ]

`at` is what the sensor indicates, `correction` is what the certificate says to add.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any, TypeVar

from controller.schedule.units import UnitError, difference_k, shown, temperature_c
from controller.wire.thermocouple.calibration import Calibration, CalibrationError, Mistake, Point

T = TypeVar("T")
Path = tuple[str | int, ...]

KEYS = ("certificate", "due", "points")
POINT_KEYS = ("at", "correction")


def read_calibration(table: object) -> Calibration:
    """Return a parsed TOML table as a calibration.

    Raises CalibrationError with every mistake of its values; when there is none, with every mistake that
    the values make together.
    """
    if not isinstance(table, Mapping):
        raise CalibrationError((Mistake((), shown(table), "a table, with certificate, due and points"),))
    reading = _Reading()
    certificate = reading.value(table, "certificate", (), _text)
    due_on = reading.value(table, "due", (), _date)
    rows = reading.value(table, "points", (), _list)
    reading.known_keys(table, KEYS, ())
    points = [reading.point(row, ("points", place)) for place, row in enumerate(rows or ())]
    if reading.mistakes or certificate is None or due_on is None:
        raise CalibrationError(tuple(reading.mistakes))
    return Calibration(tuple(point for point in points if point is not None), due_on, certificate)


class _Reading:
    """The mistakes found so far."""

    def __init__(self) -> None:
        self.mistakes: list[Mistake] = []

    def value(self, table: object, key: str, path: Path, parse: Callable[[Any], T]) -> T | None:
        """Return a key's value, parsed; None, with the mistake noted, when it is not good."""
        found = table.get(key) if isinstance(table, Mapping) else None
        try:
            return parse(found)
        except UnitError as error:
            told = "no such key" if found is None else error.found
            self.mistakes.append(Mistake((*path, key), told, error.expected))
            return None

    def point(self, row: object, path: Path) -> Point | None:
        """Return one point, None when it has a mistake."""
        at_c = self.value(row, "at", path, temperature_c)
        correction_k = self.value(row, "correction", path, difference_k)
        self.known_keys(row, POINT_KEYS, path)
        return None if at_c is None or correction_k is None else Point(at_c, correction_k)

    def known_keys(self, table: object, known: tuple[str, ...], path: Path) -> None:
        """Note every key that means nothing here."""
        for key in table if isinstance(table, Mapping) else ():
            if key not in known:
                expected = f"one of: {', '.join(known)}"
                self.mistakes.append(Mistake((*path, key), f"the unknown key {shown(key)}", expected))


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise UnitError(shown(value), "text that names the certificate")
    return value


def _date(value: object) -> date:
    if not isinstance(value, date) or isinstance(value, datetime):
        raise UnitError(shown(value), "a date without quotation marks, such as 2027-03-02")
    return value


def _list(value: object) -> list[object]:
    if not isinstance(value, list):
        raise UnitError(shown(value), 'a list of points, such as { at = "800 C", correction = "-1.2 K" }')
    return value
