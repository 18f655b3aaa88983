"""Something between the controller and the kiln that spoils what the reader answers: late, garbled, misnamed.

Modbus TCP: seven bytes of header (transaction, protocol, length, unit), then function and data. Only the
answers of one unit are touched; questions, and all other answers, pass as they are.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from collections.abc import Callable

READER = 1
Spoil = Callable[[bytes], bytes]


def late(answer: bytes) -> bytes:
    """After the controller has given up waiting, 300 ms."""
    time.sleep(0.4)
    return answer


def garbled(answer: bytes) -> bytes:
    """Every byte behind the header is another."""
    return answer[:7] + bytes(byte ^ 0xA5 for byte in answer[7:])


def misnamed(answer: bytes) -> bytes:
    """In the name of another unit."""
    return answer[:6] + bytes([READER + 6]) + answer[7:]


def miscounted(answer: bytes) -> bytes:
    """One register fewer than was asked for, in a frame that is sound in itself."""
    data = answer[9:-2]
    return answer[:4] + struct.pack(">HBBB", len(data) + 3, answer[6], answer[7], len(data)) + data


SPOILT: dict[str, Spoil] = {
    "late": late,
    "garbled": garbled,
    "from another unit": misnamed,
    "with another count": miscounted,
}


class Proxy:
    """Listens on a port of its own and passes everything on to the kiln's. `spoil` None: unspoilt."""

    def __init__(self, kiln_port: int) -> None:
        self.spoil: Spoil | None = None
        self.spoilt = 0
        self._kiln_port = kiln_port
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._server.getsockname()[1]
        self._sockets: list[socket.socket] = []
        self._passing: list[threading.Thread] = []
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Let go of every connection, and take no more."""
        with contextlib.suppress(OSError):
            self._server.shutdown(socket.SHUT_RDWR)  # wakes the thread that waits for connections
        self._thread.join(5.0)
        self._server.close()
        for one in self._sockets:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        for thread in self._passing:
            thread.join(5.0)
        for one in self._sockets:
            one.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                client, _ = self._server.accept()
                self._sockets.append(client)
                kiln = socket.create_connection(("127.0.0.1", self._kiln_port))
                self._sockets.append(kiln)
                for way in ((client, kiln, False), (kiln, client, True)):
                    self._passing.append(threading.Thread(target=self._pass, args=way, daemon=True))
                    self._passing[-1].start()

    def _pass(self, source: socket.socket, sink: socket.socket, answers: bool) -> None:
        """Pass frames on, one by one, until either side goes away."""
        with contextlib.suppress(OSError):
            while header := self._exactly(source, 7):
                frame = header + self._exactly(source, struct.unpack(">H", header[4:6])[0] - 1)
                spoil = self.spoil
                if answers and spoil is not None and header[6] == READER:
                    self.spoilt += 1
                    frame = spoil(frame)
                sink.sendall(frame)
        for one in (source, sink):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    @staticmethod
    def _exactly(source: socket.socket, count: int) -> bytes:
        got = b""
        while len(got) < count:
            part = source.recv(count - len(got))
            if not part:
                return b""
            got += part
        return got
