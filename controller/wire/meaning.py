"""What the registers and bits mean: a temperature, or a reason why not; a contact that is healthy, or not.

Everything that the configuration says about a point is worked out once, here; what comes out is a small
function that a tick calls. Pure. A number that is not finite, that the reader uses to report a fault, or
that lies outside the sensor's range never becomes a temperature.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from controller.config.model import ContactConfig, ReadBackConfig, ReaderConfig
from controller.wire.encoding import as_sent, decoder


class Measured(NamedTuple):
    """A temperature in degrees C, or the reason why there is none; exactly one is None."""

    value_c: float | None
    fault: str | None


def temperature(config: ReaderConfig) -> Callable[[Sequence[int]], Measured]:
    """Return a function from a reader's registers to a temperature or a fault."""
    decode = decoder(config.type, config.order)
    faults = {sent for value in config.fault_values if (sent := as_sent(value, config.type)) is not None}
    kelvin_per_count, zero_c = config.line_c
    lowest_c, highest_c = config.lowest_c, config.highest_c

    def measure(registers: Sequence[int]) -> Measured:
        number = decode(registers)
        if number is None:
            return Measured(None, "not a number")
        if number in faults:
            return Measured(None, f"open or out of its range (the reader sent {number:g})")
        value_c = number * kelvin_per_count + zero_c
        if lowest_c <= value_c <= highest_c:
            return Measured(value_c, None)
        return Measured(None, f"out of range: {value_c:.1f} C, expected {lowest_c:g} C to {highest_c:g} C")

    return measure


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
