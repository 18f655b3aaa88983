"""A board that says what a test wants it to: a pseudo-terminal with a function behind it."""

from __future__ import annotations

import os
import threading
import time
import tty
from collections.abc import Callable
from contextlib import suppress

from controller.wire import board_line as line

WELL = "3F"


def framed(text: str) -> bytes:
    """Return an answer with its checksum."""
    return f"{text}{line.checksum(text.encode()):04X}\n".encode()


def status(
    question: bytes, *, flags: int = 0, pins: int = 0, lease_ms: int = 0, hot: str = "+002000"
) -> bytes:
    """Return a status that answers a question."""
    text = f"<{question[1:3].decode()} S {flags:02X} {WELL} {pins} 8 {lease_ms:05d} {hot} +02500 "
    return framed(text)


def identity(question: bytes, version: int = 1) -> bytes:
    """Return what a board of one sensor says of itself."""
    return framed(f"<{question[1:3].decode()} I {version:02d} 1 0950 30000 10000 000 ")


def obedient(question: bytes) -> bytes:
    """Answer as a board does that follows every order."""
    kind = question[4:5]
    if kind == b"I":
        return identity(question)
    if kind == b"H":
        lease_ms, main = int(question[6:11]), question[12:13] == b"1"
        return status(question, pins=(lease_ms > 0) + 2 * main, lease_ms=lease_ms)
    return status(question)


class Scripted:
    """`answer` is asked for each line that comes, and may be changed at any time; None is silence.

    `heard` is all lines that came, with the time of each.
    """

    def __init__(self, answer: Callable[[bytes], bytes | None] = obedient) -> None:
        self.answer = answer
        self.heard: list[tuple[float, bytes]] = []
        self._near, self._far = os.openpty()
        tty.setraw(self._far)
        self.port = os.ttyname(self._far)
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def kinds(self) -> str:
        """Return the kinds of the lines that came, in their order."""
        return "".join(text[4:5].decode() for _, text in self.heard)

    def close(self) -> None:
        """Unplug it."""
        with suppress(OSError):
            os.close(self._far)
            os.write(self._near, b"")
        self._thread.join(timeout=0.1)
        with suppress(OSError):
            os.close(self._near)

    def _serve(self) -> None:
        text = b""
        with suppress(OSError):
            while True:
                text += os.read(self._near, 4096)
                *whole, text = text.split(b"\n")
                for question in whole:
                    self.heard.append((time.monotonic(), question))
                    if answer := self.answer(question):
                        os.write(self._near, answer)
