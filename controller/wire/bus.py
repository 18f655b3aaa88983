"""The seam between the house and a wire: questions about registers and bits, and orders to write them.

`Bus` is all that the rest of `wire` knows about a wire. A real one is in `modbus.py`; tests put a
few dictionaries behind it. Rules for whoever implements it: an answer is the answer to this question or
there is none; every failure is a WireError of one line; nothing waits longer than the wire's timeout.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from controller.errors import WireError
from controller.wire.health import Health
from controller.wire.points import Function

# What an instrument says when it refuses (Modbus application protocol, exception codes).
REFUSALS = {
    1: "it does not know this function",
    2: "it has no such address",
    3: "it does not accept the value or the number of registers",
    4: "it failed while doing so",
    5: "it needs more time",
    6: "it is busy",
    8: "its memory has a parity error",
    10: "the gateway has no path to it",
    11: "it did not answer the gateway",
}


class RefusedError(WireError):
    """The instrument is there, but refused the question. `code` is the Modbus exception code."""

    def __init__(self, line: str, code: int) -> None:
        super().__init__(f"{line}, refused: {REFUSALS.get(code, 'for a reason of its own')} (code {code})")
        self.code = code


class Bus(Protocol):
    """One wire with one or more units. Every call may raise WireError and is safe from any thread.

    `urgent` writes are those that take heat away: they are tried even where a unit that has just
    failed to answer would otherwise be left alone for the rest of the tick.
    """

    def read(self, unit: int, function: Function, address: int, count: int) -> Sequence[int]:
        """Return exactly `count` registers, or bits as booleans, from `address`."""

    def write_coil(self, unit: int, address: int, on: bool, *, urgent: bool = False) -> None:
        """Write one coil, and return when the unit has said that it did."""

    def write_registers(
        self, unit: int, address: int, registers: Sequence[int], *, urgent: bool = False
    ) -> None:
        """Write holding registers, and return when the unit has said that it did."""

    def health(self) -> dict[int, Health]:
        """Return how well each unit has answered since the wire was opened."""

    def close(self) -> None:
        """Let go of the wire. A later call opens it again."""
