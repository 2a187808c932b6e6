"""What can go wrong with the records, each as a sentence a person can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from kit.quantities.errors import KitError

_PRIMARY_CODE = 0xFF


class RecordError(KitError):
    """The records cannot be read or written, or what was asked of them makes no sense."""


# What is needed, what was met and what to do, by primary SQLite result code.
_FAULTS: dict[int, tuple[str, str, str]] = {
    sqlite3.SQLITE_FULL: (
        "free space on the disk",
        "the disk is full",
        "make room and enter it again; all that was stored before is safe",
    ),
    sqlite3.SQLITE_BUSY: (
        "a moment in which no other program writes",
        "another program holds the records",
        "close the other window or program, then enter it again",
    ),
    sqlite3.SQLITE_READONLY: (
        "a file and a folder that may be written",
        "they are read-only",
        "change their permissions, or use a copy in a folder of your own",
    ),
    sqlite3.SQLITE_IOERR: (
        "a disk that takes what is written",
        "the disk refused (full, over quota, or taken away)",
        "check the disk and enter it again; all that was stored before is safe",
    ),
    sqlite3.SQLITE_CORRUPT: (
        "a whole records file",
        "the file is damaged or cut short",
        "leave it as it is and restore a backup: conformation records restore FILE",
    ),
    sqlite3.SQLITE_NOTADB: (
        "a records file (SQLite)",
        "a file of another kind, which holds no records",
        "check the name, or restore a backup: conformation records restore FILE",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "a file in an existing folder that may be written",
        "it cannot be opened",
        "check the name, the folder and its permissions",
    ),
}
_FAULTS[sqlite3.SQLITE_LOCKED] = _FAULTS[sqlite3.SQLITE_BUSY]
_FAULTS[sqlite3.SQLITE_PERM] = _FAULTS[sqlite3.SQLITE_READONLY]
_FAULTS[sqlite3.SQLITE_AUTH] = _FAULTS[sqlite3.SQLITE_READONLY]


@contextmanager
def in_plain_words(what: str) -> Iterator[None]:
    """Turn whatever the database raises inside into a RecordError.

    Parameters
    ----------
    what : str
        What is being done, worded as what failed: ``the reading was not stored in …``.

    Raises
    ------
    RecordError
    """
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as fault:
        raise _explain(fault, what) from fault


def _explain(fault: SQLAlchemyError | sqlite3.Error, what: str) -> RecordError:
    cause = fault.orig if isinstance(fault, DBAPIError) else fault
    code = getattr(cause, "sqlite_errorcode", None)
    if isinstance(cause, sqlite3.IntegrityError):
        return RecordError(what, "nothing doubled and nothing left hanging", str(cause))
    if isinstance(fault, PoolTimeoutError):
        return RecordError(what, *_FAULTS[sqlite3.SQLITE_BUSY])
    if code is not None and code & _PRIMARY_CODE in _FAULTS:
        return RecordError(what, *_FAULTS[code & _PRIMARY_CODE])
    return RecordError(
        what,
        "a database that answers",
        " ".join(str(cause).split()),
        "check --database and try again",
    )
