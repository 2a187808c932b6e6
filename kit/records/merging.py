"""Take in rows of elsewhere by their identities: nothing doubled, nothing overwritten."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sqlalchemy import Connection, Table

from kit.protocol.catalogue import catalogue
from kit.records import people, readings, schema
from kit.records.store import Store
from kit.records.values import (
    Dog,
    Session,
    StoredReading,
    check_dog,
    check_reading,
    check_session,
)


@dataclass(frozen=True)
class Merged:
    """What a merge did.

    Attributes
    ----------
    added, present : int
        Readings that came in, and those that were there already.
    conflicts : tuple of str
        Identities under which the records hold something else; these were left as they are.
    """

    added: int
    present: int
    conflicts: tuple[str, ...]
    dogs: int
    sessions: int


def merge(
    store: Store,
    dogs: Iterable[Dog],
    sessions: Iterable[Session],
    rows: Iterable[StoredReading],
) -> Merged:
    """Add what the store lacks, in one transaction.

    Dogs and sessions that are there already stay as they are. A row may supersede one that comes
    with it or is there already.

    Raises
    ------
    KitError
        If a row cannot be kept; then nothing was added.
    """
    wanted = {row.id: row for row in rows}
    new_dogs = [check_dog(dog) for dog in dogs]
    new_sessions = [check_session(session) for session in sessions]
    for row in wanted.values():
        check_reading(row.reading, catalogue())
    with store.writing("nothing was taken in") as connection:
        added_dogs = _add_dogs(connection, new_dogs)
        added_sessions = _add_sessions(connection, new_sessions)
        known = readings.find(connection, wanted)
        fresh = [row for row in wanted.values() if row.id not in known]
        readings.append(connection, fresh)
    conflicts = tuple(row.id for row in known.values() if not same(wanted[row.id], row))
    present = len(known) - len(conflicts)
    return Merged(len(fresh), present, conflicts, added_dogs, added_sessions)


def same(row: StoredReading, other: StoredReading) -> bool:
    """Compare two rows but for the dog's name, which one station may have changed since."""
    return replace(other, reading=replace(other.reading, dog=row.reading.dog)) == row


def _add_dogs(connection: Connection, dogs: list[Dog]) -> int:
    missing = _missing(connection, schema.dogs, [dog.id for dog in dogs])
    for dog in dogs:
        if dog.id in missing:
            people.insert_dog(connection, dog)
    return len(missing)


def _add_sessions(connection: Connection, sessions: list[Session]) -> int:
    missing = _missing(connection, schema.sessions, [session.id for session in sessions])
    for session in sessions:
        if session.id in missing:
            people.insert_session(connection, session)
    return len(missing)


def _missing(connection: Connection, table: Table, wanted: list[str]) -> set[str]:
    return set(wanted) - people.identities(connection, table)
