"""Take in rows of elsewhere by their identities: nothing doubled, nothing overwritten."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from sqlalchemy import Connection, Table

from kit.protocol.catalogue import catalogue
from kit.records import people, rows, schema
from kit.records.entries import KINDS, Stored
from kit.records.errors import RecordError
from kit.records.readings import READINGS
from kit.records.rows import Kind, R
from kit.records.store import Store
from kit.records.values import (
    Dog,
    Owner,
    Ownership,
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
    entries, entries_present : int
        The same for grades, movement and critiques together.
    conflicts : tuple of str
        Identities under which the records hold something else; these were left as they are.
    completed : int
        Dogs that were there, and of which something more is known now.
    numberless : tuple of str
        Identities of dogs that came in without their transponder number: another dog carries it.
    """

    added: int
    present: int
    conflicts: tuple[str, ...]
    dogs: int
    sessions: int
    entries: int = 0
    entries_present: int = 0
    completed: int = 0
    numberless: tuple[str, ...] = ()


COMPLETED = ("sex", "born", "breed", "transponder", "note", "died")
# Rows of what is recorded beside readings, by the name of their kind.
Entries: TypeAlias = Mapping[str, Iterable[Stored[Any]]]
NOTHING: Entries = {}


def merge(
    store: Store,
    dogs: Iterable[Dog],
    sessions: Iterable[Session],
    taken: Iterable[StoredReading] = (),
    entries: Entries = NOTHING,
) -> Merged:
    """Add what the store lacks, in one transaction.

    Of dogs and sessions that are there already nothing is changed; sex, dates, breed, transponder
    and note of a dog are filled in where they were empty. A row may supersede one that comes with
    it or is there already.

    Raises
    ------
    KitError
        If a row cannot be kept; then nothing was added.
    """
    wanted = {row.id: row for row in taken}
    new_dogs = [check_dog(dog) for dog in dogs]
    new_sessions = [check_session(session) for session in sessions]
    for row in wanted.values():
        check_reading(row.reading, catalogue())
    beside = [(kind, {row.id: row for row in entries.get(kind.name, ())}) for kind in KINDS]
    for kind, found in beside:
        kind.check_rows(found)
    with store.writing("nothing was taken in") as connection:
        added_dogs, completed, numberless = _add_dogs(connection, new_dogs)
        added_sessions = _add_sessions(connection, new_sessions)
        fresh, known = _add_missing(connection, READINGS, wanted)
        others = [(kind, found, _add_missing(connection, kind.rows, found))
                  for kind, found in beside]  # fmt: skip
    conflicts = [row.id for row in known.values() if not same(wanted[row.id], row)]
    present = len(known) - len(conflicts)
    differing = [
        row.id for kind, found, (_, there) in others for row in there.values()
        if kind.named(row, found[row.id].content.dog) != found[row.id]
    ]  # fmt: skip
    return Merged(
        fresh, present, (*conflicts, *differing), added_dogs, added_sessions,
        sum(added for _, _, (added, _) in others),
        sum(len(there) for _, _, (_, there) in others) - len(differing), completed, numberless,
    )  # fmt: skip


def merge_store(here: Store, there: Store) -> Merged:
    """Add all that another store holds and this one lacks, but for owners and snapshots."""
    everything = {book.kind.name: book.all(history=True) for book in there.books}
    return merge(here, there.dogs(), there.sessions(), there.readings(history=True), everything)


def _add_missing(
    connection: Connection, kind: Kind[R], wanted: dict[str, R]
) -> tuple[int, dict[str, R]]:
    """Append what is missing; return how many that was, and what was there already."""
    known = rows.find(connection, kind, wanted)
    fresh = [row for row in wanted.values() if row.id not in known]
    rows.append(connection, kind, fresh)
    return len(fresh), known


def same(row: StoredReading, other: StoredReading) -> bool:
    """Compare two rows but for the dog's name, which one station may have changed since."""
    return replace(other, reading=replace(other.reading, dog=row.reading.dog)) == row


def merge_owners(
    store: Store, owners: Iterable[Owner], links: Iterable[Ownership]
) -> tuple[int, tuple[Ownership, ...]]:
    """Add owners, and notes of whose a dog is, that the store lacks.

    Returns
    -------
    added : int
        How many owners.
    loose : tuple of Ownership
        Notes that were left out, because they name a dog or an owner nobody knows.
    """
    loose = []
    with store.writing("no owner was taken in") as connection:
        known = people.identities(connection, schema.owners)
        fresh = {owner.id: owner for owner in owners if owner.id not in known}
        for owner in fresh.values():
            people.insert_owner(connection, owner)
        noted = set(people.all_ownership(connection))
        dogs = people.identities(connection, schema.dogs)
        for link in dict.fromkeys(links):
            if link.dog not in dogs or link.owner not in known | set(fresh):
                loose.append(link)
            elif link not in noted:
                people.insert_ownership(connection, link)
    return len(fresh), tuple(loose)


def _add_dogs(connection: Connection, dogs: list[Dog]) -> tuple[int, int, tuple[str, ...]]:
    """Add dogs that are missing, complete those that are there; return how many of each.

    Last come the identities of those that came without their transponder number.
    """
    missing = _missing(connection, schema.dogs, [dog.id for dog in dogs])
    completed, numberless = 0, []
    for dog in dogs:
        known = None if dog.id in missing else people.dog_of(connection, dog.id)
        told = dog
        if not (known and known.transponder) and people.other_carrier(connection, dog):
            told = replace(dog, transponder="")
            numberless.append(dog.id)
        if known is None:
            people.insert_dog(connection, told)
        else:
            completed += _complete(connection, known, told)
    return len(missing), completed, tuple(numberless)


def _complete(connection: Connection, known: Dog, told: Dog) -> bool:
    """Fill in what was not known of a dog; what would contradict what is known is left out."""
    fuller = known
    for name in COMPLETED:
        if not getattr(known, name):
            with suppress(RecordError):
                fuller = check_dog(replace(fuller, **{name: getattr(told, name)}))
    if fuller == known:
        return False
    people.update_dog(connection, fuller)
    return True


def _add_sessions(connection: Connection, sessions: list[Session]) -> int:
    missing = _missing(connection, schema.sessions, [session.id for session in sessions])
    for session in sessions:
        if session.id in missing:
            people.insert_session(connection, session)
    return len(missing)


def _missing(connection: Connection, table: Table, wanted: list[str]) -> set[str]:
    return set(wanted) - people.identities(connection, table)
