"""pymodbus' TCP client, made strict: it keeps to a deadline, and an answer's length must be what it says.

pymodbus waits up to a timeout for each piece of an answer, and believes an answer of reads whose byte
count is not the count of its bytes. Here one deadline holds for the whole question, from connecting to
the last byte, and such an answer is none.
"""

from __future__ import annotations

import logging
import socket
import time
from collections.abc import Callable

from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException, ModbusIOException
from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.bit_message import ReadCoilsResponse, ReadDiscreteInputsResponse
from pymodbus.pdu.register_message import ReadHoldingRegistersResponse, ReadInputRegistersResponse

# Everything that goes wrong is told by us, in one line; pymodbus' own log is for whoever asks for it.
logging.getLogger("pymodbus").addHandler(logging.NullHandler())


LOOK_S = 0.02  # how often a wait for an answer looks up: whether to give way


class WholeAnswer(ModbusPDU):
    """An answer to a read that has as many bytes as it says, and whole registers."""

    bytes_each = 1

    def decode(self, data: bytes) -> None:
        """Take an answer apart. Raises ModbusIOException when its byte count is not right."""
        if not data or len(data) != 1 + data[0] or data[0] % self.bytes_each:
            raise ModbusIOException("the byte count is not the count of the bytes")
        super().decode(data)


class WholeCoils(WholeAnswer, ReadCoilsResponse):
    """Coils."""


class WholeDiscreteInputs(WholeAnswer, ReadDiscreteInputsResponse):
    """Discrete inputs."""


class WholeHoldingRegisters(WholeAnswer, ReadHoldingRegistersResponse):
    """Holding registers."""

    bytes_each = 2


class WholeInputRegisters(WholeAnswer, ReadInputRegistersResponse):
    """Input registers."""

    bytes_each = 2


WHOLE_ANSWERS = (WholeCoils, WholeDiscreteInputs, WholeHoldingRegisters, WholeInputRegisters)


class UnreachableError(ConnectionException):
    """There is no connection, and none can be made."""


class NoAnswerError(ModbusException):
    """What was heard is no answer, and we know why; its text says so."""


class DeadlineClient(ModbusTcpClient):
    """pymodbus' client, whose connecting and receiving end at a deadline and say why they failed."""

    def __init__(self, host: str, port: int) -> None:
        super().__init__(host, port=port, retries=0)
        for answer in WHOLE_ANSWERS:
            self.register(answer)
        self.deadline_s = 0.0  # of `time.monotonic`: the wire's own time, whatever the kiln's clock is
        self.patient_until_s = 0.0  # until then nobody who waits for the wire is heard
        self.is_wanted: Callable[[], bool] = lambda: False
        self._host: str | None = None

    def connect(self) -> bool:
        """Open the connection unless it is open; return True. Raises UnreachableError."""
        if self.socket is None:
            # A name is looked up until it has led to a connection once; then its number is kept, so
            # that a name server that is away does not stop a kiln that is there.
            address = (self._host or self.comm_params.host, self.comm_params.port)
            try:
                self.socket = socket.create_connection(address, timeout=self.left_s())
            except TimeoutError:
                raise UnreachableError("no connection in time") from None
            except OSError as error:
                raise UnreachableError(f"cannot connect ({error.strerror or error})") from None
            self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._host = str(self.socket.getpeername()[0])
        return True

    def recv(self, size: int | None) -> bytes:
        """Return what has come, or nothing at the deadline. Raises ModbusException, OSError."""
        if self.socket is None:
            raise UnreachableError("no connection")
        while True:
            self.socket.settimeout(min(self.left_s(), LOOK_S))
            try:
                data = self.socket.recv(size or 4096)
                break
            except TimeoutError:
                now_s = time.monotonic()
                if now_s >= self.deadline_s:
                    return b""
                if now_s >= self.patient_until_s and self.is_wanted():
                    raise NoAnswerError("gave way to an order that takes heat away") from None
        if not data:
            raise ConnectionException("closed the connection")
        return data

    def close(self) -> None:
        """Close the connection, if there is one."""
        if self.socket is not None:
            self.socket.close()
        self.socket = None

    def left_s(self) -> float:
        """Return the seconds until the deadline, never quite zero (zero would mean 'do not wait')."""
        return max(self.deadline_s - time.monotonic(), 1e-6)
