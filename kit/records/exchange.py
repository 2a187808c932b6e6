"""Readings out of and into the records as CSV, exactly: every row, every character, its identity.

A file made here holds the whole history; `status` says which rows count now, and
`kit.protocol.reading_files.read_csv` counts only those. Taking such a file in again adds nothing.
A file from elsewhere has no identities: its rows get one worked out from their content and, for
equal rows, their order, so that taking the same file in twice adds nothing either.
"""

from __future__ import annotations

import io
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from kit.protocol.catalogue import Catalogue, catalogue
from kit.protocol.reading_files import (
    OPTIONAL,
    RECORD_COLUMNS,
    REQUIRED,
    WITHDRAWN,
    Row,
    RowProblem,
    problem_of,
    read_rows,
    write_rows,
)
from kit.protocol.readings import Reading, make_reading, read_value
from kit.quantities.errors import KitError
from kit.records import ucum
from kit.records.arriving import People, Taking
from kit.records.errors import RecordError
from kit.records.merging import merge
from kit.records.rows import statuses
from kit.records.store import Store
from kit.records.values import (
    Session,
    StoredReading,
    check_id,
    check_moment,
    check_reading,
    now,
)

COLUMNS = REQUIRED + OPTIONAL + RECORD_COLUMNS


@dataclass(frozen=True)
class Imported:
    """What taking in a file did.

    Attributes
    ----------
    problems : tuple of RowProblem
        Rows or cells that were left out, and why.
    completed : int
        Dogs that were known, and of which the file told something more.
    owners : int
        Owners a package brought.
    untold : tuple of RowProblem
        Cells and rows about dogs, sessions and owners that a package told and that were left out.
    """

    added: int
    present: int
    dogs: int
    sessions: int
    problems: tuple[RowProblem, ...]
    completed: int = 0
    owners: int = 0
    untold: tuple[RowProblem, ...] = ()


def readings_as_csv(store: Store, dog_id: str | None = None) -> str:
    """Return the whole history, of one dog or of all, as the text of a CSV file."""
    rows = store.readings(dog_id, history=True)
    sessions = {session.id: session for session in store.sessions()}
    status = statuses(rows)
    known = catalogue()
    text = io.StringIO(newline="")
    write_rows(
        text,
        COLUMNS,
        (_cells(row, sessions[row.session], status[row.id], known)
         for row in rows),
    )  # fmt: skip
    return text.getvalue()


def _cells(row: StoredReading, session: Session, status: str, known: Catalogue) -> list[str]:
    reading = row.reading
    definition = known.measurement(reading.measurement)
    return [
        reading.dog, reading.measurement, reading.raw,
        reading.unit, reading.side, reading.stand, reading.measurer, reading.instrument,
        reading.time, reading.note,
        row.id, row.dog, row.session, session.started, session.place, session.note,
        row.supersedes, WITHDRAWN if row.withdrawn else "", row.stored_at, status,
        repr(reading.value), ucum.OF_KIND[definition.kind], ucum.written_in(reading, definition),
    ]  # fmt: skip


def export_csv(store: Store, path: Path, dog_id: str | None = None, *, force: bool = False) -> int:
    """Write the history to a CSV file and return how many rows it holds.

    Raises
    ------
    RecordError
        If the file exists (unless forced) or cannot be written; an existing file stays whole.
    """
    rows = len(store.readings(dog_id, history=True))
    write_whole(path, readings_as_csv(store, dog_id), force=force)
    return rows


def write_whole(path: Path, text: str, *, force: bool = False) -> None:
    """Write a text file completely or not at all.

    Raises
    ------
    RecordError
        If it exists (unless forced) or cannot be written.
    """
    if path.exists() and not force:
        raise RecordError(f"{path} exists", "a new name", do="choose another, or use --force")
    partial = path.with_name(f".{path.name}.{uuid4().hex[:8]}")
    try:
        with partial.open("w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        partial.replace(path)
    except OSError as fault:
        with suppress(OSError):
            partial.unlink(missing_ok=True)
        raise RecordError(f"cannot write {path}", "a folder that may be written and has room",
                          str(fault.strerror), "choose another place") from fault  # fmt: skip


def import_csv(store: Store, path: Path) -> Imported:
    """Take in a CSV of readings, all usable rows in one transaction.

    Raises
    ------
    KitError
        If the file cannot be read, or nothing of it could be stored.
    """
    people = People(store, path.name)
    taking = Taking(path.name, store.readings(history=True))
    builder = _Readings(people, taking)
    rows = read_rows(path)
    for row in rows:
        taking.take(row, builder.build, builder.problem)
    for row in rows:
        taking.problems += people.told(row)
    taking.drop_orphans()
    done = merge(store, people.dogs.values(), people.sessions.values(), taking.found.values())
    taking.refuse_conflicts(done.conflicts)
    return Imported(done.added, done.present, done.dogs, done.sessions, taking.sorted_problems,
                    done.completed)  # fmt: skip


class _Readings:
    """How a row of a file becomes a reading of the records."""

    def __init__(self, people: People, taking: Taking[StoredReading]) -> None:
        self.people, self.taking = people, taking

    def problem(self, fault: KitError, row: Row) -> RowProblem:
        """Word what is wrong with a row."""
        return problem_of(fault, row.cells, self.taking.file, row.number, catalogue())

    def build(self, row: Row) -> StoredReading:
        """Build the stored row: exactly where the records wrote it, else forgiving."""
        return self._exact(row) if row.cells.get("reading_id") else self._foreign(row)

    def _exact(self, row: Row) -> StoredReading:
        """Rebuild a row that the records wrote, to the last character."""
        cells = row.cells
        definition = catalogue().measurement(cells["measurement"])
        plain = {name: cells.get(name, "") for name in OPTIONAL}
        value = read_value(cells["value"], plain["unit"], definition).value
        reading = Reading(cells["dog"], definition.key, value, raw=cells["value"], **plain)
        check_reading(reading, catalogue())
        identity = check_id(cells["reading_id"])
        supersedes = cells.get("supersedes", "")
        stored_at = check_moment(cells.get("stored_at", ""), "time of storing") or now()
        return StoredReading(
            identity, self.people.dog(cells, cells["dog"]), self.people.session(cells),
            reading, check_id(supersedes) if supersedes else "",
            cells.get("withdrawn", "") == WITHDRAWN, stored_at,
        )  # fmt: skip

    def _foreign(self, row: Row) -> StoredReading:
        """Build a row of a file that was written elsewhere, forgiving about blanks."""
        cells = {key: cell.strip() for key, cell in row.cells.items()}
        details = {name: cells.get(name, "") for name in OPTIONAL}
        reading = make_reading(
            catalogue(), cells["dog"], cells["measurement"], row.cells["value"], **details
        )
        check_reading(reading, catalogue())
        content = tuple(getattr(reading, name) for name in (*REQUIRED[:2], "raw", *OPTIONAL))
        identity = self.taking.identity_of(content)
        if identity in self.taking.known:
            return self.taking.known[identity]
        dog = self.people.dog(cells, reading.dog)
        sitting = self.people.session_or_sitting(cells, reading.time[:10])
        return StoredReading(identity, dog, sitting, reading, "", False, now())
