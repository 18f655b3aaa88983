"""Once a second: what the hub heard, through `decide`, to the sender. Beside the page, never in its way.

The settings are read again when their file changes; while it has a mistake, the ones before hold, and the
page says so. Reading, keeping and sending are done in threads.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import anyio.to_thread

from controller.errors import StokeholdError
from controller.home import RECORD_NAME
from web.alerts import kept
from web.alerts.decide import Matter, State, decide
from web.alerts.facts import Now, Seen
from web.alerts.heartbeat import Heartbeat
from web.alerts.job import melting_s
from web.alerts.ready import Ready, ready
from web.alerts.sender import How, Sender, Trouble
from web.alerts.settings import Settings
from web.alerts.settings_file import FILE_NAME, load_alerts
from web.hub import Hub

EVERY_S = 1.0
# How often the settings' file is looked at.
LOOK_S = 5.0
# How often the job sheet is read: somebody may write a newer one while the kiln burns out.
JOB_S = 60.0
# How often the forecast is asked, once the pour is within so many seconds: it costs a second of a worker.
ESTIMATE_S = 120.0
ESTIMATE_WITHIN_S = 4 * 3600.0
NO_FILE = "nobody is told: there is no alerts.toml in the home folder"
NOBODY = "nobody is told: alerts.toml names no [[to]]"

Estimate = Callable[[], Awaitable[dict[str, Any]]]

log = logging.getLogger("stokehold.web")


def time_now() -> Now:
    """Return the time, with this computer's own offset to UTC."""
    utc_s = time.time()
    return Now(time.monotonic(), utc_s, float(time.localtime(utc_s).tm_gmtoff))


@dataclass(frozen=True, slots=True)
class Read:
    """The settings as they were last read; `stamp` tells one version of the file from another."""

    settings: Settings = field(default_factory=Settings)
    says: str = NO_FILE
    fault: str = ""
    stamp: tuple[int, int] | None = None


class Watch:
    """Watches one kiln by its hub. `home`: the folder with alerts.toml. `estimate`: asks the forecast."""

    def __init__(
        self, hub: Hub, home: Path, how: How | None = None, estimate: Estimate | None = None
    ) -> None:
        self.state = State()
        self.read = Read()
        self.sender = Sender(how)
        self.heartbeat: Heartbeat | None = None
        self._hub = hub
        self._home = home
        self._acknowledged: frozenset[str] = frozenset()
        self._kept = ""
        self._broken = ""
        self._melting_s: float | None = None
        self._ready: Ready | None = None
        self._estimate = estimate
        self._job_read: tuple[int | None, float] = (None, 0.0)

    async def run(self) -> None:
        """Watch until cancelled. A fault of this never ends the page."""
        self.state = kept.read(self._home / kept.FILE_NAME, time_now())
        looked_s = float("-inf")
        estimating = asyncio.create_task(self._ask_forecast())
        try:
            while True:
                if time.monotonic() - looked_s >= LOOK_S:
                    looked_s = time.monotonic()
                    await anyio.to_thread.run_sync(self.look)
                    await anyio.to_thread.run_sync(self.look_at_job)
                await self._step_safely()
                await asyncio.sleep(EVERY_S)
        finally:
            estimating.cancel()
            self.sender.end()
            if self.heartbeat is not None:
                self.heartbeat.end()

    async def _ask_forecast(self) -> None:
        """Keep the newest estimate of the pour, while one comes near; without one the plan is told."""
        while self._estimate is not None:
            if self._pour_is_near():
                try:
                    self._ready = ready(await self._estimate())
                except Exception as error:
                    log.warning("alerts: no forecast: %s", type(error).__name__)
                    self._ready = None
            await asyncio.sleep(ESTIMATE_S)

    def _pour_is_near(self) -> bool:
        frame = self._hub.frame
        if frame is None or frame["state"] != "running" or frame["person"] is not None:
            return False
        wanted = any("pour" in one.kinds for one in self.read.settings.to)
        pour = frame["pour"]
        in_s = pour["in_s"] if pour is not None else None
        return wanted and in_s is not None and in_s / frame["speed"] < ESTIMATE_WITHIN_S

    async def _step_safely(self) -> None:
        try:
            self.step(time_now())
            await self._keep()
            self._broken = ""
        except Exception as error:
            broken = f"alerts have a fault of their own: {type(error).__name__}"
            if broken != self._broken:
                log.error("%s", broken)
                log.debug("details", exc_info=True)
            self._broken = broken

    def look(self) -> None:
        """Read the settings again if their file has changed."""
        path = self._home / FILE_NAME
        try:
            found = path.stat()
            stamp = (found.st_mtime_ns, found.st_size)
        except OSError:
            self._use(Read())
            return
        if stamp == self.read.stamp:
            return
        try:
            settings = load_alerts(path)
            self._use(Read(settings, "" if settings.to else NOBODY, "", stamp))
        except StokeholdError as error:
            fault = str(error).partition("\n")[0]
            log.warning("alerts: %s", fault)
            self.read = Read(self.read.settings, self.read.says, fault, stamp)

    def look_at_job(self) -> None:
        """Read again how long the metal takes: for a new firing at once, else now and then."""
        firing, read_s = self._hub.firing, time.monotonic()
        known, before_s = self._job_read
        if firing is None or (firing == known and read_s - before_s < JOB_S) or not self.read.settings.to:
            return
        self._job_read = (firing, read_s)
        self._melting_s = melting_s(self._home / RECORD_NAME, firing)

    def _use(self, read: Read) -> None:
        changed = read.settings != self.read.settings
        self.read = read
        if not changed:
            return
        self.sender.use(read.settings)
        if self.heartbeat is not None:
            self.heartbeat.end()
        url = read.settings.heartbeat_url
        self.heartbeat = Heartbeat(url, read.settings.heartbeat_every_s, self.is_well) if url else None

    def step(self, now: Now) -> None:
        """Decide once, and hand over what is to be sent."""
        frame, failing = self._hub.frame, self.sender.failing()
        silent_s = self._hub.silent_s()
        seen = Seen(frame, silent_s, self._melting_s, failing, self._acknowledged, self._ready)
        self._acknowledged = frozenset()
        self.state, messages = decide(self.read.settings, self.state, seen, now)
        self.sender.keep(frozenset(one.key for one in self.state.matters if not one.acknowledged))
        self.sender.put(messages)

    async def _keep(self) -> None:
        """Write the state when something of weight in it has changed. A full disk stops no message."""
        if not self.read.settings.to:
            return
        weighty = repr([(m.key, m.acknowledged, m.told) for m in self.state.matters]) + repr(
            (self.state.sent, self.state.last.firing, self.state.last.matters)
        )
        if weighty == self._kept:
            return
        self._kept = weighty
        text = kept.to_text(self.state, time_now())
        try:
            await anyio.to_thread.run_sync(kept.write, self._home / kept.FILE_NAME, text)
        except OSError as error:
            log.warning("alerts: what was told cannot be kept: %s", error.strerror)

    def acknowledge(self, keys: frozenset[str] | None) -> list[str]:
        """A person on the page has seen these, or all that stands; return what stands of them, in words."""
        seen = [matter for matter in self.state.matters if keys is None or matter.key in keys]
        self._acknowledged |= frozenset(matter.key for matter in seen) if keys is None else keys
        return [matter.words.title for matter in seen if not matter.acknowledged]

    def is_well(self) -> bool:
        """Return whether the controller answers and no message waits that cannot be sent."""
        return not self.what_is_wrong()

    def what_is_wrong(self) -> str:
        """Return in a line why an outside monitor should worry; empty when it need not."""
        if self._hub.silent_s() > self.read.settings.lost_after_s:
            return "the controller is lost"
        if self.read.fault:
            return "the settings of alerts have a mistake"
        if self._broken:
            return self._broken
        return "alerts cannot be sent" if any(one.waiting for one in self.sender.troubles()) else ""

    def view(self, now: Now) -> dict[str, Any]:
        """Return what the page may know: no address."""
        troubles = self.sender.troubles()
        if self.heartbeat is not None and self.heartbeat.trouble is not None:
            troubles.append(self.heartbeat.trouble)
        return {
            "on": bool(self.read.settings.to),
            "says": self.read.says,
            "fault": self.read.fault or self._broken,
            "standing": [_matter(matter, now) for matter in self.state.matters if matter.tell],
            "troubles": [_trouble(trouble) for trouble in troubles],
        }


def _matter(matter: Matter, now: Now) -> dict[str, Any]:
    return {
        "key": matter.key,
        "kind": matter.kind,
        "title": matter.words.title,
        "since_utc_s": round(matter.since_utc_s, 1),
        "acknowledged": matter.acknowledged,
        "told": [
            {"to": told.to, "times": told.times, "last_utc_s": round(now.utc_s - now.mono_s + told.last_s, 1)}
            for told in matter.told
        ],
    }


def _trouble(trouble: Trouble) -> dict[str, Any]:
    return {"to": trouble.to, "since_utc_s": round(trouble.since_utc_s, 1), "says": trouble.says}
