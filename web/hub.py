"""One subscription to the controller, shared by every viewer.

    controller ── frames ──► Hub ── newest event ──► viewer, viewer, viewer

The hub keeps only the newest event, made into bytes once. A viewer that is slower than the controller
therefore skips frames; it never gets an old one, and it never makes anyone wait. While the controller
is lost the hub says so again every second: a viewer can tell 'the controller is lost' (told so) from
'the network is lost' (told nothing).

A controller whose ticks stand still may go on sending the same frame. Only a frame with a new tick counts.

An event's id is the hub's own monotonic time in milliseconds. The page uses it to see that what it
gets is late, without trusting anybody's wall clock.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncGenerator, AsyncIterator, Callable
from contextlib import aclosing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from sse_starlette import ServerSentEvent

from controller import channel_client
from controller.errors import ChannelError
from controller.live import Frame

# Said again this often while lost: well inside the three seconds after which the page gives us up.
REPEAT_S = 1.0
# Ticks that do not come for this many of their periods (two seconds at the least) stand still: one may
# be late, two may not.
STILL_TICKS = 2.5
STILL_S = 2.0
# Between two attempts to reach the controller again.
RETRY_S = 0.5

FrameSource = Callable[[Path], AsyncGenerator[Frame, None]]


class Hub:
    """Holds the newest event.

    `frame`: the last frame; None until one came, and while the controller is lost.
    `firing`: the number of the present firing, or of the last one that this hub saw.
    """

    def __init__(self, path: Path, source: FrameSource = channel_client.frames) -> None:
        self.frame: Frame | None = None
        self.firing: int | None = None
        self.viewers = 0
        self._path = path
        self._source = source
        self._event = b""
        self._count = 0
        self._changed = asyncio.Condition()
        self._heard_s = time.monotonic()  # when the last new tick came; at first, when we began to listen
        self._tick = -1
        self._ever = False
        self._reason = ""  # why the controller is lost; empty until we have tried once

    def silent_s(self) -> float:
        """Return the seconds since the last new tick came."""
        return time.monotonic() - self._heard_s

    async def run(self) -> None:
        """Listen for ever; reconnect for ever."""
        async with asyncio.TaskGroup() as tasks:
            tasks.create_task(self._remind())
            while True:
                self._reason = await self._listen()
                self.frame = None
                await self._tell_lost()
                await asyncio.sleep(RETRY_S)

    async def _remind(self) -> None:
        """Say again and again that the controller is lost, for as long as it is."""
        while True:
            await asyncio.sleep(REPEAT_S)
            if self.frame is None and self._reason:
                await self._tell_lost()

    async def _listen(self) -> str:
        """Publish every frame until the controller is lost; return why."""
        try:
            async with aclosing(self._source(self._path)) as stream:
                async for frame in stream:
                    await self._hear(frame)
        except ChannelError as error:
            return str(error)
        return f"the controller at {self._path} ended its frames"

    async def _hear(self, frame: Frame) -> None:
        """Publish a frame. Raises ChannelError when its tick is one that we have had for too long."""
        if frame["n"] != self._tick:
            self._tick, self._heard_s = frame["n"], time.monotonic()
        elif self.silent_s() > max(STILL_S, STILL_TICKS * frame["tick_s"] / frame["speed"]):
            raise ChannelError(f"the controller answers, but its ticks have stood still at {frame['n']}")
        self.frame, self._ever = frame, True
        self.firing = frame["firing"] or self.firing
        await self._publish("frame", frame)

    async def _tell_lost(self) -> None:
        silent_s = self.silent_s()
        since = datetime.now(UTC) - timedelta(seconds=silent_s)
        await self._publish(
            "lost",
            {
                "says": self._reason,
                "since_utc": since.isoformat(timespec="seconds"),
                "for_s": round(silent_s, 1),
                "ever": self._ever,
            },
        )

    async def _publish(self, kind: Literal["frame", "lost"], data: Any) -> None:
        text = json.dumps(data, separators=(",", ":"), ensure_ascii=False)
        now_ms = str(int(time.monotonic() * 1000))
        self._event = ServerSentEvent(text, event=kind, id=now_ms).encode()
        async with self._changed:
            self._count += 1
            self._changed.notify_all()

    async def events(self) -> AsyncIterator[bytes]:
        """Yield the newest event now, then each newer one; older ones are skipped.

        A frame from before the controller fell silent is not the newest word, whoever asks for it.
        """
        seen = self._count if self.silent_s() > STILL_S else 0
        self.viewers += 1
        try:
            while True:
                async with self._changed:
                    while self._count == seen:
                        await self._changed.wait()
                    seen, event = self._count, self._event
                yield event
        finally:
            self.viewers -= 1
