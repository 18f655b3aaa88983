"""Writes the paired devices, each change through a short connection of its own, like a note from a terminal.

What a person did with a device's pairing is an event as well, in the same transaction.
Each function raises RecordError: locked for longer than the patience, full, not to be written.
"""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa

from controller.errors import RecordError, UsageError
from controller.record import tables
from controller.record.beside import write_event, writing

_d = tables.device.c


def pair_device(record: Path, name: str, role: str, token_hash: str, utc_s: float) -> int:
    """Keep a new device; return its number. Raises UsageError: a device of that name is paired already."""
    with writing(record) as connection:
        same = sa.select(_d.id).where(_d.name == name, _d.revoked_utc_s.is_(None))
        if (number := connection.scalar(same)) is not None:
            raise already_paired(name, number)
        row = {"name": name, "role": role, "token_hash": token_hash, "paired_utc_s": utc_s}
        number = int(connection.execute(sa.insert(tables.device).values(row)).lastrowid)
        write_event(connection, "device_paired", {"name": name, "role": role, "number": number}, utc_s)
        return number


def already_paired(name: str, number: int) -> UsageError:
    """Return the error for a name that is taken: in the record, a name means one device."""
    return UsageError(
        f"pair: found that {name!r} is paired already, as number {number}; expected another name, or first "
        f"`stokehold devices revoke {number}`"
    )


def revoke_device(record: Path, number: int, by: str, utc_s: float) -> str:
    """End a device's pairing; return its name. Raises RecordError: no such device is paired."""
    with writing(record) as connection:
        found = sa.select(_d.name).where(_d.id == number, _d.revoked_utc_s.is_(None))
        name = connection.scalar(found)
        if name is None:
            raise RecordError(
                f"record {record}: found no paired device {number}; `stokehold devices` lists them"
            )
        connection.execute(sa.update(tables.device).where(_d.id == number).values(revoked_utc_s=utc_s))
        write_event(connection, "device_revoked", {"name": name, "number": number, "by": by}, utc_s)
        return str(name)


def device_seen(record: Path, number: int, utc_s: float) -> None:
    """Keep when a device last asked for something."""
    with writing(record) as connection:
        connection.execute(sa.update(tables.device).where(_d.id == number).values(seen_utc_s=utc_s))


def pairing_refused(record: Path, address: str, name: str, utc_s: float) -> None:
    """Keep that a wrong code was typed while `name` was to be paired."""
    with writing(record) as connection:
        write_event(connection, "pairing_refused", {"address": address, "name": name}, utc_s)
