"""Rows of a file on their way into the records, with the dogs and sessions they name."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Generic
from uuid import UUID, uuid5

from kit.protocol.reading_files import Row, RowProblem
from kit.quantities.errors import KitError
from kit.records.errors import RecordError
from kit.records.people import match_dogs
from kit.records.rows import R
from kit.records.store import Store
from kit.records.values import (
    Dog,
    Session,
    check_dog,
    check_id,
    check_moment,
    check_text,
    new_id,
    started_now,
)

# Identities of rows that came without one are UUIDs of version 5 under this name space.
NAME_SPACE = UUID("6f0f5c0e-3b1c-4a53-9d0e-0c5e8a1f7d42")
# What a file may say of a dog beside its readings, and what the dog's note then holds.
FACTS = ("sex", "born", "breed", "died")
NOTED = ("collar", "litter")


class People:
    """The dogs and sessions a file names: those that are known, and those that come with it."""

    def __init__(self, store: Store, file: str) -> None:
        self.file = file
        self.known_dogs = list(store.dogs())
        self.dogs: dict[str, Dog] = {}
        self.sessions: dict[str, Session] = {}
        self._sittings: dict[str, Session] = {}
        self._refused: set[tuple[str, str, str]] = set()

    @property
    def everyone(self) -> list[Dog]:
        """Every dog there is, as it stands with what the file told of it."""
        return list({dog.id: dog for dog in (*self.known_dogs, *self.dogs.values())}.values())

    def dog(self, cells: Mapping[str, str], name: str) -> str:
        """Return the identity of a dog, old or new."""
        everyone = self.everyone
        identity = cells.get("dog_id", "")
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

    def told(self, row: Row) -> Iterator[RowProblem]:
        """Take down what a row says of its dog beside its reading; yield what cannot be so.

        What is known already stays; a cell that cannot be used costs no reading.
        """
        name = row.cells.get("dog", "")
        matches = match_dogs(self.everyone, row.cells.get("dog_id") or name)
        if len(matches) != 1:
            return
        dog = matches[0]
        for column in FACTS:
            said = row.cells.get(column, "").strip()
            try:
                dog = _with_fact(dog, column, said)
            except RecordError as fault:
                if (dog.id, column, said) not in self._refused:
                    yield RowProblem(self.file, row.number, column, str(fault), name)
                self._refused.add((dog.id, column, said))
        dog = dog if dog.note else replace(dog, note=_noted(row.cells))
        if dog != matches[0]:
            self.dogs[dog.id] = dog

    def session(self, cells: Mapping[str, str]) -> str:
        """Return the identity of the session a row names."""
        identity = check_id(cells.get("session_id", ""))
        started = check_moment(cells.get("session_started", ""), "start of the session")
        session = Session(identity, started or started_now(), cells.get("session_place", ""),
                          cells.get("session_note", ""))  # fmt: skip
        self.sessions.setdefault(identity, session)
        return identity

    def session_or_sitting(self, cells: Mapping[str, str], day: str) -> str:
        """Return the session a row names, else one of its own for the day."""
        return self.session(cells) if cells.get("session_id") else self._sitting(day)

    def _sitting(self, day: str) -> str:
        if day not in self._sittings:
            note = f"taken in from {self.file}"
            session = Session(new_id(), day or started_now(), "", note)
            self._sittings[day] = self.sessions[session.id] = session
        return self._sittings[day].id


def _with_fact(dog: Dog, column: str, said: str) -> Dog:
    """Return a dog with one fact more; a fact that cannot be so, or another one, is refused."""
    known = getattr(dog, column)
    if said and known and said != known:
        raise RecordError(
            f"the records know another ({column})", known, said, "it was left as it is"
        )
    return dog if known or not said else check_dog(replace(dog, **{column: said}))


def _noted(cells: Mapping[str, str]) -> str:
    """Return the note of a dog whose file tells its collar or litter."""
    said = {name: " ".join(cells.get(name, "").replace(";", ",").split()) for name in NOTED}
    return "; ".join(f"{name}: {text}" for name, text in said.items() if text)


class Taking(Generic[R]):
    """The rows of one file.

    Attributes
    ----------
    known : dict of str to row
        What the records hold already.
    found : dict of str to row
        What can be taken in.
    problems : list of RowProblem
        What cannot, and why.
    """

    def __init__(
        self, file: str, known: Iterable[R], noun: str = "reading", column: str = "reading_id"
    ) -> None:
        self.file, self.noun, self.column = file, noun, column
        self.known = {row.id: row for row in known}
        self.found: dict[str, R] = {}
        self.problems: list[RowProblem] = []
        self._rows: dict[str, Row] = {}
        self._alike: Counter[tuple[str, ...]] = Counter()

    def take(
        self, row: Row, build: Callable[[Row], R], problem: Callable[[KitError, Row], RowProblem]
    ) -> None:
        """Read one row; one that cannot be used becomes a problem."""
        try:
            stored = build(row)
            if stored.id in self.found:
                raise RecordError("this identity is in the file twice", "one row", stored.id)
        except KitError as fault:
            self.problems.append(problem(fault, row))
            return
        self.found[stored.id] = stored
        self._rows[stored.id] = row

    def identity_of(self, content: tuple[str, ...]) -> str:
        """Return the identity of a row without one: the same for the same row of the same file."""
        self._alike[content] += 1
        return str(uuid5(NAME_SPACE, "\x1f".join((*content, str(self._alike[content])))))

    def refuse(self, identity: str, fault: KitError) -> None:
        """Report the row of an identity."""
        row = self._rows[identity]
        self.problems.append(
            RowProblem(self.file, row.number, self.column, str(fault), row.cells["dog"])
        )

    def refuse_conflicts(self, conflicts: Iterable[str]) -> None:
        """Report rows whose identity the records hold with something else."""
        for identity in conflicts:
            what = f"the records hold another {self.noun} under this identity; it was left as it is"
            self.refuse(identity, RecordError(what, do="correct it there instead"))

    def drop_orphans(self) -> None:
        """Leave out rows that supersede one neither in the file nor in the records."""
        while orphans := [row for row in self.found.values() if self._is_orphan(row)]:
            for row in orphans:
                needed = f"the {self.noun} it corrects, in the file or in the records"
                self.refuse(row.id, RecordError("a correction of nothing", needed, row.supersedes))
                del self.found[row.id]

    def _is_orphan(self, row: R) -> bool:
        before = row.supersedes
        return bool(before) and before not in self.found and before not in self.known

    @property
    def sorted_problems(self) -> tuple[RowProblem, ...]:
        """The problems in the order of the file."""
        return tuple(sorted(self.problems, key=lambda problem: problem.row))
