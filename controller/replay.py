"""Runs a recorded firing through the core and the guard again, and finds the first tick that differs.

The record keeps with every tick what it was told (`seen.py`), and with every run of the controller what it
carried into the firing (a leg). From those, the same tick must make the same setpoint, the same duty and
the same grant, to the bit. The output here heats nothing: it takes commands, and refuses those that the
heater refused then.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

from controller.assemble import equipment, guard_limits
from controller.config import KilnConfig, read_kiln
from controller.errors import RecordError
from controller.firing import Cue, Request, State
from controller.guard import Given, Guard, Latch, LatchFile
from controller.plain import from_plain
from controller.record.queries import Record
from controller.record.rows import Leg, RequestSeen, TickRow
from controller.record.schedules import schedule_of
from controller.schedule.model import Schedule
from controller.scribe import tick_row
from controller.seen import Failed, Seen, read_seen
from controller.tick import Carried, TickLoop

NONE_FAILED = Failed(False, False, False)
COMPARED = ("state", "stage", "setpoint_c", "duty", "heat_on", "lease_s", "reasons", "progress")


class Difference(NamedTuple):
    """The first tick that is not as it was: `what` differs, as it was kept and as it came out again."""

    n: int
    t_s: float
    what: str
    kept: object
    again: object


class Replayed(NamedTuple):
    """How many ticks were run again, in how many legs, and the first that differs, if any."""

    ticks: int
    legs: int
    difference: Difference | None


class _Latches(LatchFile):
    """Latches that were kept in the record, and go nowhere."""

    def __init__(self, latches: tuple[Latch, ...]) -> None:
        super().__init__(Path())
        self._latches = latches

    def load(self) -> tuple[Latch, ...]:
        return self._latches

    def save(self, latches: tuple[Latch, ...]) -> None:
        self._latches = latches


class _Output:
    """A heater that is not there: it refuses what was refused then."""

    def __init__(self) -> None:
        self.failed = NONE_FAILED

    def energise(self, lease_s: float) -> None:
        self._answer(self.failed.energise)

    def drop(self) -> None:
        self._answer(self.failed.last)

    def close_main(self) -> None:
        self._answer(self.failed.main)

    def open_main(self) -> None:
        self._answer(self.failed.main)

    def _answer(self, failed: bool) -> None:
        if failed:
            raise OSError("as kept")


class _Guard(Guard):
    """A guard whose past can be put back, which no guard that heats can do."""

    def remember(self, carried: Carried) -> None:
        """Put back what it remembered at the beginning of a leg."""
        self._memory = carried.guard.memory

    def put_back(self, given: Given, granted_s: float, main_closed: bool | None) -> None:
        """Put back what it had done by the beginning of a tick: moments of the real clock, measured."""
        self._given, self._granted_s, self._main_closed = given, granted_s, main_closed


class _Loop(TickLoop):
    """A tick loop that begins where a leg began."""

    def put_back(self, carried: Carried, schedule: Schedule, n: int) -> None:
        """Carry what was carried then into tick `n`."""
        began = carried.firing.state is not State.IDLE
        self.firing = carried.firing._replace(schedule=schedule if began else None)
        self._control, self._granted = carried.control, carried.granted
        self._stage_ceiling_c, self._extraction = carried.stage_ceiling_c, carried.extraction
        self._firing_since_s = carried.firing_since_s
        self._behind = carried.behind
        self._n = n - 1


def replay(record: Record, number: int) -> Replayed:
    """Run a firing again. Raises RecordError when it does not carry what that takes."""
    firing, legs = record.firing(number), record.legs(number)
    schedule = schedule_of(firing)
    if not legs or schedule is None:
        raise RecordError(
            f"firing {number}: found nothing to run it again by, expected a firing kept by this version"
        )
    config = read_kiln(firing.start.kiln_text, f"the kiln of firing {number}")
    requests: dict[int, list[RequestSeen]] = {}
    for request in record.requests(number):
        if request.n is not None:
            requests.setdefault(request.n, []).append(request)
    again = _Again(config, schedule, requests)
    begins = {leg.n: leg for leg in legs}
    ticks = 0
    for t_s, row in record.rows(number):
        if leg := begins.get(row.n):
            again.begin(leg)
        try:
            found = again.tick(row)
        except (KeyError, ValueError, TypeError) as error:
            raise RecordError(f"firing {number}, tick {row.n}: cannot be run again: {error!r}") from error
        if found is not None:
            return Replayed(ticks, len(legs), Difference(row.n, t_s, *found))
        ticks += 1
    return Replayed(ticks, len(legs), None)


class _Again:
    """One firing, run again."""

    def __init__(
        self, config: KilnConfig, schedule: Schedule, requests: dict[int, list[RequestSeen]]
    ) -> None:
        self._config = config
        self._schedule = schedule
        self._requests = requests
        self._roles = tuple(config.readers)
        self._output = _Output()
        self._now_s = 0.0
        self._n: int | None = None

    def begin(self, leg: Leg) -> None:
        """Begin a leg, with what the controller carried into it."""
        carried: Carried = from_plain(Carried, json.loads(leg.carried))
        self._output.failed = NONE_FAILED
        limits, latches = guard_limits(self._config), _Latches(carried.latches)
        self._guard = _Guard(self._output, limits, latches, lambda: self._now_s)
        self._guard.remember(carried)
        self._loop = _Loop(
            self._guard, carried.plan, equipment(self._config), carried.firing.full_rate_c_per_h
        )
        self._loop.put_back(carried, self._schedule, leg.n)
        self._n = leg.n

    def tick(self, row: TickRow) -> tuple[str, object, object] | None:
        """Run one tick again; return what differs, as kept and as it came out."""
        if row.n != self._n:
            return "tick", f"{row.n}", f"{self._n} is missing"
        self._n = row.n + 1
        self._now_s = row.mono_s
        seen = read_seen(row, self._roles)
        self._output.failed = seen.failed
        self._guard.put_back(seen.given, seen.granted_s, seen.main_closed)
        asked = self._requests.get(row.n, [])
        again = self._tick(row, seen, asked)
        for request in asked:
            if request.kind == "clear" and request.accepted:
                self._guard.clear()
        for what in COMPARED:
            kept, now = getattr(row, what), getattr(again, what)
            if kept != now:
                return what, kept, now
        return None

    def _tick(self, row: TickRow, seen: Seen, asked: list[RequestSeen]) -> TickRow:
        cues = {cue.value for cue in Cue}
        given = tuple(
            Request(Cue(request.kind), key, self._schedule if request.kind == Cue.START else None)
            for key, request in enumerate(asked)
            if request.kind in cues
        )
        told = seen.told
        ticked = self._loop.tick(
            seen.polled,
            row.mono_s,
            row.utc_s,
            told.dt_s,
            told.late_s,
            given,
            told.clock_step_s,
            told.record_trouble,
        )
        return tick_row(ticked)
