"""The store: raw readings that survive, from any thread and any number of programs.

Each call is one short transaction of its own. A reading is read back from the file and compared
before the call returns, so what a caller holds is what the disk holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Any

from sqlalchemy import Connection, Engine

from kit import __version__
from kit.movement.observations import Observation
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading
from kit.records import connection as connections
from kit.records import migrations, people, readings, rows, snapshots
from kit.records.book import Book
from kit.records.entries import CRITIQUES, GRADES, KINDS, MOVEMENT, SavedCritique
from kit.records.errors import RecordError, in_plain_words
from kit.records.readings import READINGS
from kit.records.values import (
    Dog,
    Owner,
    Ownership,
    Session,
    Snapshot,
    SnapshotValue,
    StoredReading,
    check_dog,
    check_id,
    check_owner,
    check_reading,
    check_session,
    check_since,
    new_id,
    now,
    started_now,
)
from kit.standards.points import Grade


class Store:
    """An open store; made by `open_store`, used from any thread, closed by `close` or `with`.

    Attributes
    ----------
    path : Path or None
        The file, or None for a server.
    where : str
        What to call it in a sentence.
    grades, movement, critiques : Book
        Points graded by eye, observations of movement, and critiques as they were saved.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.path = connections.file_of(engine.url)
        self.where = str(self.path or engine.url.render_as_string(hide_password=True))
        # SQLite lets one writer in at a time; queueing here is fairer than its waiting loop.
        self._turn = RLock()
        self._writer = engine.execution_options(writes=True)
        self.grades: Book[Grade] = Book(self, GRADES)
        self.movement: Book[Observation] = Book(self, MOVEMENT)
        self.critiques: Book[SavedCritique] = Book(self, CRITIQUES)
        self.books: tuple[Book[Any], ...] = (self.grades, self.movement, self.critiques)

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Give the file back; a closed store opens it again when next used."""
        self.engine.dispose()

    @contextmanager
    def writing(self, what: str = "nothing was stored") -> Iterator[Connection]:
        """Open a transaction that writes: all of it happens, or nothing of it."""
        with in_plain_words(f"{what} ({self.where})"), self._turn, self._writer.begin() as open_one:
            yield open_one

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Open a transaction that reads one consistent state."""
        what = f"the records cannot be read ({self.where})"
        with in_plain_words(what), self.engine.begin() as open_one:
            yield open_one

    # Dogs, owners, sessions

    def add_dog(self, name: str, *, sex: str = "", born: str = "", breed: str = "",
                transponder: str = "", note: str = "", died: str = "") -> Dog:  # fmt: skip
        """Add a dog and return it with its new identity.

        Raises
        ------
        RecordError
            If a field cannot be, or another dog carries the transponder.
        """
        dog = check_dog(Dog(new_id(), name.strip(), sex, born, breed, transponder, note, died))
        with self.writing("the dog was not added") as connection:
            people.check_number_free(connection, dog)
            people.insert_dog(connection, dog)
        return dog

    def change_dog(self, dog: Dog) -> Dog:
        """Change what is known of a stored dog; its readings stay as they are."""
        dog = check_dog(dog)
        with self.writing("the dog was not changed") as connection:
            people.update_dog(connection, dog)
        return dog

    def dogs(self) -> tuple[Dog, ...]:
        """Return every dog, by name."""
        with self.reading() as connection:
            return tuple(people.all_dogs(connection))

    def find_dog(self, wanted: str) -> Dog:
        """Return the dog of this identity, transponder number or name.

        Raises
        ------
        RecordError
            If none or several fit.
        """
        known = self.dogs()
        return people.one_dog(people.match_dogs(known, wanted), known, wanted)

    def add_owner(self, name: str, address: str = "", contact: str = "") -> Owner:
        """Add an owner; this is personal data, kept apart from the dogs and readings."""
        owner = check_owner(Owner(new_id(), name, address, contact))
        with self.writing("the owner was not added") as connection:
            people.insert_owner(connection, owner)
        return owner

    def set_owner(self, dog_id: str, owner_id: str, since: str = "") -> Ownership:
        """Note whose a dog is, since an ISO 8601 date or unknown."""
        link = Ownership(dog_id, owner_id, check_since(since))
        with self.writing("the owner was not noted") as connection:
            people.insert_ownership(connection, link)
        return link

    def owners(self) -> tuple[Owner, ...]:
        """Return every owner, by name."""
        with self.reading() as connection:
            return tuple(people.all_owners(connection))

    def ownership(self) -> tuple[Ownership, ...]:
        """Return who owns which dog."""
        with self.reading() as connection:
            return tuple(people.all_ownership(connection))

    def start_session(self, place: str = "", note: str = "", started: str = "") -> Session:
        """Start a session, now unless an ISO 8601 moment is given."""
        session = check_session(Session(new_id(), started or started_now(), place, note))
        with self.writing("the session was not started") as connection:
            people.insert_session(connection, session)
        return session

    def sessions(self) -> tuple[Session, ...]:
        """Return every session in the order it was started."""
        with self.reading() as connection:
            return tuple(people.all_sessions(connection))

    # Readings

    def store_reading(self, dog_id: str, session_id: str, reading: Reading,
                      reading_id: str = "") -> StoredReading:  # fmt: skip
        """Store one reading, durably, and return it as read back from the records.

        Parameters
        ----------
        reading_id : str
            An identity chosen beforehand makes a repeated call harmless; empty for a new one.

        Raises
        ------
        KitError
            If it cannot be stored; then nothing was.
        """
        check_reading(reading, catalogue())
        row = StoredReading(check_id(reading_id) if reading_id else new_id(), dog_id, session_id,
                            reading, "", False, now())  # fmt: skip
        with self.writing("the reading was not stored") as connection:
            dog = people.dog_of(connection, dog_id)
            people.check_session_known(connection, session_id)
            row = replace(row, reading=replace(reading, dog=dog.name))
            known = rows.find(connection, READINGS, [row.id]).get(row.id) if reading_id else None
            if known is None:
                rows.append(connection, READINGS, [row])
            elif replace(known, stored_at=row.stored_at) == row:
                row = known
            else:
                raise RecordError("another reading has this identity", "a new one", row.id)
        return self._read_back(row)

    def correct(self, reading_id: str, reading: Reading) -> StoredReading:
        """Append a row that supersedes a reading; both stay in the records.

        Raises
        ------
        KitError
            If the reading has been changed since, or the new one is of something else.
        """
        check_reading(reading, catalogue())
        with self.writing("the correction was not stored") as connection:
            last = rows.last_of(connection, READINGS, reading_id)
            if last.reading.measurement != reading.measurement:
                raise RecordError("a correction is of the same measurement",
                                  last.reading.measurement, reading.measurement,
                                  "withdraw the reading and store a new one")  # fmt: skip
            row = _successor(last, replace(reading, dog=last.reading.dog), withdrawn=False)
            rows.append(connection, READINGS, [row])
        return self._read_back(row)

    def withdraw(self, reading_id: str) -> StoredReading:
        """Append a row that takes a reading back (undo); the reading stays in the records."""
        return self._turn_over(reading_id, withdrawn=True)

    def restore(self, reading_id: str) -> StoredReading:
        """Append a row that lets a withdrawn reading count again (redo)."""
        return self._turn_over(reading_id, withdrawn=False)

    def _turn_over(self, reading_id: str, *, withdrawn: bool) -> StoredReading:
        with self.writing("the change was not stored") as connection:
            last = rows.last_of(connection, READINGS, reading_id)
            if last.withdrawn == withdrawn:
                state = "withdrawn already" if withdrawn else "not withdrawn"
                raise RecordError(f"this reading is {state}", given=reading_id)
            row = _successor(last, last.reading, withdrawn=withdrawn)
            rows.append(connection, READINGS, [row])
        return self._read_back(row)

    def _read_back(self, row: StoredReading) -> StoredReading:
        with self.reading() as connection:
            found = rows.find(connection, READINGS, [row.id]).get(row.id)
        if found != row:
            raise RecordError("what was stored does not read back", repr(row), repr(found),
                              "stop entering and run: conformation records check")  # fmt: skip
        return found

    def readings(self, dog_id: str | None = None, session_id: str | None = None, *,
                 history: bool = False) -> tuple[StoredReading, ...]:  # fmt: skip
        """Return what counts now, of one dog and session or of all, in order of first entry.

        Parameters
        ----------
        history : bool
            True for every row instead: superseded, withdrawn and restored ones too.
        """
        with self.reading() as connection:
            found = rows.history(connection, READINGS, dog_id, session_id)
        return tuple(found if history else rows.current(found))

    def change_marker(self, dog_id: str | None = None) -> str:
        """Return a text that changes when anyone, anywhere, stores or changes something.

        With a dog, readings and entries of other dogs leave it as it is.
        """
        with self.reading() as connection:
            tables = (READINGS.table, *(kind.table for kind in KINDS))
            counts = ".".join(str(rows.count(connection, table, dog_id)) for table in tables)
            return f"{counts}.{people.state(connection)}"

    # Snapshots

    def take_snapshot(self, dog_id: str, values: Iterable[SnapshotValue], standard: str = "",
                      standard_version: str = "") -> Snapshot:  # fmt: skip
        """Keep derived figures as they stand now, with a hash of the readings they came from."""
        figures = tuple(values)
        _, content_hash = snapshots.content_of(figures)
        with self.writing("the snapshot was not stored") as connection:
            people.dog_of(connection, dog_id)
            counting = rows.current(rows.history(connection, READINGS, dog_id))
            snapshot = Snapshot(new_id(), dog_id, now(), __version__, standard, standard_version,
                                readings.digest(counting), content_hash, figures)  # fmt: skip
            snapshots.insert_snapshot(connection, snapshot)
        return snapshot

    def snapshots(self, dog_id: str | None = None) -> tuple[Snapshot, ...]:
        """Return the snapshots of one dog, or of all, oldest first."""
        with self.reading() as connection:
            return tuple(snapshots.of_dog(connection, dog_id))


def _successor(last: StoredReading, reading: Reading, *, withdrawn: bool) -> StoredReading:
    return StoredReading(new_id(), last.dog, last.session, reading, last.id, withdrawn, now())


def open_store(target: str | Path | None = None, wait: float = connections.WAIT) -> Store:
    """Open the records, bringing an older file up to date.

    Parameters
    ----------
    target : str or Path, optional
        A file (made if missing), or an SQLAlchemy URL. Without one: the user's own records, in
        the folder named by CONFORMATION_DATA or else the platform's data folder.
    wait : float
        Seconds to wait for another program that is writing.

    Raises
    ------
    RecordError
        If they cannot be opened: missing folder, no permission, locked, damaged, cut short, of
        another kind, or written by a newer kit.
    """
    url = connections.locate(target)
    path = connections.file_of(url)
    if path is not None and path.exists():
        connections.refuse_an_empty_file(path)
    store = Store(connections.make_engine(url, wait))
    try:
        _make_ready(store)
    except RecordError:
        store.close()
        raise
    return store


def _make_ready(store: Store) -> None:
    with in_plain_words(f"the records cannot be opened ({store.where})"):
        with store.engine.begin() as connection:
            if store.path is not None:
                _check_pages(connection, store.where)
            waiting = migrations.pending(connection)
        if waiting:
            migrations.migrate(store.writing, waiting)


def _check_pages(connection: Connection, where: str) -> None:
    """Look over every page once, so that a file cut short is told at the start."""
    (answer,) = connection.exec_driver_sql("pragma quick_check(1)").one()
    if answer != "ok":
        raise RecordError(f"the records are damaged ({where})", "a whole records file", answer,
                          "leave it as it is and restore a backup: "
                          "conformation records restore FILE")  # fmt: skip
