"""What `conformation critique` takes from the records and puts into them."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kit.movement.observations import Observation
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import RowProblem
from kit.quantities.errors import DataFileError, KitError
from kit.records.connection import file_of, locate
from kit.records.entries import SavedCritique, Stored
from kit.records.readings import digest
from kit.records.store import Store, open_store
from kit.records.values import Dog
from kit.reports.critique import Critique
from kit.reports.critique_build import Looked, look
from kit.reports.critique_saved import critique_to_save
from kit.standards.assessment import assess
from kit.standards.findings import Scope
from kit.standards.points import Grade, make_grade, points
from kit.standards.standard import Standard


@dataclass(frozen=True)
class OfRecords:
    """One dog of the records, looked at."""

    dog: Dog
    looked: Looked
    readings_hash: str


def records_of(options: argparse.Namespace) -> Store:
    """Open the records the options name: --database, else one's own; they have to be there."""
    if options.readings:
        raise DataFileError("readings are taken from a file or from the records", "one of the two",
                            f"{options.readings} and --database or --save",
                            "import the file first: conformation records import")  # fmt: skip
    if options.grades or options.movement:
        raise DataFileError("grades and movement come from the records, too",
                            do="import them first: conformation records import")  # fmt: skip
    path = file_of(locate(options.database))
    if path is not None and not path.exists():
        raise DataFileError(f"there are no records at {path}", "a records file",
                            do="check --database, or name a CSV of readings")  # fmt: skip
    return open_store(options.database)


def looked_of(
    store: Store, options: argparse.Namespace, standard: Standard
) -> tuple[list[OfRecords], list[OfRecords], tuple[RowProblem, ...]]:
    """Look at dogs of the records, with the grades and movement that count now.

    Returns
    -------
    tuple
        Everyone looked at, those whose critiques are wanted, and grades that cannot be used.

    Raises
    ------
    KitError
        If a dog that is wanted has no readings, or two bear one name.
    """
    asked = [store.find_dog(name) for name in (options.dog, *(options.pair or ())) if name]
    dogs = list(dict.fromkeys(asked if options.dog else store.dogs()))
    problems: list[RowProblem] = []
    found = [one for dog in dogs for one in _looked(store, dog, options, standard, problems)]
    chosen = [one for one in found if not options.dog or one.dog == asked[0]]
    names = [one.dog.name for one in found]
    if not chosen:
        raise DataFileError("there are no readings to write of", "a dog with readings",
                            options.dog or store.where)  # fmt: skip
    if len(set(names)) < len(names):
        raise DataFileError("two dogs bear one name", "a name for each", ", ".join(sorted(names)),
                            "give --dog the transponder number or identity")  # fmt: skip
    return found, chosen, tuple(problems)


def _looked(
    store: Store, dog: Dog, options: argparse.Namespace, standard: Standard,
    problems: list[RowProblem],
) -> Iterator[OfRecords]:  # fmt: skip
    rows = store.readings(dog.id)
    if not rows:
        return
    scope = Scope(options.sex or dog.sex, options.age)
    case = assess([row.reading for row in rows], catalogue(), standard, scope)
    grades = _grades(store, dog, standard, problems)
    observed: Sequence[Observation] = [row.content for row in store.movement.all(dog.id)]
    yield OfRecords(dog, look(case, grades, observed), digest(rows))


def _grades(
    store: Store, dog: Dog, standard: Standard, problems: list[RowProblem]
) -> Sequence[Grade]:
    """Return the grades in words the standard knows; the others are reported, as of a file."""
    scales = {key: one.scale for key, one in points().items()}
    scales |= {clause.point: clause.scale for clause in standard.points}
    found = []
    for number, row in enumerate(store.grades.all(dog.id), start=1):
        one = row.content
        try:
            make_grade(one.dog, one.point, one.grade, scales[one.point], one.sure)
        except KitError as fault:
            problems.append(RowProblem("records", number, "grade", str(fault), dog.name))
            continue
        found.append(one)
    return found


def save(
    store: Store, one: OfRecords, critique: Critique, author: str
) -> tuple[Stored[SavedCritique], bool]:
    """Store a critique; return its row, and whether it is new.

    One that is there already, word for word, is not stored again.
    """
    standard = one.looked.assessment.standard
    content = critique_to_save(critique, standard, author, one.readings_hash)
    for row in store.critiques.all(one.dog.id):
        if row.content == content:
            return row, False
    return store.critiques.add(one.dog.id, content), True
