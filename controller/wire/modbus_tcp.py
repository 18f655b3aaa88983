"""Modbus over TCP: pymodbus' client, kept to one timeout a question and to one line a failure.

Rules:
- An answer counts only when its transaction, unit, function, length and (for a write) echo are those of
  the question. pymodbus skips other transactions; the rest is checked here.
- Any failure but a plain refusal closes the connection, so a late answer dies with its socket. The next
  question opens a new one.
- A unit that did not answer is left alone for half a tick: what else is asked of it in the same tick
  fails at once with the same words, and the next tick asks again. A host that cannot be reached is
  treated so as a whole. Urgent writes (heat off) are tried all the same, at most once in that time.
- One lock lets one question at a time onto the wire, from whichever thread.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from threading import Lock

from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest, WriteSingleCoilRequest
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteMultipleRegistersRequest,
    WriteSingleRegisterRequest,
)

from controller.config.model import BusConfig
from controller.errors import WireError
from controller.wire.bus import RefusedError
from controller.wire.client import DeadlineClient, UnreachableError
from controller.wire.points import Function

READS: dict[Function, type[ModbusPDU]] = {
    "coil": ReadCoilsRequest,
    "discrete": ReadDiscreteInputsRequest,
    "input": ReadInputRegistersRequest,
    "holding": ReadHoldingRegistersRequest,
}
WORDS: dict[Function, str] = {
    "coil": "coils",
    "discrete": "discrete inputs",
    "input": "input registers",
    "holding": "holding registers",
}
# Refusals that cost as much time as silence: a gateway waited for the unit, or cannot reach it.
SILENT_REFUSALS = (10, 11)

Key = tuple[int | None, bool]  # (unit, or None for the whole line; whether for urgent writes)


class ModbusTcpBus:
    """A `Bus` over Modbus TCP. `now` is the controller's clock (s); `quiet_s` is half of its tick."""

    def __init__(self, config: BusConfig, now: Callable[[], float], quiet_s: float) -> None:
        self._config = config
        self._now = now
        self._quiet_s = quiet_s
        self._quiet: dict[Key, tuple[float, str]] = {}
        self._lock = Lock()
        self._client = DeadlineClient(config.host, config.port)

    def read(self, unit: int, function: Function, address: int, count: int) -> Sequence[int]:
        """Return exactly `count` registers, or bits, from `address`. Raises WireError."""
        request = READS[function](dev_id=unit, address=address, count=count)
        what = f"{count} {WORDS[function]} from {address}"
        reply = self._ask(request, what, urgent=False)
        if function in ("input", "holding"):
            return reply.registers
        return reply.bits[:count]

    def write_coil(self, unit: int, address: int, on: bool, *, urgent: bool = False) -> None:
        """Write one coil (function 05). Raises WireError."""
        request = WriteSingleCoilRequest(dev_id=unit, address=address, bits=[on])
        self._ask(request, f"coil {address} to be {'on' if on else 'off'}", urgent)

    def write_registers(
        self, unit: int, address: int, registers: Sequence[int], *, urgent: bool = False
    ) -> None:
        """Write holding registers: one by function 06, more by function 16. Raises WireError."""
        kind = WriteSingleRegisterRequest if len(registers) == 1 else WriteMultipleRegistersRequest
        request = kind(dev_id=unit, address=address, registers=list(registers))
        numbers = ", ".join(map(str, registers))
        self._ask(request, f"holding registers from {address} to be {numbers}", urgent)

    def close(self) -> None:
        """Close the connection."""
        with self._lock:
            self._client.close()

    def _ask(self, request: ModbusPDU, what: str, urgent: bool) -> ModbusPDU:
        """Return the answer to one question. Raises WireError."""
        with self._lock:
            self._raise_if_quiet(request.dev_id, urgent)
            attempts = 1
            while True:
                try:
                    return self._once(request, what)
                except RefusedError as error:
                    if error.code in SILENT_REFUSALS:
                        self._keep_quiet(request.dev_id, urgent, str(error))
                    raise
                except (ModbusException, OSError) as error:
                    self._client.close()
                    if attempts > self._config.retries:
                        raise self._lost(request, what, urgent, error) from None
                attempts += 1

    def _once(self, request: ModbusPDU, what: str) -> ModbusPDU:
        """Return the checked answer of one attempt. Raises ModbusException, OSError, RefusedError."""
        client = self._client
        client.deadline_s = time.monotonic() + self._config.timeout_s
        reply = client.execute(False, request)
        if reply.function_code == request.function_code | 0x80:
            raise RefusedError(self._line(request.dev_id, what), reply.exception_code)
        if not _answers(reply, request):
            raise ModbusException("what came is no answer to this")
        return reply

    def _lost(self, request: ModbusPDU, what: str, urgent: bool, error: Exception) -> WireError:
        """Return the error for a question without an answer, and remember it for half a tick."""
        line = f"{self._line(request.dev_id, what)}, {self._reason(error)}"
        unit = None if isinstance(error, UnreachableError) else request.dev_id
        self._keep_quiet(unit, urgent, line)
        return WireError(line)

    def _line(self, unit: int, what: str) -> str:
        config = self._config
        return f"bus {config.name} ({config.host}:{config.port}), unit {unit}: asked for {what}"

    def _reason(self, error: Exception) -> str:
        """Return in words why there is no answer."""
        if isinstance(error, UnreachableError):
            return error.string.removeprefix("[Connection] ")
        if isinstance(error, ConnectionException | OSError):
            return "the connection was closed before an answer came"
        if "No response" in str(error):
            return f"no answer within {self._config.timeout_s * 1000:.0f} ms"
        return "what came is no answer to this"

    def _keep_quiet(self, unit: int | None, urgent: bool, line: str) -> None:
        until_s = self._now() + self._quiet_s
        for key in {(unit, False), (unit, urgent)}:
            self._quiet[key] = (until_s, line)

    def _raise_if_quiet(self, unit: int, urgent: bool) -> None:
        if not self._quiet:
            return
        now_s = self._now()
        self._quiet = {key: value for key, value in self._quiet.items() if now_s < value[0]}
        for key in ((None, urgent), (unit, urgent)):
            if key in self._quiet:
                raise WireError(self._quiet[key][1])


def _answers(reply: ModbusPDU, request: ModbusPDU) -> bool:
    """Return whether a reply has the function, and the length or the echo, that the request calls for."""
    if reply.function_code != request.function_code:
        return False
    if isinstance(request, ReadCoilsRequest):  # and discrete inputs: bits come in whole bytes
        return len(reply.bits) == 8 * ((request.count + 7) // 8)
    if isinstance(request, ReadHoldingRegistersRequest):  # and input registers
        return len(reply.registers) == request.count
    if isinstance(request, WriteMultipleRegistersRequest):
        return (reply.address, reply.count) == (request.address, request.count)
    return (reply.address, reply.bits, reply.registers) == (request.address, request.bits, request.registers)
