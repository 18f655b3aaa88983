"""Paired devices in the record: only a hash of what they hold, a name that means one of them, and events."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from controller.catalogue import say
from controller.errors import RecordError, UsageError
from controller.record.devices import devices
from controller.record.queries import Record
from controller.record.write_devices import device_seen, pair_device, pairing_refused, revoke_device


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "record.db"


def test_a_device_is_kept_seen_and_revoked(record: Path) -> None:
    assert devices(record) == []
    number = pair_device(record, "Ada's phone", "operator", "hash-a", 100.0)
    [found] = devices(record)
    assert (found.number, found.name, found.role, found.paired) == (number, "Ada's phone", "operator", True)
    assert (found.token_hash, found.paired_utc_s, found.seen_utc_s) == ("hash-a", 100.0, None)
    device_seen(record, number, 150.0)
    assert revoke_device(record, number, "console", 200.0) == "Ada's phone"
    [found] = devices(record)
    assert (found.paired, found.seen_utc_s, found.revoked_utc_s) == (False, 150.0, 200.0)


def test_a_name_is_one_devices_as_long_as_it_is_paired(record: Path) -> None:
    number = pair_device(record, "Ada's phone", "watcher", "hash-a", 100.0)
    with pytest.raises(UsageError, match=f"paired already, as number {number}"):
        pair_device(record, "Ada's phone", "operator", "hash-b", 101.0)
    assert len(devices(record)) == 1
    revoke_device(record, number, "console", 102.0)
    assert pair_device(record, "Ada's phone", "operator", "hash-b", 103.0) == number + 1


@pytest.mark.parametrize("again", [True, False])
def test_what_is_not_paired_cannot_be_revoked(record: Path, again: bool) -> None:
    number = pair_device(record, "Ada's phone", "watcher", "hash-a", 100.0)
    if again:
        revoke_device(record, number, "console", 101.0)
    with pytest.raises(RecordError, match="found no paired device"):
        revoke_device(record, number if again else 99, "console", 102.0)


def test_what_a_person_did_with_a_pairing_is_an_event(record: Path) -> None:
    pairing_refused(record, "203.0.113.9", "Ada's phone", 99.0)
    pair_device(record, "Ada's phone", "watcher", "hash-a", 100.0)
    revoke_device(record, 1, "page: Ben's tablet", 101.0)
    with closing(sqlite3.connect(record)) as connection:
        rows = connection.execute("SELECT kind, fields, utc_s FROM event ORDER BY id").fetchall()
    assert [(say(kind, json.loads(fields)), utc_s) for kind, fields, utc_s in rows] == [
        ("A wrong code came from 203.0.113.9 while Ada's phone was to be paired", 99.0),
        ("Ada's phone was paired, as watcher", 100.0),
        ("The pairing of Ada's phone was ended by page: Ben's tablet", 101.0),
    ]
    assert Record(record).firings() == []


def test_a_record_from_before_there_were_devices_has_none(record: Path) -> None:
    with closing(sqlite3.connect(record)) as connection:
        connection.execute("CREATE TABLE firing (id INTEGER)")
    assert devices(record) == []


def test_a_record_that_is_none_is_one_line(record: Path) -> None:
    record.write_bytes(b"no database at all" * 100)
    with pytest.raises(RecordError, match="it is not a database"):
        devices(record)
