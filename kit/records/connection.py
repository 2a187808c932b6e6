"""Where the records are and how they are opened: one short transaction at a time, any thread.

SQLite runs with a write-ahead log and ``synchronous=FULL``: each commit is forced to the disk, so
that neither a killed program nor a power cut loses a stored reading. The engine's pool gives
every transaction a connection of its own, so callbacks may come on any thread.
"""

from __future__ import annotations

import os
import sqlite3
import time
from pathlib import Path

from platformdirs import user_data_path
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import ConnectionPoolEntry

from kit.records.errors import RecordError

FOLDER_VARIABLE = "CONFORMATION_DATA"
FILE_NAME = "records.sqlite3"
WAIT = 5.0
"""Seconds to wait for another program that is writing."""

_EMPTY_WAIT = 1.0


def data_folder() -> Path:
    """Return the folder of the user's records: CONFORMATION_DATA, else the platform's own."""
    chosen = os.environ.get(FOLDER_VARIABLE, "").strip()
    return Path(chosen).expanduser() if chosen else user_data_path("conformation", appauthor=False)


def locate(target: str | Path | None) -> URL:
    """Return the database address of a path or URL; None is the user's own records.

    Raises
    ------
    RecordError
        If the folder is missing or the address cannot be read.
    """
    if target is None:
        return _address(_own_file())
    if isinstance(target, str) and "://" in target:
        return _given_address(target)
    return _address(Path(target).expanduser().absolute())


def _own_file() -> Path:
    folder = data_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        reason = str(fault.strerror)
        way_out = f"set {FOLDER_VARIABLE} to another"
        raise RecordError(f"cannot make {folder}", "a folder", reason, way_out) from fault
    return folder.absolute() / FILE_NAME


def _address(path: Path) -> URL:
    if not path.parent.is_dir():
        raise RecordError(f"there is no folder {path.parent}", "an existing folder",
                          str(path), "make the folder, or check the name")  # fmt: skip
    if path.is_dir():
        raise RecordError(f"{path} is a folder", "a records file", do=f"add /{FILE_NAME}")
    return URL.create("sqlite", database=str(path))


def _given_address(target: str) -> URL:
    try:
        url = make_url(target)
    except ArgumentError as fault:
        needed = "a path, sqlite:///PATH or postgresql+psycopg://…"
        raise RecordError("the address of the records cannot be read", needed, target) from fault
    if url.get_backend_name() == "sqlite" and url.database in (None, "", ":memory:"):
        raise RecordError("records in memory would be lost", "a file", target, "name a file")
    return url


def file_of(url: URL) -> Path | None:
    """Return the file of a SQLite address, or None for a server."""
    if url.get_backend_name() != "sqlite" or url.database is None:
        return None
    return Path(url.database.removeprefix("file:"))


def refuse_an_empty_file(path: Path) -> None:
    """Raise RecordError for an existing file that is empty.

    SQLite would take it for a new database and so hide that one was cut to nothing. A file that
    another program is just making is empty for a moment, hence the wait.

    The file is never opened other than by SQLite: to close it again would drop every lock this
    process holds on it (POSIX), and the next program to close it would take the log away from under
    the readings still written there. Source: sqlite.org, How To Corrupt, 2.2.
    """
    deadline = time.monotonic() + _EMPTY_WAIT
    while _size(path) == 0 and time.monotonic() < deadline:
        time.sleep(0.02)
    if _size(path) == 0:
        raise RecordError(f"{path} is empty", "a records file", "0 bytes",
                          "restore a backup, or delete the file to begin anew")  # fmt: skip


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else -1


def make_engine(url: URL, wait: float = WAIT) -> Engine:
    """Return an engine whose transactions are real ones, DDL included.

    Parameters
    ----------
    wait : float
        Seconds to wait for another program that is writing.

    Raises
    ------
    RecordError
        If no driver for the address is installed.
    """
    is_sqlite = url.get_backend_name() == "sqlite"
    try:
        engine = create_engine(url, connect_args={"timeout": wait} if is_sqlite else {})
    except (ImportError, ArgumentError) as fault:
        raise RecordError("no driver for this database", "an installed driver", str(fault),
                          "pip install 'psycopg[binary]' for PostgreSQL") from fault  # fmt: skip
    if is_sqlite:
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
    return engine


def _prepare(connection: DBAPIConnection, _entry: ConnectionPoolEntry) -> None:
    """Set up a fresh SQLite connection; the driver must not open transactions by itself."""
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute("pragma foreign_keys = on")
    cursor.execute("pragma synchronous = full")
    cursor.execute("pragma fullfsync = on")  # macOS: past the drive's own cache as well
    try:
        cursor.execute("pragma journal_mode = wal")
    except sqlite3.OperationalError as fault:
        # A read-only file can still be read; writing to it is refused in its own words.
        if fault.sqlite_errorcode & 0xFF != sqlite3.SQLITE_READONLY:
            raise
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    # Taking the write lock first means that two writers queue instead of failing half-way.
    connection.exec_driver_sql("begin immediate" if writes else "begin")
