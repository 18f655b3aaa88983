"""Modbus, whatever carries it: which questions there are, what answers them, and how often one is asked.

The line itself (a socket, a serial port) is a `Line`: it brings one question over and one answer back, or
says why not. Rules, for every line:

- An answer counts only when its unit, function, length and (for a write) echo are those of the question.
- A question is asked again `retries` times, and only while the time that this tick has lost to silence
  stays within its budget of half a tick, and while nobody waits to take heat away.
- A unit that did not answer is left alone for half a tick: what else is asked of it in the same tick
  fails at once with the same words, and the next tick asks again. A line that cannot be opened is
  treated so as a whole. Urgent writes (heat off) are tried all the same, at most once in that time.
- One question at a time is on the wire, from whichever thread; urgent ones go first.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Protocol

from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadDiscreteInputsRequest, WriteSingleCoilRequest
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
    WriteMultipleRegistersRequest,
    WriteSingleRegisterRequest,
)

from controller.errors import WireError
from controller.wire.bus import RefusedError
from controller.wire.client import NoAnswerError, UnreachableError
from controller.wire.health import Health, HealthBook
from controller.wire.points import Function
from controller.wire.right_of_way import RightOfWay

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

# What counting on a real clock may add to a tick's budget of silence: a time-out of exactly half of it,
# asked twice, is still two questions.
BUDGET_SLACK = 1.05

Key = tuple[int | None, bool]  # (unit, or None for the whole line; whether for urgent writes)


class Line(Protocol):
    """What carries questions and answers."""

    def exchange(self, request: ModbusPDU, timeout_s: float, is_wanted: Callable[[], bool]) -> ModbusPDU:
        """Return what answers a question. Raises ModbusException, OSError.

        `is_wanted`: someone waits to take heat away; a line on which that does no harm may give way.
        """

    def give_up(self) -> None:
        """Make sure that a late answer to the last question is never taken for the next one's."""

    def close(self) -> None:
        """Let go of the line. A later question opens it again."""


class ModbusBus:
    """A `Bus` over any line. `now` is the controller's clock (s); `quiet_s` is half of its tick.

    `where` names the line in messages; a question waits `timeout_s` and is asked `retries` times more.
    """

    def __init__(
        self,
        line: Line,
        where: str,
        timeout_s: float,
        retries: int,
        now: Callable[[], float],
        quiet_s: float,
    ) -> None:
        self._line = line
        self._where = where
        self._timeout_s = timeout_s
        self._retries = retries
        self._now = now
        self._quiet_s = quiet_s
        self._quiet: dict[Key, tuple[float, str]] = {}
        self._way = RightOfWay()
        self._book = HealthBook()
        self._lost_s = 0.0
        self._lost_until_s = float("-inf")

    def read(self, unit: int, function: Function, address: int, count: int) -> Sequence[int]:
        """Return exactly `count` registers, or bits, from `address`. Raises WireError."""
        request = READS[function](dev_id=unit, address=address, count=count)
        reply = self._ask(request, lambda: f"{count} {WORDS[function]} from {address}", urgent=False)
        if function in ("input", "holding"):
            return reply.registers
        return reply.bits[:count]

    def write_coil(self, unit: int, address: int, on: bool, *, urgent: bool = False) -> None:
        """Write one coil (function 05). Raises WireError."""
        request = WriteSingleCoilRequest(dev_id=unit, address=address, bits=[on])
        self._ask(request, lambda: f"coil {address} to be {'on' if on else 'off'}", urgent)

    def write_registers(
        self, unit: int, address: int, registers: Sequence[int], *, urgent: bool = False
    ) -> None:
        """Write holding registers: one by function 06, more by function 16. Raises WireError."""
        kind = WriteSingleRegisterRequest if len(registers) == 1 else WriteMultipleRegistersRequest
        request = kind(dev_id=unit, address=address, registers=list(registers))
        numbers = ", ".join(map(str, registers))
        self._ask(request, lambda: f"holding registers from {address} to be {numbers}", urgent)

    def health(self) -> dict[int, Health]:
        """Return how well each unit has answered."""
        return self._book.all()

    def close(self) -> None:
        """Let go of the line."""
        with self._way.turn():
            self._line.close()

    def _ask(self, request: ModbusPDU, what: Callable[[], str], urgent: bool) -> ModbusPDU:
        """Return the answer to one question. Raises WireError."""
        with self._way.turn(urgent):
            self._raise_if_quiet(request.dev_id, urgent)
            attempts = 1
            while True:
                start_s = time.monotonic()
                try:
                    reply = self._once(request, what, urgent)
                except RefusedError as error:
                    self._note_refusal(request.dev_id, urgent, error, start_s)
                    raise
                except (ModbusException, OSError) as error:
                    self._line.give_up()
                    if attempts > self._retries or not self._may_retry(time.monotonic() - start_s, urgent):
                        raise self._lost(request, what(), urgent, error) from None
                else:
                    self._book.answered(request.dev_id, time.monotonic() - start_s)
                    return reply
                attempts += 1

    def _once(self, request: ModbusPDU, what: Callable[[], str], urgent: bool) -> ModbusPDU:
        """Return the checked answer of one attempt. Raises ModbusException, OSError, RefusedError."""
        reply = self._line.exchange(request, self._timeout_s, self._never if urgent else self._is_wanted)
        if reply.function_code == request.function_code | 0x80:
            raise RefusedError(self._told(request.dev_id, what()), reply.exception_code)
        if not answers(reply, request):
            raise ModbusException("what came is no answer to this")
        return reply

    def _is_wanted(self) -> bool:
        return self._way.is_wanted

    @staticmethod
    def _never() -> bool:
        return False

    def _note_refusal(self, unit: int, urgent: bool, error: RefusedError, start_s: float) -> None:
        if error.code in SILENT_REFUSALS:
            self._book.missed(unit, str(error))
            self._keep_quiet(unit, urgent, str(error))
        else:
            self._book.answered(unit, time.monotonic() - start_s)

    def _may_retry(self, lost_s: float, urgent: bool) -> bool:
        """Count what an attempt has cost, and return whether this tick has the time for another one."""
        now_s = self._now()
        if now_s >= self._lost_until_s:
            self._lost_until_s, self._lost_s = now_s + self._quiet_s, 0.0
        self._lost_s += lost_s
        fits = self._lost_s + self._timeout_s <= self._quiet_s * BUDGET_SLACK
        return fits and (urgent or not self._way.is_wanted)

    def _lost(self, request: ModbusPDU, what: str, urgent: bool, error: Exception) -> WireError:
        """Return the error for a question without an answer, and remember it for half a tick."""
        line = f"{self._told(request.dev_id, what)}, {self._reason(error)}"
        unit = None if isinstance(error, UnreachableError) else request.dev_id
        self._book.missed(request.dev_id, self._reason(error))
        self._keep_quiet(unit, urgent, line)
        return WireError(line)

    def _told(self, unit: int, what: str) -> str:
        return f"{self._where}, unit {unit}: asked for {what}"

    def _reason(self, error: Exception) -> str:
        """Return in words why there is no answer."""
        if isinstance(error, UnreachableError | NoAnswerError):
            return error.string.removeprefix("[Connection] ")
        if isinstance(error, ConnectionException | OSError):
            return "the connection was closed before an answer came"
        if "No response" in str(error):
            return f"no answer within {self._timeout_s * 1000:.0f} ms"
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


def answers(reply: ModbusPDU, request: ModbusPDU) -> bool:
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
