"""The alarms that a person sees: their states after IEC 62682's thinking, and the events they make.

A finding of the guard becomes an alarm. It is unacknowledged until a person acknowledges it; when its
cause goes it is 'returned to normal', and stays listed until it is acknowledged. A latched trip stands
until it is cleared. What only warns leaves the list by itself, and is told again only after a pause, so
that a chattering cause does not fill the record.

An alarm may be shelved: it is not told for some minutes, by whom and since when is in the record, and it
ends by itself. A trip is never shelved, and ends the shelving of its row. Durations go by the monotonic
clock: a clock that is set lengthens none. Pure bookkeeping; nothing here decides about heat, and the guard
knows nothing of it: what is shelved is held back from being told, and from nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import ceil
from typing import Any

from controller.errors import UsageError
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

# An alarm is shelved for at most so long: a person looks again within the hour (common practice, no source).
LONGEST_SHELF_MIN = 60

Told = tuple[str, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Standing:
    """One alarm: `active` while its cause stands or its trip is latched.

    `acknowledged_by`, `acknowledged_utc_s`: by whom and when; empty, and None, while nobody has.
    `shelved_until_s`: the monotonic time at which its shelving ends, None when it is not shelved.
    """

    row_id: str
    found: str
    reaction: Reaction
    since_utc_s: float
    active: bool = True
    acknowledged_by: str = ""
    acknowledged_utc_s: float | None = None
    first_out: bool = False
    shelved_until_s: float | None = None

    @property
    def acknowledged(self) -> bool:
        """Whether a person has acknowledged it."""
        return self.acknowledged_utc_s is not None

    @property
    def state(self) -> str:
        """The alarm's state in words."""
        if self.shelved_until_s is not None:
            return "shelved"
        if not self.active:
            return "returned to normal"
        return "acknowledged" if self.acknowledged else "unacknowledged"


class Alarms:
    """Follows the guard's verdicts and latches; says what to put into the record."""

    def __init__(self) -> None:
        self._alarms: dict[str, Standing] = {}
        self._warned_s: dict[str, float] = {}
        self._away_s: dict[str, float] = {}
        self._quiet = True

    def follow(self, verdict: Verdict, latches: tuple[Latch, ...], now_s: float, utc_s: float) -> list[Told]:
        """Bring the alarms up to date with one tick; return the events (kind, fields) of what changed."""
        if self._quiet and not verdict.findings and not latches:
            return []
        now = {f.row.id: Standing(f.row.id, f.found, f.row.reaction, utc_s) for f in verdict.findings}
        now |= {
            latch.row_id: Standing(latch.row_id, latch.found, "trip", latch.utc_s, first_out=latch.first_out)
            for latch in latches
        }
        told: list[Told] = []
        for row_id, alarm in list(self._alarms.items()):
            if alarm.shelved_until_s is not None and now_s >= alarm.shelved_until_s:
                told += self._unshelve(row_id, "its time is over")
        for new in now.values():
            told += self._raise(new, now_s)
        for row_id in [row_id for row_id, a in self._alarms.items() if a.active]:
            if row_id in now:
                self._away_s.pop(row_id, None)
            elif now_s - self._away_s.setdefault(row_id, now_s) >= OFF_DELAY_S:
                del self._away_s[row_id]
                told += self._return(row_id)
        self._quiet = not now and not any(
            alarm.active or alarm.shelved_until_s is not None for alarm in self._alarms.values()
        )
        return told

    def acknowledge(self, row_id: str, by: str, utc_s: float) -> list[Told]:
        """Acknowledge one alarm, or "all"; return the events. What has gone already leaves the list."""
        told: list[Told] = []
        for alarm in list(self._alarms.values()):
            if row_id not in (alarm.row_id, "all") or alarm.acknowledged:
                continue
            told.append(("alarm_acknowledged", {"row": alarm.row_id, "by": by}))
            if alarm.active or alarm.shelved_until_s is not None:
                self._alarms[alarm.row_id] = replace(alarm, acknowledged_by=by, acknowledged_utc_s=utc_s)
            else:
                del self._alarms[alarm.row_id]
        return told

    def shelve(self, row_id: str, minutes: float, by: str, now_s: float) -> list[Told]:
        """Hold one alarm back for some minutes, or, with 0, no longer; return the events.

        Raises UsageError where it cannot be: a trip, an alarm that does not stand, or too long a time.
        """
        alarm = self._alarms.get(row_id)
        if alarm is None or not (alarm.active or alarm.shelved_until_s is not None):
            raise UsageError(f"shelve: found {row_id!r}, expected an alarm that stands")
        if alarm.reaction == "trip":
            raise UsageError(f"shelve: found {row_id!r}, a trip; trips are never shelved")
        if minutes == 0 and alarm.shelved_until_s is not None:
            return self._unshelve(row_id, f"by {by}")
        if not 1 <= minutes <= LONGEST_SHELF_MIN:
            raise UsageError(f"minutes: found {minutes:g}, expected 1 to {LONGEST_SHELF_MIN}")
        self._alarms[row_id] = replace(alarm, shelved_until_s=now_s + 60.0 * minutes)
        self._quiet = False
        return [("alarm_shelved", {"row": row_id, "by": by, "minutes": minutes})]

    def listed(self) -> list[Standing]:
        """Return every listed alarm: what stands and is told first, of it trips, of them the first-out."""
        alarms = list(self._alarms.values())  # a copy in one stroke: the tick's thread may be changing it
        return sorted(
            alarms,
            key=lambda a: (a.shelved_until_s is not None, not a.active, _ORDER[a.reaction], not a.first_out),
        )

    def _raise(self, new: Standing, now_s: float) -> list[Told]:
        """Take in what stands; tell it when it is new, or has become a trip."""
        known = self._alarms.get(new.row_id)
        if known is not None and known.shelved_until_s is not None:
            return self._held_back(known, new, now_s)
        if known is not None and known.active and _ORDER[known.reaction] <= _ORDER[new.reaction]:
            return []
        self._alarms[new.row_id] = new
        fields: dict[str, Any] = {"row": new.row_id, "says": says(new.row_id), "found": new.found}
        if new.reaction == "trip":
            # A row that trips at once is told by its latch, which knows whether it was first.
            return [("trip", fields | {"first_out": new.first_out})]
        if new.reaction != "warn":
            return [("alarm", fields | {"reaction": _WORDS[new.reaction]})]
        if now_s - self._warned_s.get(new.row_id, float("-inf")) < WARN_AGAIN_S:
            return []
        self._warned_s[new.row_id] = now_s
        return [("alarm_warning", fields | {"reaction": ""})]

    def _held_back(self, known: Standing, new: Standing, now_s: float) -> list[Told]:
        """Take in what stands and is shelved: told only if it has become a trip."""
        if new.reaction == "trip":
            return self._unshelve(known.row_id, "it has tripped") + self._raise(new, now_s)
        if not known.active:
            self._alarms[known.row_id] = replace(known, active=True, found=new.found)
        return []

    def _unshelve(self, row_id: str, why: str) -> list[Told]:
        """End a shelving: what still stands is told anew by the next tick, what has gone is gone."""
        del self._alarms[row_id]
        self._away_s.pop(row_id, None)
        self._warned_s.pop(row_id, None)
        return [("alarm_unshelved", {"row": row_id, "why": why})]

    def _return(self, row_id: str) -> list[Told]:
        """Note that a cause has gone."""
        alarm = self._alarms[row_id]
        if alarm.shelved_until_s is not None:
            self._alarms[row_id] = replace(alarm, active=False)
            return []
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


def frames(alarms: Alarms, iso: Callable[[float], str], now_s: float) -> list[Alarm]:
    """Return the alarms as the screens get them. `iso` turns UTC seconds into an ISO 8601 text."""
    return [_frame(alarm, iso, now_s) for alarm in alarms.listed()]


def _frame(alarm: Standing, iso: Callable[[float], str], now_s: float) -> Alarm:
    shown: Alarm = {
        "id": alarm.row_id,
        "says": f"{says(alarm.row_id)} ({alarm.found})",
        "do": _ROW[alarm.row_id].do if alarm.row_id in _ROW else "Look at the kiln, then clear the trip.",
        "reaction": alarm.reaction,
        "state": alarm.state,
        "since_utc": iso(alarm.since_utc_s),
        "first_out": alarm.first_out,
        "can_shelve": alarm.active and alarm.reaction != "trip" and alarm.shelved_until_s is None,
    }
    if alarm.acknowledged_utc_s is not None:
        shown["acknowledged_by"] = alarm.acknowledged_by
        shown["acknowledged_utc"] = iso(alarm.acknowledged_utc_s)
    if alarm.shelved_until_s is not None:
        shown["shelved_for_s"] = 60.0 * max(0, ceil((alarm.shelved_until_s - now_s) / 60.0))
    return shown
