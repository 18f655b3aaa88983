"""Thermocouple mathematics: emf and temperature both ways, compensation, tolerance, calibration.

Rules: pure, no I/O and no clock; compensation is done in millivolts, never in degrees; what is not finite
or outside a type's range is refused; corrections of a certificate come after the conversion.
`arrays` (numpy) and `calibration_table` (a kiln's file) are imported by those who need them.
"""

from controller.wire.thermocouple.calibration import Calibration, CalibrationError, Corrected, Point
from controller.wire.thermocouple.coefficients import Letter
from controller.wire.thermocouple.errors import (
    NoToleranceError,
    OutOfRangeError,
    ThermocoupleError,
    UnknownTypeError,
)
from controller.wire.thermocouple.inverse import inverse_c, inverse_valid_mv, temperature_c
from controller.wire.thermocouple.reference import (
    LETTERS,
    as_letter,
    emf_mv,
    measured_mv,
    sensitivity_mv_per_k,
    valid_c,
)
from controller.wire.thermocouple.tolerance import Band, band, band_text, classes_of, tolerance_k

__all__ = [
    "LETTERS",
    "Band",
    "Calibration",
    "CalibrationError",
    "Corrected",
    "Letter",
    "NoToleranceError",
    "OutOfRangeError",
    "Point",
    "ThermocoupleError",
    "UnknownTypeError",
    "as_letter",
    "band",
    "band_text",
    "classes_of",
    "emf_mv",
    "inverse_c",
    "inverse_valid_mv",
    "measured_mv",
    "sensitivity_mv_per_k",
    "temperature_c",
    "tolerance_k",
    "valid_c",
]
