"""The alarms that a person sees: their states after IEC 62682's thinking, and the events they make.

A finding of the guard becomes an alarm. It is unacknowledged until a person acknowledges it; when its
cause goes it is 'returned to normal', and stays listed until it is acknowledged. A latched trip stands
until it is cleared. What only warns leaves the list by itself, and is told again only after a pause, so
that a chattering cause does not fill the record. Pure bookkeeping; nothing here decides about heat.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from controller.guard import ROWS, Latch, Verdict
from controller.guard.rows import Reaction
from controller.live import Alarm

_ROW = {row.id: row for row in ROWS}
_ORDER: dict[Reaction, int] = {"trip": 0, "cut": 1, "hold": 2, "warn": 3}
_WORDS: dict[Reaction, str] = {
    "hold": "the schedule waits",
    "cut": "no heat while it lasts",
    "trip": "",
    "warn": "",
}
# A warning is told at most so often: often enough to be seen, too rarely to bury what matters.
WARN_AGAIN_S = 900.0
# A cause must be away for so long before it counts as gone (an off-delay, after IEC 62682): what flickers
# about its limit is one alarm.
OFF_DELAY_S = 10.0

Told = tuple[str, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Standing:
    """One alarm: `active` while its cause stands or its trip is latched."""

    row_id: str
    found: str
    reaction: Reaction
    since_utc_s: float
    active: bool = True
    acknowledged: bool = False
    first_out: bool = False

    @property
    def state(self) -> str:
        """The alarm's state in words."""
        if not self.active:
            return "returned to normal"
        return "acknowledged" if self.acknowledged else "unacknowledged"


class Alarms:
    """Follows the guard's verdicts and latches; says what to put into the record."""

    def __init__(self) -> None:
        self._alarms: dict[str, Standing] = {}
        self._warned_utc_s: dict[str, float] = {}
        self._away_utc_s: dict[str, float] = {}
        self._quiet = True

    def follow(self, verdict: Verdict, latches: tuple[Latch, ...], utc_s: float) -> list[Told]:
        """Bring the alarms up to date with one tick; return the events (kind, fields) of what changed."""
        if self._quiet and not verdict.findings and not latches:
            return []
        now = {f.row.id: Standing(f.row.id, f.found, f.row.reaction, utc_s) for f in verdict.findings}
        now |= {
            latch.row_id: Standing(latch.row_id, latch.found, "trip", latch.utc_s, first_out=latch.first_out)
            for latch in latches
        }
        told: list[Told] = []
        for new in now.values():
            told += self._raise(new, utc_s)
        for row_id in [row_id for row_id, a in self._alarms.items() if a.active]:
            if row_id in now:
                self._away_utc_s.pop(row_id, None)
            elif utc_s - self._away_utc_s.setdefault(row_id, utc_s) >= OFF_DELAY_S:
                del self._away_utc_s[row_id]
                told += self._return(row_id)
        self._quiet = not now and not any(alarm.active for alarm in self._alarms.values())
        return told

    def acknowledge(self, row_id: str, by: str) -> list[Told]:
        """Acknowledge one alarm, or "all"; return the events. What has gone already leaves the list."""
        told: list[Told] = []
        for alarm in list(self._alarms.values()):
            if row_id not in (alarm.row_id, "all") or alarm.acknowledged:
                continue
            told.append(("alarm_acknowledged", {"row": alarm.row_id, "by": by}))
            if alarm.active:
                self._alarms[alarm.row_id] = replace(alarm, acknowledged=True)
            else:
                del self._alarms[alarm.row_id]
        return told

    def listed(self) -> list[Standing]:
        """Return every listed alarm: active ones first, trips first among them, the first-out first."""
        alarms = list(self._alarms.values())  # a copy in one stroke: the tick's thread may be changing it
        return sorted(alarms, key=lambda a: (not a.active, _ORDER[a.reaction], not a.first_out))

    def _raise(self, new: Standing, utc_s: float) -> list[Told]:
        """Take in what stands; tell it when it is new, or has become a trip."""
        known = self._alarms.get(new.row_id)
        if known is not None and known.active and _ORDER[known.reaction] <= _ORDER[new.reaction]:
            return []
        self._alarms[new.row_id] = new
        fields: dict[str, Any] = {"row": new.row_id, "says": says(new.row_id), "found": new.found}
        if new.reaction == "trip":
            # A row that trips at once is told by its latch, which knows whether it was first.
            return [("trip", fields | {"first_out": new.first_out})]
        if new.reaction != "warn":
            return [("alarm", fields | {"reaction": _WORDS[new.reaction]})]
        if utc_s - self._warned_utc_s.get(new.row_id, float("-inf")) < WARN_AGAIN_S:
            return []
        self._warned_utc_s[new.row_id] = utc_s
        return [("alarm_warning", fields | {"reaction": ""})]

    def _return(self, row_id: str) -> list[Told]:
        """Note that a cause has gone."""
        alarm = self._alarms[row_id]
        if alarm.acknowledged or alarm.reaction == "warn":
            del self._alarms[row_id]
        else:
            self._alarms[row_id] = replace(alarm, active=False)
        if alarm.reaction == "warn":
            return []
        return [("alarm_cleared", {"row": row_id, "says": says(row_id)})]


def says(row_id: str) -> str:
    """Return what a row tells the person."""
    row = _ROW.get(row_id)
    return row.says if row is not None else "The kept trips cannot be read: taken as a trip"


def frames(alarms: Alarms, iso: Callable[[float], str]) -> list[Alarm]:
    """Return the alarms as the screens get them. `iso` turns UTC seconds into an ISO 8601 text."""
    return [
        {
            "id": alarm.row_id,
            "says": f"{says(alarm.row_id)} ({alarm.found})",
            "do": _ROW[alarm.row_id].do if alarm.row_id in _ROW else "Look at the kiln, then clear the trip.",
            "reaction": alarm.reaction,
            "state": alarm.state,
            "since_utc": iso(alarm.since_utc_s),
            "first_out": alarm.first_out,
        }
        for alarm in alarms.listed()
    ]
