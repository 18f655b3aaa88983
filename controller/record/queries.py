"""Reads the record, and cannot do anything else to it. Every question opens its own short connection.

A firing's time runs by the kiln's monotonic clock. That clock starts anew when the computer does, so where
it falls back within a firing the gap is taken from the UTC times on both sides (`_Clock`).

The controller asks here too, and never for a curve: numpy comes in with the first one that is asked for.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from controller.errors import RecordError, UsageError
from controller.record import tables
from controller.record.opening import one_clear_line, open_to_read
from controller.record.rows import (
    EventSeen,
    Firing,
    FiringRow,
    FiringSummary,
    Leg,
    NoteSeen,
    RequestSeen,
    TickRow,
    Unfinished,
)

if TYPE_CHECKING:
    from controller.record.curve import Curve, Floats

Found = sa.Row[*tuple[Any, ...]]

_t = tables.tick.c

# The columns that `curve.of_rows` expects, with heat as a bare 0 or 1: numpy makes the rest of it.
CURVE = (
    _t.n,
    _t.mono_s,
    _t.utc_s,
    _t.setpoint_c,
    _t.air_c,
    _t.load_c,
    _t.limit_c,
    _t.duty,
    sa.type_coerce(_t.heat_on, sa.Integer),
    _t.stage,
)

# Where the monotonic clock of a firing's ticks falls back, with the times on both sides.
FALLS = sa.text(
    """SELECT was_mono_s, was_utc_s, mono_s, utc_s FROM (
         SELECT n, mono_s, utc_s,
                lag(mono_s) OVER (ORDER BY n) was_mono_s, lag(utc_s) OVER (ORDER BY n) was_utc_s
         FROM tick WHERE firing = :firing)
       WHERE mono_s < was_mono_s ORDER BY n"""
)


@dataclass(frozen=True, slots=True)
class _Clock:
    """Turns a row's monotonic time into seconds since the firing's first tick.

    `falls`: for each restart, the UTC time (s) after which `shift_s` (s) is added to all that follows.
    """

    first_mono_s: float
    falls: tuple[tuple[float, float], ...]

    def t_s(self, mono_s: float, utc_s: float) -> float:
        shift_s = sum(shift_s for after_utc_s, shift_s in self.falls if utc_s > after_utc_s)
        return mono_s - self.first_mono_s + shift_s

    def column(self, mono_s: Floats, utc_s: Floats) -> Floats:
        t_s = mono_s - self.first_mono_s
        for after_utc_s, shift_s in self.falls:
            t_s = t_s + (utc_s > after_utc_s) * shift_s
        return t_s


class Record:
    """The record of a kiln, read-only. Opening raises RecordError when there is none that can be read."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = open_to_read(path)

    def firings(self, limit: int = 50, before: int | None = None) -> list[FiringSummary]:
        """Return the newest firings first; `before`: only those with a smaller number."""
        wanted = sa.select(tables.firing).order_by(tables.firing.c.id.desc()).limit(limit)
        if before is not None:
            wanted = wanted.where(tables.firing.c.id < before)
        return [self._summary(_firing(row)) for row in self._all(wanted)]

    def summary(self, number: int) -> FiringSummary:
        """Return one line of the list. Raises RecordError when there is no such firing."""
        return self._summary(self.firing(number))

    def firing(self, number: int) -> Firing:
        """Return one firing. Raises RecordError when there is no such firing."""
        rows = self._all(sa.select(tables.firing).where(tables.firing.c.id == number))
        if not rows:
            raise RecordError(
                f"record {self.path}: found no firing {number}, expected {self._what_there_is()}"
            )
        return _firing(rows[0])

    def number(self, asked: str) -> int:
        """Return the number that a person means by "12" or "last". Raises UsageError, RecordError."""
        if asked != "last" and not asked.isdecimal():
            raise UsageError(f'firing: found "{asked}", expected a number or "last"')
        if asked != "last":
            return self.firing(int(asked)).id
        if (newest := self._newest()) is None:
            raise RecordError(f"record {self.path}: found no firing, expected at least one")
        return newest

    def ticks(self, number: int, after_n: int | None = None, every: int = 1) -> Curve:
        """Return a firing's ticks as columns; `after_n`: only later ones; `every`: only each so-many-th."""
        wanted = sa.select(*CURVE).where(_t.firing == number).order_by(_t.n)
        if after_n is not None:
            wanted = wanted.where(_t.n > after_n)
        if every > 1:
            wanted = wanted.where(_t.n % every == 0)
        from controller.record.curve import of_rows

        return of_rows(self._all(wanted), self._clock(number).column)

    def thinned(self, number: int, points: int = 600) -> Curve:
        """Return a firing's curve in about `points` rows, with its peaks."""
        from controller.record.curve import thin

        return thin(self.ticks(number), points)

    def rows(self, number: int) -> Iterator[tuple[float, TickRow]]:
        """Give a firing's ticks whole, one by one, each with its time since the first (s)."""
        clock = self._clock(number)
        wanted = sa.select(*(_t[name] for name in TickRow._fields)).where(_t.firing == number).order_by(_t.n)
        with one_clear_line(self.path), self._engine.connect() as connection:
            for row in connection.execution_options(yield_per=2000).execute(wanted):
                tick = TickRow(*row)
                yield clock.t_s(tick.mono_s, tick.utc_s), tick

    def events(self, number: int) -> list[EventSeen]:
        """Return a firing's events in the order in which they came."""
        clock = self._clock(number)
        return [
            EventSeen(
                r.id,
                clock.t_s(r.mono_s, r.utc_s),
                r.utc_s,
                r.mono_s,
                r.kind,
                json.loads(r.fields),
                r.severity,
            )
            for r in self._of(tables.event, number)
        ]

    def requests(self, number: int) -> list[RequestSeen]:
        """Return what people asked for during a firing."""
        clock = self._clock(number)
        return [
            RequestSeen(
                id=r.id,
                t_s=clock.t_s(r.mono_s, r.utc_s),
                utc_s=r.utc_s,
                mono_s=r.mono_s,
                by=r.by,
                kind=r.kind,
                args=json.loads(r.args),
                accepted=r.accepted,
                says=r.says,
                n=r.n,
            )
            for r in self._of(tables.request, number)
        ]

    def notes(self, number: int) -> list[NoteSeen]:
        """Return what people wrote about a firing."""
        return [NoteSeen(r.id, r.utc_s, r.by, r.text) for r in self._of(tables.note, number)]

    def legs(self, number: int) -> list[Leg]:
        """Return the stretches of a firing, one for each run of the controller."""
        wanted = sa.select(tables.leg).where(tables.leg.c.firing == number).order_by(tables.leg.c.n)
        return [Leg(r.n, r.boot, r.speed, r.carried) for r in self._all(wanted)]

    def latest_unfinished(self) -> Unfinished | None:
        """Return the newest firing, if the record has no end for it, with its last tick."""
        newest = self._newest()
        if newest is None or (firing := self.firing(newest)).end_state is not None:
            return None
        last = sa.select(*(_t[name] for name in TickRow._fields)).where(_t.firing == newest)
        rows = self._all(last.order_by(_t.n.desc()).limit(1))
        legs = self.legs(newest)
        return Unfinished(firing, TickRow(*rows[0]) if rows else None, legs[-1] if legs else None)

    def _all(self, wanted: sa.Executable, **values: object) -> list[Found]:
        with one_clear_line(self.path), self._engine.connect() as connection:
            return list(connection.execute(wanted, values))

    def _of(self, table: sa.Table, number: int) -> list[Found]:
        return self._all(sa.select(table).where(table.c.firing == number).order_by(table.c.id))

    def _newest(self) -> int | None:
        newest = self._all(sa.select(sa.func.max(tables.firing.c.id)))[0][0]
        return None if newest is None else int(newest)

    def _what_there_is(self) -> str:
        newest = self._newest()
        return (
            "a firing, of which there is none yet"
            if newest is None
            else f'a number up to {newest}, or "last"'
        )

    def _clock(self, number: int) -> _Clock:
        first = self._all(sa.select(_t.mono_s).where(_t.firing == number).order_by(_t.n).limit(1))
        first_mono_s = first[0][0] if first else self.firing(number).start.started_mono_s
        falls = [
            (was_utc_s, was_mono_s - mono_s + max(0.0, utc_s - was_utc_s))
            for was_mono_s, was_utc_s, mono_s, utc_s in self._all(FALLS, firing=number)
        ]
        return _Clock(first_mono_s, tuple(falls))

    def _summary(self, firing: Firing) -> FiringSummary:
        told = sa.select(sa.func.count(), sa.func.max(_t.air_c)).where(_t.firing == firing.id)
        ticks, peak_air_c = self._all(told)[0]
        last = sa.select(_t.mono_s, _t.utc_s).where(_t.firing == firing.id).order_by(_t.n.desc()).limit(1)
        clock = self._clock(firing.id)
        return FiringSummary(
            id=firing.id,
            started_utc_s=firing.start.started_utc_s,
            ended_utc_s=firing.ended_utc_s,
            title=firing.start.title,
            kiln_name=firing.start.kiln_name,
            end_state=firing.end_state,
            ticks=ticks,
            peak_air_c=peak_air_c,
            duration_s=sum(clock.t_s(*row) for row in self._all(last)),
        )


def _firing(row: Found) -> Firing:
    start = FiringRow(*(getattr(row, name) for name in FiringRow._fields))
    return Firing(row.id, start, row.ended_utc_s, row.ended_mono_s, row.end_state)
