"""Dogs, sessions and owners on their way in as a package describes them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from kit.protocol.reading_files import Row, RowProblem, read_rows
from kit.records.errors import RecordError
from kit.records.merging import Merged, merge, merge_owners
from kit.records.store import Store
from kit.records.values import (
    Dog,
    Owner,
    Ownership,
    Session,
    check_dog,
    check_id,
    check_owner,
    check_session,
    check_since,
)

T = TypeVar("T")
_FACTS = ("sex", "born", "breed", "transponder", "note")
_DOG = ("id", "name", *_FACTS)  # `died` came later
_SESSION = ("id", "started", "place", "note")
_OWNER = ("id", "name", "address", "contact")
_OWNERSHIP = ("dog_id", "owner_id", "since")


def take_people(store: Store, folder: Path) -> tuple[Merged, tuple[RowProblem, ...]]:
    """Take in the dogs and sessions a package describes; what cannot be is left out and told."""
    problems: list[RowProblem] = []
    dogs = {
        dog.id: (row, dog)
        for row, dog in _taken(folder / "dogs.csv", _DOG, partial(_dog, problems), problems)
    }
    sittings = [one for _, one in _taken(folder / "sessions.csv", _SESSION, _session, problems)]
    done = merge(store, [dog for _, dog in dogs.values()], sittings)
    for identity in done.numberless:
        row, dog = dogs[identity]
        text = (f"another dog carries {dog.transponder}; {dog.name} was taken in without a number, "
                "read it again")  # fmt: skip
        problems.append(RowProblem("dogs.csv", row.number, "transponder", text, dog.name))
    return done, tuple(problems)


def take_owners(store: Store, folder: Path) -> tuple[int, tuple[RowProblem, ...]]:
    """Take in the owners a package holds, once its dogs are there; return how many were added.

    A package holds them only where somebody asked for them.
    """
    problems: list[RowProblem] = []
    owners = [one for _, one in _taken(folder / "owners.csv", _OWNER, _owner, problems)]
    links = {link: row for row, link
             in _taken(folder / "ownership.csv", _OWNERSHIP, _link, problems)}  # fmt: skip
    added, loose = merge_owners(store, owners, links)
    for link in loose:
        text = "nobody knows the dog or the owner this names; it was left out"
        problems.append(RowProblem("ownership.csv", links[link].number, "owner_id", text))
    return added, tuple(problems)


def _taken(
    path: Path,
    columns: Sequence[str],
    build: Callable[[Row], T],
    problems: list[RowProblem],
) -> Iterator[tuple[Row, T]]:
    """Yield what the rows of a file describe; a file that is not there describes nothing."""
    for row in read_rows(path, columns) if path.is_file() else ():
        try:
            yield row, build(row)
        except RecordError as fault:
            name = row.cells.get("name", "")
            problems.append(RowProblem(path.name, row.number, columns[0], str(fault), name))


def _dog(problems: list[RowProblem], row: Row) -> Dog:
    """Return a dog; a fact that cannot be so is left out, and the dog is there without it."""
    dog = check_dog(Dog(row.cells["id"], row.cells["name"]))
    for column in (*_FACTS, "died"):
        try:
            dog = check_dog(replace(dog, **{column: row.cells.get(column, "")}))
        except RecordError as fault:
            problems.append(RowProblem("dogs.csv", row.number, column, str(fault), dog.name))
    return dog


def _session(row: Row) -> Session:
    return check_session(Session(*(row.cells[name] for name in _SESSION)))


def _owner(row: Row) -> Owner:
    return check_owner(Owner(*(row.cells[name] for name in _OWNER)))


def _link(row: Row) -> Ownership:
    dog, owner = (check_id(row.cells[key]) for key in ("dog_id", "owner_id"))
    return Ownership(dog, owner, check_since(row.cells["since"]))
