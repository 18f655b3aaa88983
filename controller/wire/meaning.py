"""What the registers and bits mean: a temperature, or a reason why not; a contact that is healthy, or not.

Everything that the configuration says about a point is worked out once, here; what comes out is a small
function that a tick calls. Pure. A number that is not finite, that the reader uses to report a fault, or
that lies outside the sensor's range never becomes a temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from controller.config import ContactConfig, ReadBackConfig, ReaderConfig, SensorConfig, ShownConfig
from controller.wire.encoding import Number, as_sent, decoder
from controller.wire.thermocouple import ThermocoupleError, temperature_c


class Measured(NamedTuple):
    """A temperature in degrees C, or the reason why there is none; exactly one is None."""

    value_c: float | None
    fault: str | None


# From a reader's registers, and the temperature of its cold junction (C; None where none is needed).
Measure = Callable[[Sequence[int], float | None], Measured]


def temperature(config: ReaderConfig) -> Measure:
    """Return a function from a reader's registers to a temperature or a fault."""
    decode = decoder(config.type, config.order)
    faults = {sent for value in config.fault_values if (sent := as_sent(value, config.type)) is not None}
    convert = _conversion(config)
    settle = settled(config)

    def measure(registers: Sequence[int], cold_c: float | None = None) -> Measured:
        number = decode(registers)
        if number is None:
            return Measured(None, "not a number")
        if number in faults:
            return Measured(None, f"open or out of its range (the reader sent {number:g})")
        try:
            return settle(convert(number, cold_c))
        except ThermocoupleError as error:
            return Measured(None, str(error))

    return measure


def settled(config: SensorConfig) -> Callable[[float], Measured]:
    """Return a function that corrects what a sensor indicates (C) and holds it against the sensor's range."""
    lowest_c, highest_c, calibration = config.lowest_c, config.highest_c, config.calibration

    def settle(value_c: float) -> Measured:
        if calibration is not None:
            value_c = calibration.corrected(value_c).t_c
        if lowest_c <= value_c <= highest_c:
            return Measured(value_c, None)
        return Measured(None, f"out of range: {value_c:.1f} C, expected {lowest_c:g} C to {highest_c:g} C")

    return settle


def shown_text(config: ShownConfig) -> Callable[[Sequence[int]], str]:
    """Return a function from the registers of a number that is only shown to what is shown."""
    decode = decoder(config.type, config.order)

    def show(registers: Sequence[int]) -> str:
        number = decode(registers)
        if number is None:
            return "not a number"
        return f"{number * config.scale + config.offset:g} {config.in_units}".rstrip()

    return show


def _conversion(config: ReaderConfig) -> Callable[[Number, float | None], float]:
    """Return a function from the number that a reader sent to degrees C. It may raise ThermocoupleError."""
    letter, scale, offset = config.thermocouple, config.scale, config.offset
    if config.cold_junction is not None and letter is not None:

        def compensated(number: Number, cold_c: float | None) -> float:
            if cold_c is None:
                raise ThermocoupleError(f"{config.role}'s cold junction", "no temperature", "one")
            return temperature_c(letter, number * scale + offset, cold_c)

        return compensated
    kelvin_per_count, zero_c = config.line_c
    return lambda number, _: number * kelvin_per_count + zero_c


def healthy(config: ContactConfig) -> Callable[[Sequence[int]], bool]:
    """Return a function from what a contact reads to whether it is healthy (closed, running, present)."""
    wanted, mask = config.healthy, _mask(config.bit)
    return lambda values: bool(values[0] & mask) is wanted


def is_on(config: ReadBackConfig) -> Callable[[Sequence[int]], bool]:
    """Return a function from what is read back to whether the output is on."""
    on, bit = config.on, config.bit
    if bit is None:
        return lambda values: values[0] == on
    return lambda values: (values[0] >> bit) & 1 == on


def _mask(bit: int | None) -> int:
    return 0xFFFF if bit is None else 1 << bit
