"""Modbus RTU over a serial port, most often RS-485 with several instruments: questions one at a time.

Rules:
- Before a question the line must have been silent for 3.5 characters or the turn-around, whichever is
  longer; what comes meanwhile is late, and is thrown away.
- One deadline holds for the whole answer: the question's and the answer's own time on the line, and the
  timeout. What counts as an answer is decided in `rtu_answer.py`.
- A port that fails is closed; the next question opens it again. It belongs to this program alone.

Which way an RS-485 adapter drives the line is its own affair: use one that turns round by itself.
"""

from __future__ import annotations

import errno
import os
import select
import termios
import time
from collections.abc import Callable

import serial
from pymodbus.pdu import ModbusPDU

from controller.config.buses import RtuBusConfig
from controller.wire.client import NoAnswerError, UnreachableError
from controller.wire.modbus import ModbusBus
from controller.wire.rtu_answer import FRAMER, Hearing, answer_bytes

PARITIES = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}

# A line that has not been silent once in this time is babbling: longer than the longest frame at 19200
# baud (256 characters, 147 ms).
BABBLE_S = 0.2


class SerialLine:
    """One serial port, opened by the first question."""

    def __init__(self, config: RtuBusConfig) -> None:
        self._config = config
        self._port: serial.Serial | None = None
        self._heard_s = 0.0  # when the last byte was on the line, of `time.monotonic`

    def exchange(self, request: ModbusPDU, timeout_s: float, is_wanted: Callable[[], bool]) -> ModbusPDU:
        """Return what answers a question. Raises ModbusException with the reason.

        Nobody who waits is let in before the time is up: an answer that came after all would be on the
        line together with their question, and spoil both.
        """
        port = self._open()
        try:
            self._settle(port)
            return self._asked(port, request, timeout_s)
        except (OSError, termios.error) as error:  # pyserial's own errors are OSErrors
            self.close()
            raise NoAnswerError(f"the port failed ({_words(error)})") from None

    def give_up(self) -> None:
        """Nothing to do: what comes late is thrown away before the next question."""

    def close(self) -> None:
        """Let go of the port."""
        if self._port is not None:
            self._port.close()
            self._port = None

    def _open(self) -> serial.Serial:
        if self._port is None:
            config = self._config
            try:
                self._port = serial.Serial(
                    config.port,
                    config.baud,
                    parity=PARITIES[config.parity],
                    stopbits=config.stop_bits,
                    timeout=0,
                    write_timeout=config.timeout_s,
                    exclusive=True,
                )
            except (OSError, termios.error, ValueError) as error:
                raise UnreachableError(f"cannot open the port ({_words(error)})") from None
            self._heard_s = time.monotonic()
        return self._port

    def _settle(self, port: serial.Serial) -> None:
        """Wait for silence, and throw away what comes before it."""
        end_s = time.monotonic() + BABBLE_S
        while self._receive(port, self._left_of_s(self._config.silence_s)):
            if time.monotonic() > end_s:
                raise NoAnswerError("the line is never silent")

    def _asked(self, port: serial.Serial, request: ModbusPDU, timeout_s: float) -> ModbusPDU:
        """Send a question and return its answer."""
        config = self._config
        question = FRAMER.buildFrame(request)
        port.write(question)
        self._heard_s = time.monotonic() + len(question) * config.character_s
        deadline_s = self._heard_s + timeout_s + answer_bytes(request) * config.character_s
        hearing = Hearing(request, question, config.echo)
        while not hearing.complete:
            before_s, left_s = self._heard_s, deadline_s - time.monotonic()
            data = self._receive(port, left_s) if left_s > 0 else b""
            if not data:
                raise NoAnswerError(hearing.shortfall(f"no answer within {timeout_s * 1000:.0f} ms"))
            hearing.feed(data, self._heard_s - before_s >= config.frame_gap_s)
        while hearing.complete and (data := self._receive(port, self._left_of_s(config.frame_gap_s))):
            hearing.feed(data)
        return hearing.answer()

    def _left_of_s(self, silence_s: float) -> float:
        """Return how much of a silence is still to come, s."""
        return self._heard_s + silence_s - time.monotonic()

    def _receive(self, port: serial.Serial, wait_s: float) -> bytes:
        """Return what comes within a time, as soon as anything does; nothing when nothing came."""
        fd = port.fileno()
        if not select.select([fd], [], [], max(wait_s, 0.0))[0]:
            return b""
        data = os.read(fd, 4096)
        if not data:
            raise OSError(errno.EIO, "it was unplugged")
        self._heard_s = time.monotonic()
        return data


def modbus_rtu(config: RtuBusConfig, now: Callable[[], float], quiet_s: float) -> ModbusBus:
    """Return a `Bus` over Modbus RTU. `now` is the controller's clock (s); `quiet_s` is half of its tick."""
    where = f"bus {config.name} ({config.port})"
    return ModbusBus(SerialLine(config), where, config.timeout_s, config.retries, now, quiet_s)


def _words(error: Exception) -> str:
    """Return why a port failed, in a few words."""
    number = getattr(error, "errno", None) or (error.args[0] if error.args else None)
    if number == errno.EAGAIN:
        return "another program has it"
    return os.strerror(number) if isinstance(number, int) else str(error)
