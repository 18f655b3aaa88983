"""The thermocouples of a kiln as frozen data: `[reader.ROLE]`, behind Modbus or behind a board of our own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from controller.config import kinds
from controller.schedule.units import ABSOLUTE_ZERO_C, F_PER_K, FREEZING_F
from controller.wire.thermocouple import LETTERS, Calibration, Letter, OutOfRangeError, tolerance_k

READER_ROLES = ("air", "load", "limit", "enclosure")

NumberType = Literal["int16", "uint16", "int32", "uint32", "float32"]
Order = Literal["big", "word-swapped", "byte-swapped", "little"]

TYPE = kinds.choice("int16", "uint16", "int32", "uint32", "float32")
ORDER = kinds.choice("big", "word-swapped", "byte-swapped", "little")
ADDRESS = kinds.whole(0, 0xFFFF)

# degrees -> (kelvin in one degree, degrees C at zero degrees)
_DEGREES = {"C": (1.0, 0.0), "F": (1 / F_PER_K, -FREEZING_F / F_PER_K), "K": (1.0, ABSOLUTE_ZERO_C)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorConfig:
    """What is known of a thermocouple, whatever reads it.

    A temperature outside `lowest_c` to `highest_c` is a fault. `thermocouple` and `class_` (of IEC 60584-1)
    tell how far a reading may be off; `calibration` is added to what is indicated.
    """

    role: str
    bus: Annotated[str, kinds.text()]
    lowest_c: Annotated[
        float, kinds.celsius(-273, 100)
    ] = -50.0  # no kiln is colder: a reversed or shorted sensor
    highest_c: Annotated[float, kinds.celsius(50, 1820)] = 1372.0  # the end of type K (IEC 60584-1)
    thermocouple: Annotated[Letter | None, kinds.choice(*LETTERS)] = None
    class_: Annotated[int | None, kinds.whole(1, 3, suffix="_")] = None
    calibration: Annotated[Calibration | None, kinds.calibration()] = None

    def band_k(self, t_c: float) -> float | None:
        """Return how far a new thermocouple's reading may be off at `t_c` (K, either way).

        None where its type or class is not known, or promises nothing at that temperature.
        """
        if self.thermocouple is None or self.class_ is None:
            return None
        try:
            return tolerance_k(self.thermocouple, self.class_, t_c)
        except OutOfRangeError:
            return None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderConfig(SensorConfig):
    """A thermocouple behind Modbus. Its temperature is (number x scale + offset) in `degrees`.

    With `cold_junction`, the role of the reader that tells the temperature of the terminals, (number x
    scale + offset) is the thermocouple's own voltage in millivolts. `fault_values` are numbers as sent,
    before scaling, by which the reader says that the sensor is open or out of range.
    """

    unit: Annotated[int, kinds.unit()] = 1
    function: Annotated[Literal["input", "holding"], kinds.choice("input", "holding")]
    address: Annotated[int, ADDRESS]
    type: Annotated[NumberType, TYPE] = "int16"
    order: Annotated[Order, ORDER] = "big"
    scale: Annotated[float, kinds.number(-1e6, 1e6)] = 1.0
    offset: Annotated[float, kinds.number(-1e6, 1e6)] = 0.0
    degrees: Annotated[str, kinds.choice("C", "F", "K")] = "C"
    fault_values: Annotated[tuple[float, ...], kinds.numbers()] = ()
    cold_junction: Annotated[str | None, kinds.choice(*READER_ROLES)] = None

    @property
    def line_c(self) -> tuple[float, float]:
        """Return (kelvin in one count, degrees C at a count of zero)."""
        kelvin, zero_c = _DEGREES[self.degrees]
        return self.scale * kelvin, self.offset * kelvin + zero_c


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardReaderConfig(SensorConfig):
    """A thermocouple behind a board: channel 0 to 2, or with `shows` the cold junction of that channel.

    `uv_per_k`: the converter takes the thermocouple's curve to be a straight line of so many microvolts
    for each kelvin, as its data sheet says; what it indicates is turned back into millivolts and made a
    temperature by the true curve of `thermocouple`.
    """

    channel: Annotated[int, kinds.whole(0, 2)]
    shows: Annotated[str, kinds.choice("thermocouple", "cold junction")] = "thermocouple"
    uv_per_k: Annotated[float | None, kinds.number(1, 100)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownConfig:
    """`[shown.NAME]`: a number behind Modbus that is only shown to a person, by `stokehold probe`.

    An instrument's own setpoint, for one. It is (number x scale + offset), in `in_units` as the manual says.
    """

    name: str
    bus: Annotated[str, kinds.text()]
    unit: Annotated[int, kinds.unit()] = 1
    function: Annotated[Literal["input", "holding"], kinds.choice("input", "holding")]
    address: Annotated[int, ADDRESS]
    type: Annotated[NumberType, TYPE] = "int16"
    order: Annotated[Order, ORDER] = "big"
    scale: Annotated[float, kinds.number(-1e6, 1e6)] = 1.0
    offset: Annotated[float, kinds.number(-1e6, 1e6)] = 0.0
    in_units: Annotated[str, kinds.text()] = ""
