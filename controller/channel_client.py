"""The client's side of the local channel: ask for something, or listen to frames (see live.py).

House rules: one JSON object a line, over a Unix socket. Nothing here waits without an end. Whatever
goes wrong is one ChannelError in one line: that the controller is not there, does not answer in time,
or says what cannot be understood.
"""

from __future__ import annotations

import asyncio
import json
import socket
import time
from collections.abc import AsyncGenerator
from pathlib import Path
from typing import Any, cast

from controller.errors import ChannelError
from controller.live import Frame, Reply, Request

# A frame is a few kB; its plan may be longer. A line beyond this is not a frame.
LINE_LIMIT_BYTES = 4 * 2**20
# A controller sends at least one frame a second of the wall clock: two seconds without one is silence.
SILENCE_S = 2.0


class ChannelClient:
    """Asks the controller that listens at `path`. Holds no connection between two requests."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def ask(self, request: Request, timeout_s: float = 3.0) -> Reply:
        """Send one request and return the reply, within `timeout_s` in all.

        Raises ChannelError when the controller cannot be reached, is silent or is not understood.
        A request that it refused is a Reply with `ok` false, no error.
        """
        end_s = time.monotonic() + timeout_s
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
                line.settimeout(timeout_s)
                line.connect(str(self.path))
                line.sendall(_line(dict(request)))
                answer = _read_line(line, end_s)
        except TimeoutError as error:
            raise ChannelError(f"the controller at {self.path} did not answer in {timeout_s:g} s") from error
        except OSError as error:
            raise _absent(self.path, error) from error
        return _reply(answer, self.path)


async def frames(path: Path, silence_s: float = SILENCE_S) -> AsyncGenerator[Frame, None]:
    """Yield every frame that the controller at `path` sends, until it is lost.

    Raises ChannelError when there is no controller, when it closes the line, when it is silent for
    `silence_s` seconds, or when it sends what is no frame.
    """
    try:
        async with asyncio.timeout(silence_s):
            lines, writer = await asyncio.open_unix_connection(str(path), limit=LINE_LIMIT_BYTES)
    except (OSError, TimeoutError) as error:
        raise _absent(path, error) from error
    try:
        writer.write(_line({"subscribe": True}))
        while True:
            yield _frame(await _next_line(lines, path, silence_s), path)
    finally:
        writer.close()


async def _next_line(lines: asyncio.StreamReader, path: Path, silence_s: float) -> bytes:
    try:
        async with asyncio.timeout(silence_s):
            line = await lines.readline()
    except TimeoutError as error:
        raise ChannelError(f"the controller at {path} has been silent for {silence_s:g} s") from error
    except (OSError, ValueError) as error:  # ValueError: the line is longer than any frame
        raise ChannelError(f"the line to the controller at {path} broke: {error}") from error
    if not line.endswith(b"\n"):
        raise ChannelError(f"the controller at {path} closed the line")
    return line


def _read_line(line: socket.socket, end_s: float) -> bytes:
    """Return bytes up to a line's end, or what came before the other side closed."""
    got = bytearray()
    while not got.endswith(b"\n") and len(got) < LINE_LIMIT_BYTES:
        left_s = end_s - time.monotonic()
        if left_s <= 0:
            raise TimeoutError
        line.settimeout(left_s)
        piece = line.recv(65536)
        if not piece:
            break
        got += piece
    return bytes(got)


def _line(message: dict[str, Any]) -> bytes:
    return json.dumps(message, separators=(",", ":")).encode() + b"\n"


def _reply(line: bytes, path: Path) -> Reply:
    message = _object(line)
    if not isinstance(message.get("ok"), bool) or not isinstance(message.get("says"), str):
        raise ChannelError(f"the controller at {path} answered {line[:80]!r}, expected ok and says")
    return cast(Reply, message)


def _frame(line: bytes, path: Path) -> Frame:
    message = _object(line)
    if not isinstance(message.get("n"), int) or not isinstance(message.get("state"), str):
        raise ChannelError(f"the controller at {path} sent {line[:80]!r}, expected a frame")
    return cast(Frame, message)


def _object(line: bytes) -> dict[str, Any]:
    """Return the line's JSON object, with None for what is not finite; an empty one for anything else."""
    try:
        message = json.loads(line, parse_constant=lambda _: None)
    except ValueError:
        return {}
    return message if isinstance(message, dict) else {}


def _absent(path: Path, error: Exception) -> ChannelError:
    if isinstance(error, FileNotFoundError | ConnectionRefusedError | TimeoutError):
        return ChannelError(f"no controller answers at {path}: start one with `stokehold run`")
    return ChannelError(f"the controller at {path} cannot be reached: {error}")
