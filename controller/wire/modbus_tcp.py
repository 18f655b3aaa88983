"""Modbus over TCP: pymodbus' client, kept to one timeout a question.

An answer's transaction must be the question's: pymodbus skips others, and any failure but a plain refusal
closes the connection, so that a late answer dies with its socket. The next question opens a new one. What
else is checked, and how often a question is asked, is in `modbus.py`.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from pymodbus.pdu import ModbusPDU

from controller.config.buses import TcpBusConfig
from controller.wire.client import DeadlineClient
from controller.wire.modbus import ModbusBus

# An answer that takes longer than most instruments need (common practice, no source) is given up when
# someone waits to take heat away: the connection is closed, and theirs is open a moment later.
PATIENT_S = 0.05


class TcpLine:
    """One connection, opened by the first question."""

    def __init__(self, host: str, port: int) -> None:
        self._client = DeadlineClient(host, port)

    def exchange(self, request: ModbusPDU, timeout_s: float, is_wanted: Callable[[], bool]) -> ModbusPDU:
        """Return what answers a question, all within `timeout_s`. Raises ModbusException, OSError."""
        now_s, client = time.monotonic(), self._client
        client.deadline_s, client.patient_until_s = now_s + timeout_s, now_s + PATIENT_S
        client.is_wanted = is_wanted
        return client.execute(False, request)

    def give_up(self) -> None:
        """Close the connection: a late answer dies with it."""
        self._client.close()

    def close(self) -> None:
        """Close the connection."""
        self._client.close()


def modbus_tcp(config: TcpBusConfig, now: Callable[[], float], quiet_s: float) -> ModbusBus:
    """Return a `Bus` over Modbus TCP. `now` is the controller's clock (s); `quiet_s` is half of its tick."""
    where = f"bus {config.name} ({config.host}:{config.port})"
    line = TcpLine(config.host, config.port)
    return ModbusBus(line, where, config.timeout_s, config.retries, now, quiet_s)
