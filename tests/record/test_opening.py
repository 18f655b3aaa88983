"""A record that cannot be opened is one clear line; one that can be is up to date."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from controller.errors import RecordError
from controller.record import opening, tables
from controller.record.journal import Journal
from controller.record.opening import open_to_read, open_to_write
from controller.record.queries import Record
from controller.record.tables import REVISIONS


def says(error: pytest.ExceptionInfo[RecordError]) -> str:
    """Return the message, which is one line and names what was found and what was expected."""
    text = str(error.value)
    assert "\n" not in text
    assert "record.db: found " in text
    assert ", expected " in text or "; expected " in text
    return text


def migrated(path: Path, to: str = "head") -> sa.Engine:
    """Return the writer's engine to a record that the migrations made, one after the other, up to one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.touch()
    opening._migrate(opening._engine(path, "rw", 1.0, "BEGIN IMMEDIATE"), to)
    return opening._engine(path, "rw", 1.0, "BEGIN IMMEDIATE")


def test_a_new_record_is_to_the_letter_what_the_migrations_make(path: Path) -> None:
    made = []
    for engine in (migrated(path.with_name("migrated.db")), open_to_write(path)):
        with engine.connect() as connection:
            rows = connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master").all()
            made.append(sorted((*row[:3], " ".join(str(row[3]).split())) for row in rows))
            assert connection.scalar(sa.text("SELECT version_num FROM alembic_version")) == REVISIONS[-1]
        engine.dispose()
    assert made[0] == made[1]
    assert {table.name for table in tables.metadata.sorted_tables} < {row[1] for row in made[0]}


def test_a_new_record_needs_no_migration(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "_migrate", lambda engine: pytest.fail("migrated"))
    open_to_write(path).dispose()
    assert Record(path).firings(1) == []


def test_the_migrations_make_exactly_the_tables(path: Path) -> None:
    engine = migrated(path)
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []
        made = sa.text("SELECT sql FROM sqlite_master WHERE name = 'tick'")
        assert str(connection.scalar(made)).rstrip().endswith("WITHOUT ROWID")
    engine.dispose()


def test_every_migration_is_listed_in_order() -> None:
    config = Config()
    config.set_main_option("script_location", "controller.record:migrations")
    scripts = ScriptDirectory.from_config(config)
    assert tuple(script.revision for script in reversed(list(scripts.walk_revisions()))) == tables.REVISIONS


def test_a_firings_ticks_are_found_by_their_key(path: Path) -> None:
    engine = open_to_write(path)
    with engine.connect() as connection:
        plan = connection.exec_driver_sql("EXPLAIN QUERY PLAN SELECT * FROM tick WHERE firing = 1 ORDER BY n")
        assert [row[3] for row in plan] == ["SEARCH tick USING PRIMARY KEY (firing=?)"]
    engine.dispose()


def test_an_up_to_date_record_opens_again_without_migrating(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "_migrate", lambda engine: pytest.fail("migrated again"))
    open_to_write(kept).dispose()


def test_a_half_done_migration_leaves_nothing(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from alembic import op

    migrated(path, "0001").dispose()
    with closing(sqlite3.connect(path)) as connection:
        before = connection.execute("SELECT * FROM sqlite_master").fetchall()
        assert "leg" not in str(before)
    monkeypatch.setattr(op, "create_index", lambda *_: (_ for _ in ()).throw(sqlite3.OperationalError("no")))
    with pytest.raises(RecordError):
        open_to_write(path)
    monkeypatch.undo()
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT * FROM sqlite_master").fetchall() == before
    open_to_write(path).dispose()
    assert Record(path).firings() == []


def test_a_half_made_record_leaves_nothing(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(sa, "insert", lambda *_: (_ for _ in ()).throw(sqlite3.OperationalError("no")))
        with pytest.raises(RecordError):
            open_to_write(path)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT name FROM sqlite_master").fetchall() == []
    open_to_write(path).dispose()
    assert Record(path).firings() == []


def test_not_a_database(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("Dear diary, today the kiln was hot. " * 40)
    before = path.read_bytes()
    for opens in (open_to_write, open_to_read):
        with pytest.raises(RecordError) as error:
            opens(path)
        assert "it is not a database" in says(error)
    assert path.read_bytes() == before


def test_another_programs_database(path: Path) -> None:
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
        connection.commit()
    with pytest.raises(RecordError) as error:
        open_to_write(path)
    assert "another program's database" in says(error)


def test_a_record_from_a_newer_version(kept: Path) -> None:
    with closing(sqlite3.connect(kept)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0942'")
        connection.commit()
    for opens in (open_to_write, open_to_read, lambda path: Journal(path).start()):
        with pytest.raises(RecordError) as error:
            opens(kept)
        assert "0942, from a newer stokehold" in says(error)


def test_locked_by_another_writer(kept: Path) -> None:
    with closing(sqlite3.connect(kept, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError) as error:
            open_to_write(kept, patience_s=0.1)
        assert "another program has locked it" in says(error)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError) as error:
        open_to_write(tmp_path / "file" / "record.db")
    assert "its folder cannot be made or used" in says(error)


def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    for parent in tmp_path.parents:
        if parent.name.startswith(("pytest-", "popen-")):  # pytest's own, which are for its user alone
            parent.chmod(0o755)
    tmp_path.chmod(0o555)
    reading, writing = os.pipe()
    if (child := os.fork()) == 0:  # root may write everywhere, so ask as somebody else
        if os.getuid() == 0:
            os.setuid(65534)
        try:
            open_to_write(tmp_path / "record.db")
            os.write(writing, b"it was opened")
        except RecordError as error:
            os.write(writing, str(error).encode())
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    tmp_path.chmod(0o755)
    text = os.read(reading, 4096).decode()
    assert (
        "record.db: found that it cannot be opened, expected a file in a folder that may be written" in text
    )
    os.close(reading)
    os.close(writing)


def test_a_full_disk_at_the_start(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain_connect = opening.connect

    def on_a_small_disk(file: Path, mode: opening.Mode, wait_s: float) -> sqlite3.Connection:
        connection = plain_connect(file, mode, wait_s)
        connection.execute("PRAGMA max_page_count = 2")
        return connection

    monkeypatch.setattr(opening, "connect", on_a_small_disk)
    with pytest.raises(RecordError) as error:
        open_to_write(path)
    assert "the disk is full, expected room on the disk" in says(error)


def test_no_record_to_read(path: Path) -> None:
    with pytest.raises(RecordError) as error:
        Record(path)
    assert "found no such file" in says(error)
    assert not path.parent.exists()  # asking does not make one


def test_an_empty_file_is_no_record_to_read(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with pytest.raises(RecordError) as error:
        Record(path)
    assert "version none" in says(error)
