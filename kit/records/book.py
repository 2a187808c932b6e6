"""The store's books: entries of one kind, kept by the same rules as readings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Generic

from kit.records import people, rows
from kit.records.entries import C, EntryKind, Stored
from kit.records.errors import RecordError
from kit.records.values import check_id, new_id, now

if TYPE_CHECKING:
    from kit.records.store import Store


class Book(Generic[C]):
    """Entries of one kind in an open store.

    Attributes
    ----------
    kind : EntryKind
    """

    def __init__(self, store: Store, kind: EntryKind[C]) -> None:
        self._store = store
        self.kind = kind

    def add(self, dog_id: str, content: C, session_id: str = "", entry_id: str = "") -> Stored[C]:
        """Store one entry, durably, and return it as read back from the records.

        Parameters
        ----------
        session_id : str
            The session it belongs to; empty where the kind has none.
        entry_id : str
            An identity chosen beforehand makes a repeated call harmless; empty for a new one.

        Raises
        ------
        KitError
            If it cannot be stored; then nothing was.
        """
        self.kind.check(content)
        row = Stored(check_id(entry_id) if entry_id else new_id(), dog_id, session_id, content,
                     "", False, now())  # fmt: skip
        with self._store.writing(f"the {self.kind.noun} was not stored") as connection:
            row = self.kind.named(row, people.dog_of(connection, dog_id).name)
            if self.kind.has_session:
                people.check_session_known(connection, session_id)
            known = rows.find(connection, self.kind.rows, [row.id]).get(row.id)
            if known is None:
                rows.append(connection, self.kind.rows, [row])
            elif replace(known, stored_at=row.stored_at) == row:
                row = known
            else:
                what = f"another {self.kind.noun} has this identity"
                raise RecordError(what, "a new one", row.id)
        return self._read_back(row)

    def correct(self, entry_id: str, content: C) -> Stored[C]:
        """Append a row that supersedes an entry; both stay in the records.

        Raises
        ------
        KitError
            If the entry has been changed since, or the new one is of something else.
        """
        self.kind.check(content)
        with self._store.writing("the correction was not stored") as connection:
            last = rows.last_of(connection, self.kind.rows, entry_id)
            content = replace(content, dog=last.content.dog)
            if self.kind.thing(last.content) != self.kind.thing(content):
                raise RecordError(f"a correction is of {self.kind.thing_words}",
                                  ", ".join(self.kind.thing(last.content)),
                                  ", ".join(self.kind.thing(content)),
                                  f"withdraw the {self.kind.noun} and store a new one")  # fmt: skip
            row = _successor(last, content, withdrawn=False)
            rows.append(connection, self.kind.rows, [row])
        return self._read_back(row)

    def withdraw(self, entry_id: str) -> Stored[C]:
        """Append a row that takes an entry back; the entry stays in the records."""
        return self._turn_over(entry_id, withdrawn=True)

    def restore(self, entry_id: str) -> Stored[C]:
        """Append a row that lets a withdrawn entry count again."""
        return self._turn_over(entry_id, withdrawn=False)

    def all(self, dog_id: str | None = None, session_id: str | None = None, *,
            history: bool = False) -> tuple[Stored[C], ...]:  # fmt: skip
        """Return what counts now, of one dog and session or of all, in order of first entry.

        Parameters
        ----------
        history : bool
            True for every row instead: superseded, withdrawn and restored ones too.
        """
        with self._store.reading() as connection:
            found = rows.history(connection, self.kind.rows, dog_id, session_id)
        return tuple(found if history else rows.current(found))

    def _turn_over(self, entry_id: str, *, withdrawn: bool) -> Stored[C]:
        with self._store.writing("the change was not stored") as connection:
            last = rows.last_of(connection, self.kind.rows, entry_id)
            if last.withdrawn == withdrawn:
                state = "withdrawn already" if withdrawn else "not withdrawn"
                raise RecordError(f"this {self.kind.noun} is {state}", given=entry_id)
            row = _successor(last, last.content, withdrawn=withdrawn)
            rows.append(connection, self.kind.rows, [row])
        return self._read_back(row)

    def _read_back(self, row: Stored[C]) -> Stored[C]:
        with self._store.reading() as connection:
            found = rows.find(connection, self.kind.rows, [row.id]).get(row.id)
        if found != row:
            raise RecordError("what was stored does not read back", repr(row), repr(found),
                              "stop entering and run: conformation records check")  # fmt: skip
        return found


def _successor(last: Stored[C], content: C, *, withdrawn: bool) -> Stored[C]:
    return Stored(new_id(), last.dog, last.session, content, last.id, withdrawn, now())
