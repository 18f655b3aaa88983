"""What the service puts into the record: the firing that is open, its ticks, events and requests.

Threads: the tick's thread opens, closes and keeps; any thread may have a request noted, and read which
firing is open and since when. The journal takes rows from all of them and makes nobody wait for the disk.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from contextlib import AbstractContextManager
from importlib.metadata import version
from typing import Any

from controller.asking import source
from controller.boot import boot
from controller.catalogue import severity
from controller.clock import Clock
from controller.config import KilnConfig
from controller.firing import Event, Firing, stage_of
from controller.firing.recovery import kept
from controller.guard import Carried as GuardCarried
from controller.live import Reply
from controller.plain import to_plain
from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow
from controller.seen import Told, seen
from controller.tick import Carried, Ticked


class Scribe:
    """Writes one kiln's firings into the journal. `speed`: the clock's, kept with every firing and leg.

    `firing`: the number of the open one, None between firings. `started_utc_s`, `started_s`: when the
    latest began, by the date and by the kiln's clock.
    """

    def __init__(self, journal: Journal, clock: Clock, config: KilnConfig, speed: float) -> None:
        self._journal = journal
        self._clock = clock
        self._config = config
        self._speed = speed
        self.firing: int | None = None
        self.started_utc_s: float | None = None
        self.started_s = 0.0

    @property
    def trouble(self) -> str:
        """Why the record cannot be written right now; empty when it can."""
        return self._journal.healthy or ""

    def together(self) -> AbstractContextManager[object]:
        """What is kept meanwhile is on the disk whole or not at all."""
        return self._journal.together()

    def open_firing(self, ticked: Ticked, carried: Carried) -> None:
        """Begin a firing with its first tick. `carried`: what went into that tick."""
        schedule, config = ticked.firing.schedule, self._config
        assert schedule is not None
        self.firing = self._journal.open_firing(
            FiringRow(
                ticked.utc_s,
                ticked.now_s,
                schedule.title,
                schedule.text,
                schedule.file,
                config.name,
                config.text,
                version("stokehold"),
                self._speed,
                config.simulated,
            )
        )
        self.started_utc_s = ticked.utc_s
        self.started_s = ticked.now_s
        self._open_leg(ticked.n, carried)
        self.event("control_knows", {"by": carried.plan.known_by})

    def go_on(
        self, firing: int, started_utc_s: float, started_s: float, last_n: int, carried: Carried
    ) -> None:
        """Go on with a firing that nobody watched after tick `last_n`: a leg of its own."""
        self.firing, self.started_utc_s, self.started_s = firing, started_utc_s, started_s
        self._open_leg(last_n + 1, carried)

    def close_firing(self, ticked: Ticked) -> None:
        """End the open firing with its last tick."""
        assert self.firing is not None
        self._journal.close_firing(self.firing, ticked.firing.state.value, ticked.utc_s, ticked.now_s)
        self.firing = None

    def keep_told(self, told: Iterable[tuple[str, dict[str, Any]]], message: dict[str, Any]) -> None:
        """Keep with a firing that has just begun what was looked at before it, and its job sheet."""
        self.tell(told)
        job = str(message.get("job") or "")  # read already, before the start
        if job.strip():
            assert self.firing is not None
            self._journal.job(self.firing, source(message), job, self._clock.utc_s())

    def tick(self, ticked: Ticked, told: Told, before: GuardCarried, after: GuardCarried) -> None:
        """Keep a tick of the open firing, if there is one. `before`, `after`: what the guard carried."""
        if self.firing is not None:
            self._journal.tick(self.firing, tick_row(ticked, seen(ticked, told, before, after)))

    def events(self, events: Iterable[Event]) -> None:
        """Keep what happened to the firing in a tick."""
        for one in events:
            self.event(one.kind, one.fields)

    def tell(self, told: Iterable[tuple[str, dict[str, Any]]]) -> None:
        """Keep events that are given as kind and fields."""
        for kind, fields in told:
            self.event(kind, fields)

    def event(self, kind: str, fields: dict[str, Any]) -> None:
        """Keep one event of the catalogue, as of now."""
        self._journal.event(
            self.firing,
            kind,
            fields,
            severity(kind),
            utc_s=self._clock.utc_s(),
            mono_s=self._clock.now_s(),
        )

    def note(self, who: str, text: str) -> bool:
        """Keep what a person wrote about the open firing; return False when none is open."""
        if self.firing is None:
            return False
        self._journal.note(self.firing, who, text, self._clock.utc_s())
        return True

    def note_request(self, message: dict[str, Any], reply: Reply, n: int | None = None) -> Reply:
        """Keep a request, its answer and its tick, without the presence code and a schedule's whole text.

        Any thread: one that is refused before the tick is noted by whoever asked.
        """
        args = {k: str(v)[:200] for k, v in message.items() if k not in ("request", "by", "presence")}
        kind = str(message.get("request"))[:40]
        self._journal.request(
            self.firing,
            source(message),
            kind,
            args,
            accepted=reply["ok"],
            says=reply["says"],
            utc_s=self._clock.utc_s(),
            mono_s=self._clock.now_s(),
            n=n,
        )
        return reply

    def _open_leg(self, n: int, carried: Carried) -> None:
        """Keep what this run of the program carries into the firing."""
        assert self.firing is not None
        plain = json.dumps(to_plain(carried._replace(firing=_without_schedule(carried.firing))))
        self._journal.open_leg(self.firing, n, boot(), self._speed, plain)


def _without_schedule(firing: Firing) -> Firing:
    """The record has the schedule's text already."""
    return firing._replace(schedule=None)


def tick_row(ticked: Ticked, saw: str = "") -> TickRow:
    """Return one tick as the record keeps it. `saw`: what `seen` made of it."""
    polled, firing = ticked.polled, ticked.firing
    readings = polled.readings
    load, limit = readings.get("load"), readings.get("limit")
    faults = [
        f"{role}={sensed.fault}" for role, sensed in (readings | polled.contacts).items() if sensed.fault
    ]
    return TickRow(
        ticked.n,
        ticked.now_s,
        ticked.utc_s,
        firing.state.value,
        firing.stage if stage_of(firing) is not None else None,
        ticked.outputs.setpoint_c,
        readings["air"].value_c,
        load.value_c if load is not None else None,
        limit.value_c if limit is not None else None,
        " ".join(faults),
        " ".join(f"{role}={'?' if c.on is None else int(c.on)}" for role, c in polled.contacts.items()),
        ticked.duty,
        ticked.grant.heat,
        ticked.grant.lease_s,
        polled.main_on,
        " ".join(finding.row.id for finding in ticked.verdict.findings),
        ticked.late_s > 0.0,
        json.dumps(kept(firing)) if firing.schedule is not None else "",
        saw,
    )
