"""What thermocouple mathematics refuses: the type, what was found, what was expected.

ThermocoupleError      also a ValueError
├── UnknownTypeError   no thermocouple of this name
├── NoToleranceError   the standard gives this type no such tolerance class
└── OutOfRangeError    not finite, or outside what the type's function is valid for
"""

from __future__ import annotations

from controller.errors import StokeholdError


class ThermocoupleError(StokeholdError, ValueError):
    """One line: `found` and `expected`, each ready to stand in a sentence."""

    def __init__(self, where: str, found: str, expected: str) -> None:
        super().__init__(f"{where}: found {found}, expected {expected}")
        self.where = where
        self.found = found
        self.expected = expected


class UnknownTypeError(ThermocoupleError):
    """No thermocouple of this name."""


class NoToleranceError(ThermocoupleError):
    """The standard gives this type no such tolerance class."""


class OutOfRangeError(ThermocoupleError):
    """A value in `unit` ("C" or "mV") that is not finite, or not between `lowest` and `highest`."""

    def __init__(self, where: str, value: float, unit: str, lowest: float, highest: float) -> None:
        # Eight places, so that a value just outside never looks like the end that it missed.
        super().__init__(where, f"{value:.8g} {unit}", f"{lowest:.8g} to {highest:.8g} {unit}")
        self.value = value
        self.unit = unit
        self.lowest = lowest
        self.highest = highest
