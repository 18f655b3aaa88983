"""Opens the record, for the one writer or for a reader, and says in one line why it cannot.

The writer's connection: WAL, so that readers never wait for it nor it for them; synchronous FULL, because
in WAL a commit under NORMAL outlives the program's death but not the power's, and a power cut is what
happens to kilns; foreign keys on. Every transaction takes the write lock at its start (BEGIN IMMEDIATE):
a lock that is asked for halfway fails at once when another writer was quicker.

A reader opens the file `mode=ro`: SQLite itself refuses it every change.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Literal

import sqlalchemy as sa
from sqlalchemy.pool import NullPool, QueuePool

from controller.errors import RecordError
from controller.record.tables import REVISIONS, metadata, revision

Mode = Literal["ro", "rw", "rwc"]

# How long an opening waits for another writer: a `stokehold note` is done in milliseconds.
PATIENCE_S = 4.0

SAYS = {
    "SQLITE_FULL": "the disk is full",
    "SQLITE_BUSY": "another program has locked it",
    "SQLITE_LOCKED": "another program has locked it",
    "SQLITE_NOTADB": "it is not a database",
    "SQLITE_CORRUPT": "it is damaged",
    "SQLITE_CANTOPEN": "it cannot be opened",
    "SQLITE_READONLY": "it may only be read",
    "SQLITE_IOERR": "the disk gives errors",
}

EXPECTED = {
    "SQLITE_FULL": "room on the disk",
    "SQLITE_BUSY": "to be its only writer",
    "SQLITE_LOCKED": "to be its only writer",
    "SQLITE_NOTADB": "a record made by stokehold",
    "SQLITE_CORRUPT": "a whole record: put it aside and name another",
    "SQLITE_CANTOPEN": "a file in a folder that may be written",
    "SQLITE_READONLY": "a file and a folder that may be written",
    "SQLITE_IOERR": "a disk that works and has room",
}


def _code(error: BaseException) -> str:
    """Return SQLite's primary code for an error, e.g. "SQLITE_FULL", or ""."""
    inner = getattr(error, "orig", None) or error
    name = str(getattr(inner, "sqlite_errorname", ""))
    return next((code for code in SAYS if name.startswith(code)), "")


def plain(error: BaseException) -> str:
    """Return in a few words what ails the database."""
    inner = getattr(error, "orig", None) or error
    return SAYS.get(_code(error), str(inner) or type(inner).__name__)


@contextmanager
def one_clear_line(path: Path) -> Iterator[None]:
    """Turn whatever SQLite, SQLAlchemy or the file system raise into a RecordError of one line."""
    try:
        yield
    except (sqlite3.Error, sa.exc.DBAPIError) as error:
        expected = EXPECTED.get(_code(error), "a record that can be used")
        raise RecordError(f"record {path}: found that {plain(error)}, expected {expected}") from error
    except OSError as error:
        found = error.strerror or str(error)
        raise RecordError(
            f"record {path}: found that its folder cannot be made or used ({found}), "
            "expected a folder that may be written"
        ) from error


def connect(path: Path, mode: Mode, wait_s: float) -> sqlite3.Connection:
    """Return a connection that waits at most `wait_s` for another's lock and begins nothing by itself."""
    address = f"{path.absolute().as_uri()}?mode={mode}"
    connection = sqlite3.connect(
        address, uri=True, timeout=wait_s, check_same_thread=False, isolation_level=None
    )
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        if mode != "ro":
            connection.execute("PRAGMA synchronous = FULL")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _engine(path: Path, mode: Mode, wait_s: float, begin: str) -> sa.Engine:
    def creator() -> sqlite3.Connection:
        return connect(path, mode, wait_s)

    if mode == "ro":  # a reader keeps nothing open between two questions
        engine = sa.create_engine("sqlite://", creator=creator, poolclass=NullPool)
    else:
        engine = sa.create_engine("sqlite://", creator=creator, poolclass=QueuePool, pool_size=1)
    sa.event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    return engine


def open_to_write(path: Path, *, patience_s: float = PATIENCE_S, wait_s: float = 1.0) -> sa.Engine:
    """Make or check the record, bring its tables up to date, and return the writer's engine.

    `patience_s` is for this opening; `wait_s` is how long each later transaction waits for the lock.
    Later connections never make the file anew: a record that vanished is an error, not an empty record.
    Raises RecordError: not a database, locked, from a newer version, folder or disk that refuses.
    """
    with one_clear_line(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        with closing(connect(path, "rwc", patience_s)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("BEGIN IMMEDIATE")
            found = check_revision(path, connection)
            connection.execute("ROLLBACK")
        if found is None:
            found = _make(_engine(path, "rw", patience_s, "BEGIN IMMEDIATE"))
        if found != REVISIONS[-1]:
            _migrate(_engine(path, "rw", patience_s, "BEGIN IMMEDIATE"))
    return _engine(path, "rw", wait_s, "BEGIN IMMEDIATE")


def open_to_read(path: Path) -> sa.Engine:
    """Return an engine that can only read. Raises RecordError: missing, not a record, another version."""
    if not path.is_file():
        raise RecordError(f"record {path}: found no such file, expected the record of a kiln's firings")
    with one_clear_line(path), closing(connect(path, "ro", PATIENCE_S)) as connection:
        found = check_revision(path, connection)
    if found != REVISIONS[-1]:
        raise RecordError(
            f"record {path}: found tables of version {found or 'none'}, expected {REVISIONS[-1]}; "
            "`stokehold run` brings an older record up to date"
        )
    return _engine(path, "ro", PATIENCE_S, "BEGIN")


def check_revision(path: Path, connection: sqlite3.Connection) -> str | None:
    """Return the number of the record's tables; None: an empty file. Raises RecordError."""
    tables = {
        str(name) for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type='table'")
    }
    if not tables:
        return None
    if "alembic_version" not in tables:
        raise RecordError(f"record {path}: found another program's database, expected a record of stokehold")
    row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    found = str(row[0]) if row else None
    if found is not None and found not in REVISIONS:
        raise RecordError(
            f"record {path}: found tables of version {found}, from a newer stokehold; expected at most "
            f"{REVISIONS[-1]}: update the program, or name another record"
        )
    return found


def _make(engine: sa.Engine) -> str | None:
    """Make every table of an empty record at once, as all migrations would (a test compares the two).

    Returns the number of its tables; None when somebody else has begun to fill it meanwhile.
    """
    try:
        with engine.begin() as connection:
            if sa.inspect(connection).get_table_names():
                return None
            metadata.create_all(connection, checkfirst=False)
            revision.create(connection, checkfirst=False)
            connection.execute(sa.insert(revision).values(version_num=REVISIONS[-1]))
    finally:
        engine.dispose()
    return REVISIONS[-1]


def _migrate(engine: sa.Engine, to: str = "head") -> None:
    """Run the migrations that are missing, all in one transaction."""
    from alembic import command  # a fifth of a second, which a new or up-to-date record need not wait for
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "controller.record:migrations")
    config.set_main_option("path_separator", "os")
    try:
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, to)
    finally:
        engine.dispose()
