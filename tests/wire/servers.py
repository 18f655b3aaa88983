"""Servers to stand at the other end of a wire: one that says what it is told to, and pymodbus' own."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress

from pymodbus.server import ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice


def reply(request: bytes, pdu: bytes, tid: int | None = None, unit: int | None = None) -> bytes:
    """Return a frame that answers a request, but for what is given."""
    number = request[:2] if tid is None else tid.to_bytes(2, "big")
    who = request[6:7] if unit is None else bytes([unit])
    return number + b"\0\0" + (len(pdu) + 1).to_bytes(2, "big") + who + pdu


def registers(request: bytes, *values: int, **given: int) -> bytes:
    """Return the answer to a read of registers."""
    data = b"".join(value.to_bytes(2, "big") for value in values)
    return reply(request, request[7:8] + bytes([len(data)]) + data, **given)


def echo(request: bytes) -> bytes:
    """Return the answer to a write of one coil or register: the request itself."""
    return request


class ScriptedServer:
    """A TCP server that answers each request with what `answer(request)` says.

    Bytes are sent, a number is a pause in seconds, None closes the connection; a list is some of these.
    It keeps count of requests and connections.
    """

    def __init__(self, answer: Callable[[bytes], object], port: int = 0) -> None:
        self.answer = answer
        self.requests: list[bytes] = []
        self.connections = 0
        self._stopping = False
        self._listener = socket.create_server(("127.0.0.1", port))
        self.port = int(self._listener.getsockname()[1])
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._stopping = True
        with suppress(OSError):  # closed before
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                connection, _ = self._listener.accept()
                self.connections += 1
                with connection, suppress(OSError):
                    self._serve(connection)

    def _serve(self, connection: socket.socket) -> None:
        connection.settimeout(0.02)
        while not self._stopping:
            try:
                request = connection.recv(1024)
            except TimeoutError:
                continue
            if not request:
                return
            self.requests.append(request)
            said = self.answer(request)
            for piece in said if isinstance(said, list) else [said]:
                if piece is None:
                    return
                if isinstance(piece, bytes):
                    connection.sendall(piece)
                else:
                    time.sleep(piece)  # a slow instrument is what is tested


class PymodbusServer:
    """pymodbus' own server with one unit, in a thread, with every register and bit from 0 to 31."""

    def __init__(self, port: int = 0) -> None:
        self.port = port
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._run()), daemon=True)
        self._thread.start()
        assert self._ready.wait(5)

    async def _run(self) -> None:
        self._loop = asyncio.get_running_loop()
        bits = [SimData(0, values=[False] * 32, datatype=DataType.BITS)]
        words = [SimData(0, count=32, values=0, datatype=DataType.REGISTERS)]
        device = SimDevice(1, simdata=(bits, bits, words, words))
        self._server = ModbusTcpServer(device, address=("127.0.0.1", self.port))
        await self._server.serve_forever(background=True)
        self.port = self._server.transport.sockets[0].getsockname()[1]
        self._ready.set()
        await self._server.serving

    def put(self, function: int, address: int, values: list[int] | list[bool]) -> None:
        """Set what a read by this function code finds."""
        done = asyncio.run_coroutine_threadsafe(
            self._server.async_setValues(1, function, address, values), self._loop
        )
        done.result(5)

    def get(self, function: int, address: int) -> int:
        """Return what a read by this function code finds."""
        done = asyncio.run_coroutine_threadsafe(
            self._server.async_getValues(1, function, address, 1), self._loop
        )
        return int(done.result(5)[0])

    def close(self) -> None:
        if not self._thread.is_alive():  # closed before
            return
        asyncio.run_coroutine_threadsafe(self._server.shutdown(), self._loop).result(5)
        self._thread.join(5)
