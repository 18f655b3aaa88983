"""The controller's side of the local channel: a Unix socket in a thread of its own (see live.py).

The tick never waits for it. A request is handed to `ask`, which may wait for the next tick, in a worker;
frames are built here, at most five a second of the wall clock, from whatever tick is the newest. A
subscriber that reads too slowly misses frames; it is never waited for.
"""

from __future__ import annotations

import asyncio
import json
import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from controller.errors import ChannelError
from controller.live import Frame, Reply

SOCKET_NAME = "channel.sock"
EVERY_S = 0.2  # five frames a second: the eye asks for no more
HEARTBEAT_S = 1.0  # a listener that hears nothing for two of these knows that the controller is lost
LONGEST_LINE = 2**20  # a schedule's text may travel in a request


class Channel:
    """Listens at `path`. `ask` answers a request; `newest` makes the present frame, or None without one."""

    def __init__(
        self, path: Path, ask: Callable[[dict[str, Any]], Reply], newest: Callable[[], Frame | None]
    ) -> None:
        self.path = path
        self._ask = ask
        self._newest = newest
        self._listeners: set[asyncio.StreamWriter] = set()
        self._loop = asyncio.new_event_loop()
        self._workers = ThreadPoolExecutor(8, thread_name_prefix="request")
        self._ready = threading.Event()
        self._failed: Exception | None = None
        self._thread = threading.Thread(target=self._run, name="channel", daemon=True)

    def start(self) -> None:
        """Open the socket. Raises ChannelError when that cannot be done."""
        self._thread.start()
        self._ready.wait(5.0)
        if self._failed is not None:
            raise ChannelError(f"the channel cannot be opened at {self.path}: {self._failed}")

    def tell(self) -> None:
        """Say that a new tick is there. Any thread; returns at once."""
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._fresh.set)

    def close(self) -> None:
        """Close the socket and end the thread."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stopped.set)
            self._thread.join(2.0)
        self._workers.shutdown(wait=False, cancel_futures=True)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._serve())
        finally:
            self._loop.close()

    async def _serve(self) -> None:
        self._fresh, self._stopped = asyncio.Event(), asyncio.Event()
        try:
            self.path.unlink(missing_ok=True)
            old_mask = os.umask(0o177)  # only the user who runs the controller may open it
            try:
                server = await asyncio.start_unix_server(self._client, str(self.path), limit=LONGEST_LINE)
            finally:
                os.umask(old_mask)
        except OSError as error:
            self._failed = error
            self._ready.set()
            return
        self._ready.set()
        teller = asyncio.ensure_future(self._tell_all())
        await self._stopped.wait()
        teller.cancel()
        server.close()
        for writer in list(self._listeners):
            writer.close()
        self.path.unlink(missing_ok=True)
        others = asyncio.all_tasks() - {asyncio.current_task()}
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    async def _tell_all(self) -> None:
        """Send the newest frame to every listener, whenever there is a new one, and as a heartbeat."""
        while True:
            try:
                async with asyncio.timeout(HEARTBEAT_S):
                    await self._fresh.wait()
            except TimeoutError:
                pass
            self._fresh.clear()
            if self._listeners and (frame := self._newest()) is not None:
                line = json.dumps(frame, separators=(",", ":")).encode() + b"\n"
                for writer in list(self._listeners):
                    self._send(writer, line)
            await asyncio.sleep(EVERY_S)

    def _send(self, writer: asyncio.StreamWriter, line: bytes) -> None:
        """Give one listener a frame, unless it has not taken the one before."""
        if writer.is_closing():
            self._listeners.discard(writer)
        elif writer.transport.get_write_buffer_size() < len(line):
            writer.write(line)

    async def _client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while line := await reader.readline():
                await self._message(line, writer)
        except (OSError, ValueError, asyncio.CancelledError):
            pass  # the client went away, sent a line without an end, or the controller stops
        finally:
            self._listeners.discard(writer)
            writer.close()

    async def _message(self, line: bytes, writer: asyncio.StreamWriter) -> None:
        try:
            message = json.loads(line)
        except ValueError:
            message = None
        if not isinstance(message, dict):
            reply: Reply = {"ok": False, "says": "expected one JSON object a line"}
        elif message.get("subscribe"):
            self._listeners.add(writer)
            self._fresh.set()
            return
        else:
            reply = await self._loop.run_in_executor(self._workers, self._ask, message)
        writer.write(json.dumps(reply).encode() + b"\n")
        await writer.drain()
