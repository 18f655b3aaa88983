"""The line to a board of our own: one question at a time, its answer or an error, within a tick's budget.

Rules:
- One lock lets one question at a time onto the line. Taking heat away does not wait for a question's
  time to run out: that question is given up, and the line is free.
- A question that is not answered in `timeout_s` is asked again, with a new sequence number, while that
  fits into `budget_s`. After that the line is left alone for half a tick, as other wires are; taking
  heat away is tried all the same, once in that time.
- An answer counts only when it is undamaged and its sequence number and kind are those of the question.
"""

from __future__ import annotations

import termios
import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import TypeVar

import serial

from controller.errors import WireError
from controller.wire import board_line as line
from controller.wire.board_line import Answer, Flag, Identity, Refusal, Status

LOOK_S = 0.005  # how often a wait for an answer looks up: whether to give way, whether time has run out

A = TypeVar("A", Status, Identity)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardConfig:
    """A board on a port. An exchange takes 30 ms at 38400 baud; a USB adapter may add 20 to that."""

    name: str
    port: str
    baud: int = 38400
    timeout_s: float = 0.15
    budget_s: float = 0.4


class Board:
    """The line to one board. Every call may raise WireError and is safe from any thread.

    `now` is the controller's clock (s), `quiet_s` half of its tick. `watched`: the board has been seen
    since its last restart, so a restart from now on happened under our eyes.
    """

    def __init__(self, config: BoardConfig, now: Callable[[], float], quiet_s: float) -> None:
        self.config = config
        self.identity: Identity | None = None
        self.watched = False
        self.damaged = 0
        self._now = now
        self._quiet_s = quiet_s
        self._quiet: dict[bool, tuple[float, str]] = {}
        self._lock = Lock()
        self._urgent: list[None] = []  # one for each order that is waiting to take heat away
        self._port: serial.Serial | None = None
        self._sequence = 0

    def status(self) -> Status:
        """Ask for everything; change nothing."""
        return self._ask(line.read, Status)

    def order(self, lease_ms: int, main_contactor: bool, *, urgent: bool = False) -> Status:
        """Give a lease from now (0: off now) and move the main contactor; return what came of it."""
        return self._ask(lambda n: line.heat(n, lease_ms, main_contactor), Status, urgent)

    def acknowledge(self) -> Status:
        """Tell the board that its restart is known."""
        return self._ask(line.acknowledge, Status)

    def close(self) -> None:
        """Let go of the port. A later call opens it again."""
        with self._lock:
            self._close()

    def error(self, what: str) -> WireError:
        """Return an error of one line about this board."""
        return WireError(f"bus {self.config.name} (board on {self.config.port}): {what}")

    def _ask(self, build: Callable[[int], bytes], kind: type[A], urgent: bool = False) -> A:
        if not urgent:
            with self._lock:
                return self._asked(build, kind, urgent)
        self._urgent.append(None)
        try:
            with self._lock:
                return self._asked(build, kind, urgent)
        finally:
            self._urgent.pop()

    def _asked(self, build: Callable[[int], bytes], kind: type[A], urgent: bool) -> A:
        until_s, why = self._quiet.get(urgent, (0.0, ""))
        if why and self._now() < until_s:
            raise WireError(why)
        end_s = time.monotonic() + self.config.budget_s
        try:
            if self._port is None:
                self._open(end_s, urgent)
            answer = self._tried(build, kind, end_s, urgent)
        except (OSError, termios.error) as error:  # pyserial's own errors are OSErrors
            self._close()
            raise self._lost(self.error(f"the port failed: {error}"), urgent) from None
        except WireError as error:
            raise self._lost(error, urgent) from None
        self._quiet.clear()
        if isinstance(answer, Status) and Flag.RESTARTED not in answer.flags:
            self.watched = True
        return answer

    def _lost(self, error: WireError, urgent: bool) -> WireError:
        """Remember a failure for half a tick, or until something succeeds."""
        self._quiet.update(dict.fromkeys({False, urgent}, (self._now() + self._quiet_s, str(error))))
        return error

    def _open(self, end_s: float, urgent: bool) -> None:
        """Open the port and make sure that our protocol is spoken behind it."""
        config = self.config
        self._port = serial.Serial(
            config.port, config.baud, timeout=LOOK_S, write_timeout=config.timeout_s, exclusive=True
        )
        try:
            self.identity = self._tried(line.identify, Identity, end_s, urgent)
            if self.identity.version != line.VERSION:
                spoken = f"it speaks version {self.identity.version} of the line protocol"
                raise self.error(f"{spoken}, expected {line.VERSION}")
        except WireError:
            self._close()
            raise

    def _tried(self, build: Callable[[int], bytes], kind: type[A], end_s: float, urgent: bool) -> A:
        """Return the answer to one question, asked as often as time allows."""
        timeout_s = self.config.timeout_s
        while True:
            self._sequence = (self._sequence + 1) & 0xFF
            answer = self._once(build(self._sequence), time.monotonic() + timeout_s, urgent)
            if isinstance(answer, kind):
                return answer
            if isinstance(answer, Refusal):
                raise self.error(f"refused: {answer.says}")
            if self._urgent and not urgent:
                raise self.error("gave way to an order that takes heat away")
            if time.monotonic() + timeout_s > end_s:
                raise self.error(f"no answer within {timeout_s * 1000:.0f} ms")

    def _once(self, question: bytes, until_s: float, urgent: bool) -> Answer | None:
        """Send a question and return the answer that carries its sequence number, None if none came."""
        port = self._port
        assert port is not None
        port.reset_input_buffer()
        port.write(question)
        lines = line.Lines()
        while time.monotonic() < until_s and (urgent or not self._urgent):
            for text in lines.feed(port.read(port.in_waiting or 1)):
                try:
                    answer = line.parse(text)
                except line.LineError:
                    self.damaged += 1
                    continue
                if answer.sequence == self._sequence:
                    return answer
        return None

    def _close(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None
