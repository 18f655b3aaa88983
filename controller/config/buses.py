"""The kinds of wire that a kiln's file may name: `[bus.NAME]`, told apart by `kind`.

A question waits at most `timeout_s`, and is asked `retries` times more while the tick has time for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from controller.config import kinds

Parity = Literal["none", "even", "odd"]

# The rates that instruments offer; a serial adapter makes all of them exactly enough.
BAUDS = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)

_KIND = kinds.choice("modbus-tcp", "modbus-rtu", "board")


@dataclass(frozen=True, slots=True, kw_only=True)
class BusConfig:
    """What every wire has."""

    name: str
    kind: Annotated[str, _KIND]
    timeout_s: Annotated[float, kinds.seconds(0.02, 5)] = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpBusConfig(BusConfig):
    """`kind = "modbus-tcp"`: instruments, or a gateway to them, on the network."""

    host: Annotated[str, kinds.text()]
    port: Annotated[int, kinds.whole(1, 65535)] = 502  # the port of Modbus TCP
    retries: Annotated[int, kinds.whole(0, 3)] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RtuBusConfig(BusConfig):
    """`kind = "modbus-rtu"`: instruments on a serial line, most often RS-485.

    `timeout_s` counts from the end of the question, and the answer's own time on the line is added to it.
    Between an answer and the next question the line is left alone for `turn_around_s`, and for 3.5
    characters at least. `echo`: the adapter hears what it sends, as on many lines of two wires.
    19200 baud and even parity are what the serial-line specification calls its default (from memory).
    """

    port: Annotated[str, kinds.text()]
    baud: Annotated[int, kinds.one_of(*BAUDS)] = 19200
    parity: Annotated[Parity, kinds.choice("none", "even", "odd")] = "even"
    stop_bits: Annotated[int, kinds.whole(1, 2)] = 1
    timeout_s: Annotated[float, kinds.seconds(0.02, 5)] = 0.1
    turn_around_s: Annotated[float, kinds.seconds(0, 0.2)] = 0.0
    echo: Annotated[bool, kinds.flag()] = False
    retries: Annotated[int, kinds.whole(0, 3)] = 1

    @property
    def character_s(self) -> float:
        """Return how long one character is on the line (s): start, eight bits, parity, stop."""
        return (9 + (self.parity != "none") + self.stop_bits) / self.baud

    @property
    def frame_gap_s(self) -> float:
        """Return the silence that ends a frame (s).

        3.5 characters, and 1.75 ms above 19200 baud (serial-line specification, by way of a secondary page).
        """
        return 1.75e-3 if self.baud > 19200 else 3.5 * self.character_s

    @property
    def silence_s(self) -> float:
        """Return how long the line must have been silent before a question (s)."""
        return max(self.frame_gap_s, self.turn_around_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardBusConfig(BusConfig):
    """`kind = "board"`: a board of our own on a serial port (`hardware_notes/board`).

    `read_back` "proven": auxiliary contacts of relay and main contactor are wired to the board, and say
    more than its own pins.
    """

    port: Annotated[str, kinds.text()]
    baud: Annotated[int, kinds.one_of(*BAUDS)] = 38400
    timeout_s: Annotated[float, kinds.seconds(0.02, 5)] = 0.15
    read_back: Annotated[Literal["pin", "proven"], kinds.choice("pin", "proven")] = "pin"


# The kinds of bus, and the table that each is read into. Another kind is one more row.
BUS_KINDS: dict[str, type[BusConfig]] = {
    "modbus-tcp": TcpBusConfig,
    "modbus-rtu": RtuBusConfig,
    "board": BoardBusConfig,
}
