"""What a tick was told, kept beside its temperatures so that it can be run again to the bit.

The tick's row holds temperatures, contacts and times; the rest goes into its `seen`, as short JSON: how
long the tick was, how late, how far the clock stepped, what the record's trouble was, when each reading
was taken, what the heater read back, and what the guard carried of its own deeds. Commands go out at
moments of the real clock and may fail: that is measured, not decided, and so it is kept and not worked out.
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from controller.guard import Carried as GuardCarried
from controller.guard import Given
from controller.plain import from_plain, to_plain
from controller.record.rows import TickRow
from controller.tick import Ticked
from controller.wire.inputs import Polled
from controller.wire.reading import Contact, Reading

ROLES = ("air", "load", "limit")  # those whose temperatures have columns of their own


class Told(NamedTuple):
    """What `TickLoop.tick` was given besides the poll and its times."""

    dt_s: float
    late_s: float = 0.0
    clock_step_s: float = 0.0
    record_trouble: str = ""


class Failed(NamedTuple):
    """Which of a tick's commands the heater did not take."""

    energise: bool
    main: bool
    last: bool


class Seen(NamedTuple):
    """A tick's `seen`, read again. `given`, `granted_s`, `main_closed`: what the guard went into it with."""

    polled: Polled
    told: Told
    given: Given
    granted_s: float
    main_closed: bool | None
    failed: Failed


def seen(ticked: Ticked, told: Told, before: GuardCarried, after: GuardCarried) -> str:
    """Return a tick's `seen`: `before` and `after` are what the guard carried into it and out of it."""
    readings = ticked.polled.readings
    air_at_s = readings["air"].at_s
    failed = Failed(
        "heater_silent" in ticked.grant.refused_by,
        after.main_closed is None,
        bool(after.given.write_failed),
    )
    enclosure = readings.get("enclosure")
    kept: dict[str, Any] = {
        "told": to_plain(told),
        "air_at_s": air_at_s,
        "at_s": {role: one.at_s for role, one in readings.items() if one.at_s != air_at_s},
        "enclosure_c": enclosure.value_c if enclosure is not None else None,
        "heat_on": ticked.polled.heat_on,
        "given": [*to_plain(before)[1:]],
        "failed": to_plain(failed) if any(failed) else None,
    }
    return json.dumps(
        {name: what for name, what in kept.items() if what not in (None, {})}, separators=(",", ":")
    )


def read_seen(row: TickRow, roles: tuple[str, ...]) -> Seen:
    """Return what a kept tick saw. `roles`: the kiln's thermocouples, in the order of its file.

    Raises ValueError, KeyError or TypeError when the row is from before this was kept.
    """
    kept = json.loads(row.seen)
    given, granted_s, main_closed = kept["given"]
    columns = {
        "air": row.air_c,
        "load": row.load_c,
        "limit": row.limit_c,
        "enclosure": kept.get("enclosure_c"),
    }
    at_s = kept.get("at_s", {})
    readings = {
        role: Reading(
            columns[role], None if columns[role] is not None else "as kept", at_s.get(role, kept["air_at_s"])
        )
        for role in roles
    }
    contacts = {
        role: Contact({"1": True, "0": False}.get(on), "as kept" if on == "?" else None, row.mono_s)
        for role, _, on in (one.partition("=") for one in row.contacts.split())
    }
    return Seen(
        Polled(readings, contacts, kept.get("heat_on"), row.main_on, ()),
        from_plain(Told, kept["told"]),
        from_plain(Given, given),
        granted_s,
        main_closed,
        from_plain(Failed, kept.get("failed") or [False, False, False]),
    )
