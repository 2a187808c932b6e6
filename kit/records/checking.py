"""Whether the records are whole: the file, its links, its chains, its values, its snapshots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import KitError
from kit.records import migrations, people, rows, snapshots
from kit.records.entries import KINDS, EntryKind
from kit.records.readings import READINGS
from kit.records.rows import R
from kit.records.store import Store
from kit.records.values import Dog, StoredReading, check_dog, check_reading


@dataclass(frozen=True)
class Checked:
    """What was looked at and what was wrong; no problems means sound.

    Attributes
    ----------
    rows, counting : int
        Rows of readings in all, and readings that count now.
    entries : tuple of (str, int, int)
        The same for grades, movement and critiques: name, rows, and those that count now.
    """

    version: int
    dogs: int
    sessions: int
    rows: int
    counting: int
    snapshots: int
    entries: tuple[tuple[str, int, int], ...]
    problems: tuple[str, ...]


def check_store(store: Store) -> Checked:
    """Check everything the records hold.

    Raises
    ------
    RecordError
        If they cannot even be read.
    """
    with store.reading() as connection:
        taken_down = rows.history(connection, READINGS, None)
        dogs = people.all_dogs(connection)
        problems = [
            *_file_faults(connection),
            *_number_faults(dogs),
            *_dog_faults(dogs),
            *_chain_faults("reading", taken_down, _thing, "dog or measurement"),
            *_value_faults(taken_down),
        ]
        entries = []
        for kind in KINDS:
            found = rows.history(connection, kind.rows, None)
            problems += _entry_faults(kind, found)
            entries.append((kind.name, len(found), len(rows.current(found))))
        taken = 0
        try:
            taken = len(snapshots.of_dog(connection, None))
        except KitError as fault:
            problems.append(str(fault))
        return Checked(
            migrations.version_of(connection), len(dogs), len(people.all_sessions(connection)),
            len(taken_down), len(rows.current(taken_down)), taken, tuple(entries), tuple(problems),
        )  # fmt: skip


def _file_faults(connection: Connection) -> Iterator[str]:
    if connection.dialect.name != "sqlite":
        return
    for (answer,) in connection.exec_driver_sql("pragma integrity_check"):
        if answer != "ok":
            yield f"the file is damaged: {answer}"
    for table, row, target, _ in connection.exec_driver_sql("pragma foreign_key_check"):
        yield f"row {row} of {table} points at {target} that do not exist"


def _number_faults(dogs: Sequence[Dog]) -> Iterator[str]:
    times = Counter(dog.transponder for dog in dogs if dog.transponder)
    for number, count in times.items():
        if count > 1:
            names = ", ".join(dog.name for dog in dogs if dog.transponder == number)
            yield f"transponder {number} is carried by {count} dogs: {names}"


def _dog_faults(dogs: Sequence[Dog]) -> Iterator[str]:
    for dog in dogs:
        try:
            check_dog(dog)
        except KitError as fault:
            yield f"dog {dog.name}: {fault}"


def _chain_faults(
    noun: str, found: Sequence[R], thing: Callable[[R], Hashable], things: str
) -> Iterator[str]:
    known = {row.id: row for row in found}
    for row in found:
        before = known.get(row.supersedes)
        if row.supersedes and before is None:
            yield f"{noun} {row.id} supersedes {row.supersedes}, which does not exist"
        elif before is not None and thing(before) != thing(row):
            yield f"{noun} {row.id} supersedes one of another {things}"
    for chain in rows.chains(found):
        ends = rows.ends(chain)
        if not ends:
            yield f"{noun}s {', '.join(row.id for row in chain)} supersede each other in a ring"
        if len(ends) > 1:
            others = ", ".join(row.id for row in ends[:-1])
            yield f"two stations changed one {noun}: {ends[-1].id} counts, {others} does not"


def _entry_faults(kind: EntryKind[Any], found: Sequence[Any]) -> Iterator[str]:
    yield from _chain_faults(
        kind.noun, found, lambda row: (row.dog, kind.thing(row.content)), "dog or thing"
    )
    for row in found:
        try:
            kind.check(row.content)
        except KitError as fault:
            yield f"{kind.noun} {row.id}: {fault}"


def _thing(row: StoredReading) -> tuple[str, str]:
    return row.dog, row.reading.measurement


def _value_faults(found: Sequence[StoredReading]) -> Iterator[str]:
    for row in found:
        try:
            check_reading(row.reading, catalogue())
        except KitError as fault:
            yield f"reading {row.id}: {fault}"
