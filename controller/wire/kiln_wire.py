"""The way onto the wire: `open_wire(config, now)` gives the inputs to whoever asks and the heat to the guard.

The ladder, from bytes to meaning: `modbus_tcp` and `modbus_rtu` (a question and its answer) under `modbus`,
behind the seam `bus`; `points` (which questions); `encoding` (registers to a number); `meaning` (a number to
a temperature); `inputs` and `heat` (a kiln). A board of our own has its own ladder (`board_line`, `board`,
`board_kiln`) to the same inputs and the same heat; `together` makes one of both.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Protocol

from controller.config import (
    BoardBusConfig,
    BoardContactConfig,
    BoardReaderConfig,
    BoardSwitchConfig,
    BusConfig,
    HeaterConfig,
    KilnConfig,
    RtuBusConfig,
    TcpBusConfig,
)
from controller.wire.board import BoardConfig
from controller.wire.board_kiln import BoardHeatOutput, BoardInputs, open_board
from controller.wire.board_place import place
from controller.wire.bus import Bus
from controller.wire.heat import ModbusHeatOutput
from controller.wire.inputs import Inputs, ModbusInputs, Polled
from controller.wire.modbus_rtu import modbus_rtu
from controller.wire.modbus_tcp import modbus_tcp
from controller.wire.together import InputsTogether

__all__ = ["HeatOutput", "Inputs", "Polled", "open_inputs", "open_wire", "wire_over"]

Now = Callable[[], float]
Board = tuple[BoardInputs, BoardHeatOutput]


class HeatOutput(Protocol):
    """What switches the elements and the main contactor; every call may raise WireError.

    `has_hardware_lease`: the lease's end lies in the hardware. `has_main_contactor`: there is one to open.
    """

    has_hardware_lease: bool
    has_main_contactor: bool

    def energise(self, lease_s: float) -> None:
        """Heat for `lease_s` (s) at most where the hardware counts it; else until told otherwise."""

    def drop(self) -> None:
        """No heat."""

    def open_main(self) -> None:
        """Open the main contactor, if there is one."""

    def close_main(self) -> None:
        """Close the main contactor, if there is one."""


def open_wire(config: KilnConfig, now: Now) -> tuple[Inputs, HeatOutput]:
    """Return a kiln's inputs and its heat output. `now` is the controller's monotonic clock (s).

    Nothing is asked yet, and nothing fails yet: a kiln that does not answer shows in the first poll.
    """
    return wire_over(config, _buses(config, now), now)


def open_inputs(config: KilnConfig, now: Now) -> Inputs:
    """Return a kiln's inputs alone: nobody who has only these can switch anything."""
    return open_wire(config, now)[0]


def wire_over(config: KilnConfig, buses: Mapping[str, Bus], now: Now) -> tuple[Inputs, HeatOutput]:
    """Return a kiln's inputs and heat output; its Modbus buses are there already, its boards are opened."""
    boards = {
        name: _board(config, bus, now)
        for name, bus in config.buses.items()
        if isinstance(bus, BoardBusConfig)
    }
    modbus = ModbusInputs(config, buses, now)
    own = boards.get(config.heater.bus)
    output: HeatOutput = own[1] if own is not None else _modbus_heat(config, buses)
    parts: list[Inputs] = [*([modbus] if buses else []), *(inputs for inputs, _ in boards.values())]
    if len(parts) == 1:
        return parts[0], output
    return InputsTogether(parts, own[0] if own is not None else modbus), output


def _modbus_heat(config: KilnConfig, buses: Mapping[str, Bus]) -> ModbusHeatOutput:
    """Return the heat output behind Modbus; the configuration's checks keep the main contactor there too."""
    heater, main = config.heater, config.main_contactor
    if not isinstance(heater, HeaterConfig) or isinstance(main, BoardSwitchConfig):
        raise AssertionError("a heater without its board")
    return ModbusHeatOutput(heater, main, buses)


def _buses(config: KilnConfig, now: Now) -> dict[str, Bus]:
    """Return the buses of a kiln that speak Modbus."""
    quiet_s = config.tick_s / 2  # what has failed to answer in a tick is asked again in the next
    opened = {name: _bus(bus, now, quiet_s) for name, bus in config.buses.items()}
    return {name: bus for name, bus in opened.items() if bus is not None}


def _bus(config: BusConfig, now: Now, quiet_s: float) -> Bus | None:
    """Return one bus; None for a board, which is none."""
    if isinstance(config, TcpBusConfig):
        return modbus_tcp(config, now, quiet_s)
    if isinstance(config, RtuBusConfig):
        return modbus_rtu(config, now, quiet_s)
    return None


def _board(config: KilnConfig, bus: BoardBusConfig, now: Now) -> Board:
    """Return what is behind one board."""
    readers = {
        role: place(reader)
        for role, reader in config.readers.items()
        if isinstance(reader, BoardReaderConfig) and reader.bus == bus.name
    }
    contacts = [
        role
        for role, contact in config.contacts.items()
        if isinstance(contact, BoardContactConfig) and contact.bus == bus.name
    ]
    return open_board(
        BoardConfig(
            name=bus.name,
            port=bus.port,
            baud=bus.baud,
            timeout_s=bus.timeout_s,
            budget_s=config.tick_s / 2,
        ),
        readers,
        contacts,
        now,
        tick_s=config.tick_s,
        read_back=bus.read_back,
        has_main_contactor=config.main_contactor is not None,
    )
