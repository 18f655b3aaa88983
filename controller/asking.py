"""A request on its way to the tick: what is looked at before the tick hears of it.

Threads: whoever asks calls `Asking`, and waits for the `Asked` that comes of it. The tick's thread takes the
`Asked`, once, and gives the answer.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from controller.clock import Clock
from controller.config import KilnConfig
from controller.control import Plan as ControlPlan
from controller.errors import StokeholdError
from controller.firing import Cue
from controller.live import Reply
from controller.preparing import Preparing
from controller.presence import Presence
from controller.schedule.fits import against_kiln
from controller.schedule.index import profile
from controller.schedule.located import FileProblems
from controller.schedule.model import Schedule
from controller.schedule.reader import load_schedule, read_schedule
from controller.wired_key import WiredKey

NEEDS_PRESENCE = frozenset({"start", "restart", "release", "clear"})
COLDER = frozenset({"abort", "stop", "hold"})


@dataclass
class Asked:
    """A request on its way to the tick thread, and its answer on the way back."""

    message: dict[str, Any]
    cue: Cue | None
    schedule: Schedule | None = None
    plan: ControlPlan | None = None
    reply: Reply | None = None
    done: threading.Event = field(default_factory=threading.Event)
    whose: threading.Lock = field(default_factory=threading.Lock)

    def take(self) -> bool:
        """Take the request, for the tick that carries it out or for the one who gives it up; once only."""
        return self.whose.acquire(blocking=False)


class Asking:
    """Understands what one kiln is asked. Any thread: nothing here belongs to the tick.

    `own_profiles`: the user's own schedules. `plan`: what control is to know of the kiln now.
    """

    def __init__(
        self,
        config: KilnConfig,
        clock: Clock,
        presence: Presence,
        key: WiredKey,
        preparing: Preparing,
        own_profiles: Path | None,
        plan: Callable[[], ControlPlan | None],
    ) -> None:
        self._config = config
        self._clock = clock
        self._presence = presence
        self._key = key
        self._preparing = preparing
        self._own_profiles = own_profiles
        self._plan = plan

    def understand(self, message: dict[str, Any]) -> Asked:
        """Check a message before it goes to the tick. Raises StokeholdError with the reason."""
        kind = message.get("request")
        if not isinstance(kind, str):
            raise StokeholdError(f"request: found {kind!r}, expected a word")
        known = {cue.value for cue in Cue if cue not in (Cue.TRIP, Cue.DONE, Cue.FINISHED)}
        if kind not in known | {"clear", "acknowledge", "shelve", "note"}:
            raise StokeholdError(f"request: found {kind!r}, expected one of {', '.join(sorted(known))}")
        schedule = self._schedule(message) if kind == "start" else None
        if schedule is not None:
            self._preparing.check(schedule, message)  # before the code, which counts only once
        if kind in NEEDS_PRESENCE:
            self._prove_presence(message)
        plan = self._plan() if schedule is not None else None
        return Asked(message, Cue(kind) if kind in known else None, schedule, plan)

    def prefire(self, message: dict[str, Any]) -> Reply:
        """Return what must be looked at before a start. Raises StokeholdError where none is possible."""
        return self._preparing.asked(self._schedule(message))

    def _prove_presence(self, message: dict[str, Any]) -> None:
        """Use up the code, unless the key counts. Raises StokeholdError when nobody is known to be there."""
        code = message.get("presence")
        key_turned = self._key.counts(self._clock.now_s())
        why = self._presence.why_not(str(code) if code is not None else None, key_turned, source(message))
        if why:
            raise StokeholdError(why)

    def _schedule(self, message: dict[str, Any]) -> Schedule:
        """Read the schedule of a start, by its name or whole text, and hold it against this kiln."""
        given = str(message.get("schedule", ""))
        if "\n" in given:
            schedule = read_schedule(given, str(message.get("name", "schedule")))
        else:  # a name: over the channel no path is opened
            schedule = load_schedule(profile(given, self._own_profiles))
        config = self._config
        problems = against_kiln(
            schedule,
            config.ceiling_c,
            config.full_rate_c_per_h,
            longest_s=config.longest_firing_s,
            has_extraction="extraction" in config.contacts,
            has_load="load" in config.readers,
        )
        if problems:
            raise FileProblems(problems)
        return schedule


def source(message: dict[str, Any]) -> str:
    """Return who asks, as the record and the presence code's tries have it."""
    return str(message.get("by", "?"))[:40]
