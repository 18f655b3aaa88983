"""The simulated kiln's Modbus TCP face: pymodbus' server in front of the units' tables.

The kiln moves only when someone looks: at each request it is first moved on to the present (`catch_up`),
so that an answer is never older than its request and a lease ends at its own moment. Between requests
something must call `catch_up` now and then, to keep each stride short.

It stands for one serial line behind a gateway: a unit that is not there gets the gateway's exception, a
silent one gets no answer, and a slow one holds up whoever comes after it.
"""

from __future__ import annotations

import errno
import socket
import time
from collections.abc import Callable, Sequence
from typing import Any, cast

from pymodbus.constants import ExcCodes
from pymodbus.exceptions import NoSuchIdException
from pymodbus.pdu import ModbusPDU
from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from controller.errors import WireError
from controller.simulator.faults import Due
from controller.simulator.plant import Plant
from controller.simulator.units import Heater, Reader, Table, Unit, all_units

HOST = "127.0.0.1"
"""A fault panel without a password must not be reachable from elsewhere."""

SLOW_S = 0.25
"""How long a slow unit takes, on the wall's clock: within a usual time-out of 0.3 s, but a tick is late."""

MISNAMED = 77
"""The unit whose name a misnamed answer bears: there is none such."""


class ModbusFace:
    """Answers requests from the units' tables. Has the three methods that pymodbus asks of its store."""

    def __init__(self, plant: Plant, now_s: Callable[[], float], due: Sequence[Due] = ()) -> None:
        """`now_s`: the kiln's clock, s. `due`: faults that set in by themselves, counted from now."""
        self.plant = plant
        self.units: dict[int, Unit] = {unit.number: unit for unit in all_units(plant)}
        self._now_s = now_s
        self._start_s = now_s() - plant.now_s
        self._due = sorted(due)

    def catch_up(self) -> None:
        """Move the kiln on to the present, with the faults that are due on the way."""
        present_s = self._now_s() - self._start_s
        while self._due and self._due[0].at_s <= present_s:
            fault = self._due.pop(0)
            self._advance_to(fault.at_s)
            self.plant.set_fault(fault.name, True)
        self._advance_to(present_s)

    def _advance_to(self, t_s: float) -> None:
        if (dt_s := t_s - self.plant.now_s) > 0.0:
            self.plant.advance(dt_s)

    def device_ids(self) -> list[int]:
        """Return the units' numbers."""
        return list(self.units)

    async def async_getValues(  # noqa: N802 - the library's name
        self, device_id: int, func_code: int, address: int, count: int = 1
    ) -> list[int] | ExcCodes:
        """Return `count` values from `address`, or an exception's code."""
        unit = self._reach(device_id)
        if unit is None:
            return ExcCodes.GATEWAY_NO_RESPONSE
        values = self._table(unit, func_code)[address : address + count]
        found = [value for value in values if value is not None]
        return found if len(found) == count else ExcCodes.ILLEGAL_ADDRESS

    async def async_setValues(  # noqa: N802 - the library's name
        self, device_id: int, func_code: int, address: int, values: Sequence[int | bool]
    ) -> ExcCodes | None:
        """Write all of `values` from `address`, or none and return an exception's code."""
        unit = self._reach(device_id)
        if unit is None:
            return ExcCodes.GATEWAY_NO_RESPONSE
        if address + len(values) > len(self._table(unit, func_code)):
            return ExcCodes.ILLEGAL_ADDRESS
        heats = unit.number == Heater.number and func_code in _COILS and address == 0 and bool(values[0])
        if heats and self.plant.answers(unit.name) == "refuses":
            return ExcCodes.DEVICE_FAILURE
        for place, value in enumerate(values, address):
            if func_code in _COILS:
                unit.write_coil(place, bool(value))
            else:
                unit.write_holding(place, int(value))
        return None

    def _reach(self, number: int) -> Unit | None:
        """Return the unit, the kiln being moved on to now; None where there is none; or do not answer."""
        self.catch_up()
        unit = self.units.get(number)
        if unit is None:
            return None
        how = self.plant.answers(unit.name)
        if how == "silent":
            # The server, told to ignore missing devices, sends nothing then.
            raise NoSuchIdException(unit.name)
        if how == "slow":
            # Not asyncio.sleep: the line is one, and the server would answer in a later request's name.
            time.sleep(SLOW_S)
            self.catch_up()
        return unit

    @staticmethod
    def _table(unit: Unit, func_code: int) -> Table:
        if func_code in _COILS:
            return unit.coils()
        if func_code == _READ_DISCRETES:
            return unit.discretes()
        return unit.inputs() if func_code == _READ_INPUTS else unit.holdings()

    def sign(self, sending: bool, pdu: ModbusPDU) -> ModbusPDU:
        """Give the reader's answers another's name, where that fault stands."""
        if sending and pdu.dev_id == Reader.number and self.plant.answers("reader") == "misnamed":
            pdu.dev_id = MISNAMED
        return pdu


_COILS = (1, 5, 15)  # read, write one, write several; Modbus application protocol, section 6
_READ_DISCRETES = 2
_READ_INPUTS = 4


async def serve(face: ModbusFace, port: int) -> tuple[ModbusTcpServer, int]:
    """Listen on the loopback address; return the server and its port. `port` 0 takes a free one.

    Raises WireError where it cannot listen. The caller ends it with `await server.shutdown()`.
    """
    # The library's own store knows bits by sixteens only, and would answer for bits that are not there;
    # so it gets a dummy, and the face is put in its place.
    dummy = SimDevice(0, SimData(0, datatype=DataType.REGISTERS))
    server = ModbusTcpServer(dummy, address=(HOST, port), ignore_missing_devices=True, trace_pdu=face.sign)
    server.context = cast(Any, face)
    try:
        await server.serve_forever(background=True)
    except RuntimeError as error:
        raise WireError(f"port {port}: found {_hindrance(port)}, expected a free port on {HOST}") from error
    sockets = server.transport.sockets  # type: ignore[attr-defined]  # it is an asyncio.Server
    return server, int(sockets[0].getsockname()[1])


def _hindrance(port: int) -> str:
    """Return why nothing can listen there, in words: the library keeps that to itself."""
    try:
        with socket.create_server((HOST, port)):
            return "that the server could not start"
    except OSError as error:
        return "another program on it" if error.errno == errno.EADDRINUSE else f"'{error.strerror}'"
