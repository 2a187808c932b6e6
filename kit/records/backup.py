"""Backups of a records file: made while it is in use, verified, and put back without loss."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeAlias
from uuid import uuid4

from kit.quantities.errors import KitError
from kit.records.checking import check_store
from kit.records.entries import Stored
from kit.records.errors import RecordError, in_plain_words
from kit.records.store import Store, open_store
from kit.records.values import StoredReading

_SIDES = ("-wal", "-shm")
_WAIT = 2.0
# Every append-only row by its identity: readings, grades, movement, critiques.
Rows: TypeAlias = dict[str, StoredReading | Stored[Any]]


@dataclass(frozen=True)
class Restored:
    """What a restore did: rows now there, rows no longer there, and where the old file is kept."""

    rows: int
    dropped: int
    aside: Path | None


def back_up(store: Store, path: Path) -> int:
    """Copy the records into one new file, read it back, and return how many rows it holds.

    Others may go on entering; what was stored before the call is in the copy.

    Raises
    ------
    RecordError
        If `path` exists, cannot be written, or does not read back as what was stored.
    """
    if store.path is None:
        raise RecordError("a server keeps its own backups", "a records file", store.where,
                          "use pg_dump, or: conformation records export")  # fmt: skip
    _refuse_existing(path)
    before = _rows_of(store)
    with _partial_beside(path) as partial, in_plain_words(f"the backup was not made ({path})"):
        _copy(store.path, partial)
        _verify(partial, before)
        _force_to_disk(partial)
        partial.rename(path)
    return len(before)


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise RecordError(f"{path} exists", "a new name for the backup", do="choose another")
    if not path.parent.is_dir():
        raise RecordError(f"there is no folder {path.parent}", "an existing folder", str(path))


@contextmanager
def _partial_beside(path: Path) -> Iterator[Path]:
    """Yield a name for an unfinished file, which never stays behind."""
    partial = path.with_name(f".{path.name}.{uuid4().hex[:8]}.partial")
    try:
        yield partial
    except OSError as fault:
        raise RecordError(f"cannot write {path}", "a folder that may be written and has room",
                          str(fault.strerror), "choose another place") from fault  # fmt: skip
    finally:
        for side in ("", *_SIDES, "-journal"):
            with suppress(OSError):
                Path(f"{partial}{side}").unlink(missing_ok=True)


def _copy(source: Path, target: Path) -> None:
    """Copy a database with SQLite's backup interface: one consistent state, in one file."""
    with closing(_connect(source)) as origin, closing(sqlite3.connect(target)) as copy:
        _copy_pages(origin, copy)
        # A backup is one file that can be carried away, so without a write-ahead log.
        copy.execute("pragma journal_mode = delete")


def _copy_pages(source: sqlite3.Connection, target: sqlite3.Connection) -> None:
    """Copy everything in one step; the driver alone would wait for a lock for ever."""
    deadline = time.monotonic() + _WAIT

    def give_up(status: int, _remaining: int, _total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > deadline:
            raise RecordError("another program holds the file", "a file nobody else has open",
                              do="close the other window or program, then try again")  # fmt: skip

    source.backup(target, progress=give_up)


def _connect(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=rw", uri=True, timeout=_WAIT)


def _verify(path: Path, expected: Rows) -> None:
    """Raise RecordError unless the copy is sound and holds every expected row, unchanged."""
    with closing(sqlite3.connect(path)) as copy:
        (answer,) = copy.execute("pragma integrity_check(1)").fetchone()
    found = _rows(path)
    wrong = [identity for identity, row in expected.items() if found.get(identity) != row]
    if answer != "ok" or wrong:
        raise RecordError("the copy does not read back", f"{len(expected)} rows as stored",
                          f"{len(wrong)} differ; {answer}", "try another disk")  # fmt: skip
    with closing(sqlite3.connect(path)) as copy:
        copy.execute("pragma journal_mode = delete")


def _rows(path: Path) -> Rows:
    with open_store(path, _WAIT) as copy:
        return _rows_of(copy)


def _rows_of(store: Store) -> Rows:
    found: Rows = {row.id: row for row in store.readings(history=True)}
    for book in store.books:
        found |= {row.id: row for row in book.all(history=True)}
    return found


def _force_to_disk(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def restore(target: Path, backup: Path, *, force: bool = False) -> Restored:
    """Put a backup in the place of a records file.

    The old file is kept beside it. Nobody else may have the records open meanwhile.

    Parameters
    ----------
    force : bool
        Go on although the old file holds rows that the backup lacks, or cannot be read.

    Raises
    ------
    RecordError
        If the backup is unsound, the records are in use, or rows would go without `force`.
    """
    if not backup.is_file():
        raise RecordError(f"there is no file {backup}", "a backup", do="check the name")
    with _partial_beside(target) as partial, in_plain_words(f"nothing was restored ({target})"):
        _copy(backup, partial)
        rows = _sound_rows(partial, backup)
        if not target.exists():
            partial.rename(target)
            return Restored(len(rows), 0, None)
        try:
            return _replace(target, partial, rows, force=force)
        except _Unreadable as fault:
            return _put_aside(target, partial, len(rows), fault, force=force)


class _Unreadable(Exception):  # noqa: N818 - a signal inside this module, never shown
    """The old file cannot be read."""


def _sound_rows(path: Path, backup: Path) -> Rows:
    """Bring the copy of a backup up to date, check it, and leave it as one file."""
    with open_store(path, _WAIT) as copy:
        problems = check_store(copy).problems
        rows = _rows_of(copy)
    if problems:
        raise RecordError(f"{backup} is not sound", "a sound backup", problems[0],
                          "use another backup")  # fmt: skip
    with closing(sqlite3.connect(path)) as copy_file:
        copy_file.execute("pragma journal_mode = delete")
    return rows


def _replace(target: Path, partial: Path, rows: Rows, *, force: bool) -> Restored:
    """Write the backup over the old content while nobody else can open it."""
    aside = _aside(target)
    with closing(_held(target)) as live:
        with closing(sqlite3.connect(aside)) as kept:
            _copy_pages(live, kept)
            kept.execute("pragma journal_mode = delete")
        lacking = _rows_kept(aside).keys() - rows.keys()
        if lacking and not force:
            aside.unlink()
            raise RecordError(f"{target} holds {len(lacking)} rows that the backup lacks",
                              "a backup that holds them all", "an older one",
                              "back up first, or use --force; the old file is kept")  # fmt: skip
        with closing(sqlite3.connect(partial)) as source:
            _copy_pages(source, live)
    return Restored(len(rows), len(lacking), aside)


def _held(target: Path) -> sqlite3.Connection:
    """Open a file for ourselves alone.

    Switching the write-ahead log off succeeds only where no other program has the file open, and
    the exclusive locking mode then keeps others out until the connection is closed.
    """
    live = _connect(target)
    try:
        live.execute("pragma locking_mode = exclusive")
        (mode,) = live.execute("pragma journal_mode = delete").fetchone()
        if mode != "delete":
            raise RecordError(f"{target} is in use", "records that nobody has open",
                              do="close the other windows and programs")  # fmt: skip
        live.execute("begin exclusive")
        live.commit()
        (answer,) = live.execute("pragma quick_check(1)").fetchone()
        if answer != "ok":
            raise _Unreadable(answer)
    except sqlite3.DatabaseError as fault:
        live.close()
        if fault.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise _Unreadable(str(fault)) from fault
        raise
    except (_Unreadable, RecordError):
        live.close()
        raise
    return live


def _rows_kept(aside: Path) -> Rows:
    try:
        return _rows(aside)
    except KitError as fault:
        aside.unlink(missing_ok=True)
        raise _Unreadable(str(fault)) from fault


def _put_aside(
    target: Path, partial: Path, rows: int, fault: Exception, *, force: bool
) -> Restored:
    """Replace a file that cannot be read, keeping it and its log under another name."""
    if not force:
        raise RecordError(f"{target} cannot be read, so what it holds is not known",
                          "--force, which keeps it under another name",
                          str(fault))  # fmt: skip
    aside = _aside(target)
    for side in ("", *_SIDES):
        old = Path(f"{target}{side}")
        if old.exists():
            old.rename(f"{aside}{side}")
    partial.rename(target)
    return Restored(rows, 0, aside)


def _aside(target: Path) -> Path:
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    return target.with_name(f"{target.stem}-before-restore-{stamp}{target.suffix}")
