"""A controller that is not there: plays frames of an invented firing on a Unix socket, and answers requests.

It runs in a thread of its own, so that a test may be busy in a browser meanwhile. It can fall silent,
repeat one tick for ever, and die.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
from pathlib import Path
from typing import Any

from controller.live import Frame
from tests.web import invented

CODE = "4711"
EVERY_S = 0.05
WARMING = ("start", "restart", "release", "clear")
LOOKS = [
    {"id": "vent", "says": "The vent is open", "why": "steam must get out"},
    {"id": "limit", "says": "The independent limit is on", "why": "it acts when everything else fails"},
]


class FakeController:
    """Use as a context. `asked` holds every request; `scene` is the frame that is played."""

    def __init__(self, path: Path, scene: Frame | None = None) -> None:
        self.path = path
        self.scene: Frame = scene or invented.running()
        self.asked: list[dict[str, Any]] = []
        self.silent = False
        self.still = False
        self.lacking = ""
        self.listeners = 0
        self._n = 0
        self._ready = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), daemon=True)

    def __enter__(self) -> FakeController:
        self._thread.start()
        assert self._ready.wait(5)
        return self

    def __exit__(self, *_: object) -> None:
        self.die()

    def die(self) -> None:
        """End as a crashed controller does: every line is closed."""
        with contextlib.suppress(RuntimeError):  # it is dead already
            self._loop.call_soon_threadsafe(self._end.set)
        self._thread.join(5)
        self.path.unlink(missing_ok=True)

    @property
    def alive(self) -> bool:
        """Whether it still listens."""
        return self._thread.is_alive()

    def renew(self) -> None:
        """Forget what was asked, and run the invented firing."""
        self.scene, self.silent, self.still, self.lacking = invented.running(), False, False, ""
        self.asked.clear()

    def frame(self) -> Frame:
        """Return the present scene, a little later than the frame before."""
        if not self.still:
            self._n += 1
        later = {"n": self._n, "mono_s": 100_000.0 + self.scene["elapsed_s"] + self._n * EVERY_S}
        if self.scene["firing"] is not None:
            later["elapsed_s"] = self.scene["elapsed_s"] + self._n * EVERY_S
        return Frame(**{**self.scene, **later})  # type: ignore[typeddict-item]

    def answer(self, request: dict[str, Any]) -> dict[str, Any]:
        """Carry a request out, roughly as the real one does."""
        self.asked.append(request)
        kind = request.get("request")
        if kind == "prefire":
            return {"ok": True, "says": self.lacking, "items": LOOKS}
        if kind == "start" and (refused := self._unprepared(request)):
            return {"ok": False, "says": refused}
        if kind in WARMING and request.get("presence") != CODE:
            return {"ok": False, "says": "wrong code (4 tries left): use the one on the kiln's own console"}
        scenes = {
            "hold": invented.held,
            "restart": invented.running,
            "release": invented.running,
            "start": invented.running,
            "abort": invented.aborted,
            "reset": invented.idle,
        }
        if kind in scenes:
            self.scene = scenes[kind]()
        if kind == "acknowledge":
            alarms = [{**alarm, "state": "acknowledged"} for alarm in self.scene["alarms"]]
            self.scene = Frame(**{**self.scene, "alarms": alarms})  # type: ignore[typeddict-item]
        if kind == "shelve":
            shelved = {"state": "shelved", "can_shelve": False, "shelved_for_s": 60.0 * request["minutes"]}
            again = {"state": "unacknowledged", "can_shelve": True}
            alarms = [
                {**alarm, **(shelved if request["minutes"] else again)} for alarm in self.scene["alarms"]
            ]
            self.scene = Frame(**{**self.scene, "alarms": alarms})  # type: ignore[typeddict-item]
        return {"ok": True, "says": f"{kind}: done"}

    def _unprepared(self, start: dict[str, Any]) -> str:
        if self.lacking and start.get("attended") is not True:
            return self.lacking
        missing = [look["says"] for look in LOOKS if look["id"] not in start.get("ticked", [])]
        return f"before a start: {'; '.join(missing)}" if missing or not start.get("reachable") else ""

    async def _serve(self) -> None:
        self._loop, self._end = asyncio.get_running_loop(), asyncio.Event()
        self._writers: set[asyncio.StreamWriter] = set()
        server = await asyncio.start_unix_server(self._client, str(self.path))
        self._ready.set()
        playing = asyncio.create_task(self._play())
        await self._end.wait()
        playing.cancel()
        server.close()
        for writer in list(self._writers):
            writer.close()
        await asyncio.wait([playing])

    async def _play(self) -> None:
        while True:
            await asyncio.sleep(EVERY_S)
            if not self.silent:
                line = json.dumps(self.frame()).encode() + b"\n"
                for writer in list(self._writers):
                    writer.write(line)

    async def _client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while line := await reader.readline():
                message = json.loads(line)
                if message.get("subscribe"):
                    self._writers.add(writer)
                    self.listeners += 1
                elif not self.silent:
                    writer.write(json.dumps(self.answer(message)).encode() + b"\n")
        except ConnectionError:
            pass
        finally:
            self._writers.discard(writer)
            writer.close()
