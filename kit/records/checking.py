"""Whether the records are whole: the file, its links, its chains, its values, its snapshots."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import Connection

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import KitError
from kit.records import migrations, people, readings, snapshots
from kit.records.store import Store
from kit.records.values import Dog, StoredReading, check_reading


@dataclass(frozen=True)
class Checked:
    """What was looked at and what was wrong; no problems means sound.

    Attributes
    ----------
    rows, counting : int
        Rows of readings in all, and readings that count now.
    """

    version: int
    dogs: int
    sessions: int
    rows: int
    counting: int
    snapshots: int
    problems: tuple[str, ...]


def check_store(store: Store) -> Checked:
    """Check everything the records hold.

    Raises
    ------
    RecordError
        If they cannot even be read.
    """
    with store.reading() as connection:
        rows = readings.history(connection, None, None)
        dogs = people.all_dogs(connection)
        problems = [
            *_file_faults(connection),
            *_number_faults(dogs),
            *_chain_faults(rows),
            *_value_faults(rows),
        ]
        taken = 0
        try:
            taken = len(snapshots.of_dog(connection, None))
        except KitError as fault:
            problems.append(str(fault))
        return Checked(
            migrations.version_of(connection), len(dogs), len(people.all_sessions(connection)),
            len(rows), len(readings.current(rows)), taken, tuple(problems),
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


def _chain_faults(rows: Sequence[StoredReading]) -> Iterator[str]:
    known = {row.id: row for row in rows}
    for row in rows:
        before = known.get(row.supersedes)
        if row.supersedes and before is None:
            yield f"reading {row.id} supersedes {row.supersedes}, which does not exist"
        elif before is not None and _thing(before) != _thing(row):
            yield f"reading {row.id} supersedes one of another dog or measurement"
    for chain in readings.chains(rows):
        ends = readings.ends(chain)
        if not ends:
            yield f"readings {', '.join(row.id for row in chain)} supersede each other in a ring"
        if len(ends) > 1:
            others = ", ".join(row.id for row in ends[:-1])
            yield f"two stations changed one reading: {ends[-1].id} counts, {others} does not"


def _thing(row: StoredReading) -> tuple[str, str]:
    return row.dog, row.reading.measurement


def _value_faults(rows: Sequence[StoredReading]) -> Iterator[str]:
    for row in rows:
        try:
            check_reading(row.reading, catalogue())
        except KitError as fault:
            yield f"reading {row.id}: {fault}"
