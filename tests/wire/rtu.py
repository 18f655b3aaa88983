"""The far side of a serial line: another hand's Modbus stack behind a pseudo-terminal, and noise between."""

from __future__ import annotations

import os
import threading
import time
import tty
from collections.abc import Callable
from contextlib import suppress
from types import MethodType

from umodbus.route import Map
from umodbus.server import route
from umodbus.server.serial.rtu import RTUServer

Said = bytes | float | list["Said"]


def umodbus_server(units: dict[int, dict[tuple[int, int], int]]) -> RTUServer:
    """Return umodbus' server, not bound to any port: `units[unit][function, address]` is what a read finds.

    A coil that is written (05) is read by 01, a register that is written (06, 16) by 03. A unit that is not
    there does not answer, as on a line.
    """
    server = RTUServer()
    server.route_map = Map()
    server.route = MethodType(route, server)

    def read(slave_id: int, function_code: int, address: int) -> int:
        return units[slave_id][function_code, address]

    def write(slave_id: int, function_code: int, address: int, value: int) -> None:
        units[slave_id][1 if function_code == 5 else 3, address] = value

    for unit, cells in units.items():
        places = {address for _, address in cells}
        server.route(slave_ids=[unit], function_codes=[1, 2, 3, 4], addresses=places)(read)
        server.route(slave_ids=[unit], function_codes=[5, 6, 16], addresses=places)(write)
    return server


class FarSide:
    """A pseudo-terminal with umodbus behind it. `noise(question, answer)` is what is said instead.

    Bytes are sent, a number is a pause in seconds, a list is some of these. With `echo` the line repeats what
    it hears, as two wires do. `heard` is every question that came.
    """

    def __init__(self, units: dict[int, dict[tuple[int, int], int]], *, echo: bool = False) -> None:
        self.units = units
        self.echo = echo
        self.noise: Callable[[bytes, bytes], Said] = lambda question, answer: answer
        self.heard: list[bytes] = []
        self._server = umodbus_server(units)
        self._near, self._far = os.openpty()
        tty.setraw(self._far)
        self.port = os.ttyname(self._far)
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def say(self, what: bytes) -> None:
        """Put bytes on the line unasked."""
        os.write(self._near, what)

    def close(self) -> None:
        """Unplug it."""
        with suppress(OSError):
            os.close(self._far)
            os.write(self._near, b"")
        self._thread.join(timeout=0.1)
        with suppress(OSError):
            os.close(self._near)

    def _serve(self) -> None:
        with suppress(OSError):
            while True:
                question = os.read(self._near, 512)
                self.heard.append(question)
                answer = self._server.process(question) if question[0] in self.units else b""
                self._send([question if self.echo else b"", self.noise(question, answer)])

    def _send(self, said: Said) -> None:
        if isinstance(said, list):
            for piece in said:
                self._send(piece)
        elif isinstance(said, bytes):
            os.write(self._near, said)
        else:
            time.sleep(said)  # a slow instrument is what is tested
