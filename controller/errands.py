"""What is asked of the controller and is not the firing's own affair: trips, alarms, notes.

Threads: the tick's only, once the tick itself is done.
"""

from __future__ import annotations

from typing import Any

from controller.alarms import Alarms
from controller.asking import source
from controller.clock import Clock
from controller.errors import StokeholdError
from controller.guard import Guard
from controller.live import Reply
from controller.scribe import Scribe


class Errands:
    """Carries out what is asked beside the firing. Of the guard it only ever asks to clear its trips."""

    def __init__(self, guard: Guard, alarms: Alarms, scribe: Scribe, clock: Clock) -> None:
        self._guard = guard
        self._alarms = alarms
        self._scribe = scribe
        self._clock = clock

    def carry_out(self, message: dict[str, Any]) -> Reply:
        """Do what a message asks and return the answer; whatever else it may be is a note."""
        by = source(message)
        kind = message.get("request")
        if kind == "clear":
            done, says = self._guard.clear()
            if done:
                self._scribe.event("trips_cleared", {"by": by})
            return {"ok": done, "says": says}
        if kind == "acknowledge":
            told = self._alarms.acknowledge(str(message.get("alarm", "all")), by, self._clock.utc_s())
            self._scribe.tell(told)
            return {"ok": bool(told), "says": "acknowledged" if told else "there is nothing to acknowledge"}
        if kind == "shelve":
            return self._shelve(message, by)
        text = str(message.get("text", "")).strip()[:4000]
        if not text or not self._scribe.note(by, text):
            return {"ok": False, "says": "a note needs a text and a firing that runs"}
        return {"ok": True, "says": "noted"}

    def _shelve(self, message: dict[str, Any], by: str) -> Reply:
        """Hold an alarm back for a while. The guard goes on as before: only the telling is silenced."""
        minutes = message.get("minutes")
        if not isinstance(minutes, int) or isinstance(minutes, bool):
            return {"ok": False, "says": "minutes: expected a whole number"}
        try:
            told = self._alarms.shelve(str(message.get("alarm", "")), minutes, by, self._clock.now_s())
        except StokeholdError as error:
            return {"ok": False, "says": str(error)}
        self._scribe.tell(told)
        return {"ok": True, "says": f"shelved for {minutes} min" if minutes else "no longer shelved"}
