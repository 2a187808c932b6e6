"""Readings out of and into the records as CSV, exactly: every row, every character, its identity.

A file made here holds the whole history; `status` says which rows count now, and
`kit.protocol.reading_files.read_csv` counts only those. Taking such a file in again adds nothing.
A file from elsewhere has no identities: its rows get one worked out from their content and, for
equal rows, their order, so that taking the same file in twice adds nothing either.
"""

from __future__ import annotations

import io
import os
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID, uuid4, uuid5

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
from kit.records import readings, ucum
from kit.records.errors import RecordError
from kit.records.merging import merge
from kit.records.people import match_dogs
from kit.records.store import Store
from kit.records.values import (
    Dog,
    Session,
    StoredReading,
    check_id,
    check_moment,
    check_reading,
    check_text,
    new_id,
    now,
    started_now,
)

COLUMNS = REQUIRED + OPTIONAL + RECORD_COLUMNS
# Identities of rows that came without one are UUIDs of version 5 under this name space.
NAME_SPACE = UUID("6f0f5c0e-3b1c-4a53-9d0e-0c5e8a1f7d42")


@dataclass(frozen=True)
class Imported:
    """What taking in a file did; `problems` are rows that were left out, and why."""

    added: int
    present: int
    dogs: int
    sessions: int
    problems: tuple[RowProblem, ...]


def readings_as_csv(store: Store, dog_id: str | None = None) -> str:
    """Return the whole history, of one dog or of all, as the text of a CSV file."""
    rows = store.readings(dog_id, history=True)
    sessions = {session.id: session for session in store.sessions()}
    counting = {row.id for row in readings.current(rows)}
    superseded = {row.supersedes for row in rows}
    known = catalogue()
    text = io.StringIO(newline="")
    write_rows(
        text,
        COLUMNS,
        (_cells(row, sessions[row.session], _status(row, counting, superseded), known)
         for row in rows),
    )  # fmt: skip
    return text.getvalue()


def _status(row: StoredReading, counting: set[str], superseded: set[str]) -> str:
    if row.id in counting:
        return "current"
    return "withdrawn" if row.withdrawn and row.id not in superseded else "superseded"


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
    taking = _Taking(store, path.name)
    for row in read_rows(path):
        taking.take(row)
    taking.drop_orphans()
    done = merge(store, taking.dogs.values(), taking.sessions.values(), taking.found.values())
    for identity in done.conflicts:
        given = "the records hold another reading under this identity; they were left as they are"
        taking.refuse(identity, RecordError(given, do="correct it in the panel"))
    problems = tuple(sorted(taking.problems, key=lambda problem: problem.row))
    return Imported(done.added, done.present, done.dogs, done.sessions, problems)


class _Taking:
    """The rows of one file on their way in."""

    def __init__(self, store: Store, file: str) -> None:
        self.file = file
        self.known_dogs = list(store.dogs())
        self.known = {row.id: row for row in store.readings(history=True)}
        self.dogs: dict[str, Dog] = {}
        self.sessions: dict[str, Session] = {}
        self.found: dict[str, StoredReading] = {}
        self.problems: list[RowProblem] = []
        self._rows: dict[str, Row] = {}
        self._alike: Counter[tuple[str, ...]] = Counter()
        self._sittings: dict[str, Session] = {}

    def take(self, row: Row) -> None:
        """Read one row; one that cannot be used becomes a problem."""
        try:
            stored = self._exact(row) if row.cells.get("reading_id") else self._foreign(row)
            if stored.id in self.found:
                raise RecordError("this identity is in the file twice", "one row", stored.id)
        except KitError as fault:
            self.problems.append(
                problem_of(fault, row.cells, self.file, row.number, catalogue())
            )  # fmt: skip
            return
        self.found[stored.id] = stored
        self._rows[stored.id] = row

    def refuse(self, identity: str, fault: KitError) -> None:
        """Report the row of an identity."""
        row = self._rows[identity]
        self.problems.append(
            RowProblem(self.file, row.number, "reading_id", str(fault), row.cells["dog"])
        )

    def drop_orphans(self) -> None:
        """Leave out rows that supersede a reading neither in the file nor in the records."""
        while orphans := [row for row in self.found.values() if self._is_orphan(row)]:
            for row in orphans:
                needed = "the reading it corrects, in the file or in the records"
                self.refuse(row.id, RecordError("a correction of nothing", needed, row.supersedes))
                del self.found[row.id]

    def _is_orphan(self, row: StoredReading) -> bool:
        before = row.supersedes
        return bool(before) and before not in self.found and before not in self.known

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
            identity, self._dog(cells.get("dog_id", ""), cells["dog"]), self._session(row),
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
        self._alike[content] += 1
        name = "\x1f".join((*content, str(self._alike[content])))
        identity = str(uuid5(NAME_SPACE, name))
        if identity in self.known:
            return self.known[identity]
        dog = self._dog(cells.get("dog_id", ""), reading.dog)
        sitting = self._sitting(reading.time[:10]) if not cells.get("session_id") else ""
        return StoredReading(
            identity, dog, sitting or self._session(row), reading, "", False, now()
        )  # fmt: skip

    def _dog(self, identity: str, name: str) -> str:
        """Return the identity of a dog, old or new."""
        everyone = [*self.known_dogs, *self.dogs.values()]
        if identity.strip():
            identity = check_id(identity)
            if identity not in {dog.id for dog in everyone}:
                self.dogs[identity] = Dog(identity, check_text(name, "name", required=True))
            return identity
        matches = match_dogs(everyone, name)
        if len(matches) > 1:
            raise RecordError(f"{len(matches)} dogs are called '{name}'", "the column dog_id")
        dog = matches[0] if matches else Dog(new_id(), check_text(name, "name", required=True))
        if not matches:
            self.dogs[dog.id] = dog
        return dog.id

    def _session(self, row: Row) -> str:
        """Return the identity of the session a row names."""
        cells = row.cells
        identity = check_id(cells.get("session_id", ""))
        started = check_moment(cells.get("session_started", ""), "start of the session")
        session = Session(identity, started or started_now(), cells.get("session_place", ""),
                          cells.get("session_note", ""))  # fmt: skip
        self.sessions.setdefault(identity, session)
        return identity

    def _sitting(self, day: str) -> str:
        """Return a session of its own for each day of a file that names none."""
        if day not in self._sittings:
            note = f"taken in from {self.file}"
            session = Session(new_id(), day or started_now(), "", note)
            self._sittings[day] = self.sessions[session.id] = session
        return self._sittings[day].id
