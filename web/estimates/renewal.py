"""The newest live estimate, kept: however many look, it is worked out once.

It is renewed when somebody asks and the last one is older than `EVERY_S` of wall time (a faster kiln:
sooner). Whoever asks meanwhile waits for the same one, and gets the last one after `PATIENCE_S`, with its
age. Nobody looks: nothing is worked out.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

from controller.errors import StokeholdError
from web.estimates.worker import Json, Run
from web.hub import Hub

EVERY_S = 20.0
QUICKEST_S = 4.0
"""Of a simulated kiln that runs fast, so often at most: it takes about one second."""
PATIENCE_S = 8.0

ESTIMATE = "web.estimates.live:estimate"


class Renewal:
    """Keeps the live estimate of the present firing."""

    def __init__(self, hub: Hub, record: str, run: Run, now_s: Callable[[], float] = time.monotonic) -> None:
        self._hub = hub
        self._record = record
        self._run = run
        self._now_s = now_s
        self._kept: Json | None = None
        self._kept_s = 0.0
        self._task: asyncio.Task[None] | None = None

    async def newest(self) -> Json:
        """Return the newest estimate of the present firing, with its age and when to ask again (s, wall)."""
        frame = self._hub.frame
        if frame is None:
            return self._told("the controller is lost: nothing new can be estimated", self._hub.firing)
        if frame["firing"] is None:
            return {"ok": False, "firing": None, "says": "nothing is fired", "again_in_s": EVERY_S}
        every_s = max(QUICKEST_S, EVERY_S / max(1.0, frame["speed"]))
        if self._task is None and not self._fresh(frame["firing"], every_s):
            self._task = asyncio.create_task(self._renew())
        if self._task is not None:
            await asyncio.wait([self._task], timeout=PATIENCE_S)
        return self._told("it is being worked out", frame["firing"], every_s)

    def _fresh(self, firing: int, every_s: float) -> bool:
        kept = self._kept
        return kept is not None and kept["firing"] == firing and self._now_s() - self._kept_s < every_s

    async def _renew(self) -> None:
        frame = self._hub.frame
        try:
            if frame is not None:
                asked_s = self._now_s()
                self._kept = await self._run(ESTIMATE, self._record, frame)
                self._kept_s = asked_s
        except (StokeholdError, OSError) as error:
            self._say(str(error))
        except Exception as error:  # a fault of ours, or the worker died: the page says so, and goes on
            self._say(f"the estimate failed: {error!r}")
        finally:
            self._task = None

    def _say(self, why: str) -> None:
        """Keep the last estimate, and say why there is no newer one; it grows old, and is shown so."""
        if self._kept is not None:
            self._kept = self._kept | {"says": why}

    def _told(self, otherwise: str, firing: int | None, again_in_s: float = EVERY_S) -> Json:
        kept = self._kept
        if kept is None or kept["firing"] != firing:
            return {"ok": False, "firing": firing, "says": otherwise, "again_in_s": 2.0}
        return kept | {"age_s": round(self._now_s() - self._kept_s, 1), "again_in_s": again_in_s}
