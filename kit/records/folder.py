"""A folder of plain files that holds the records of one dog or of all, and the way back."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

from kit.quantities.errors import DataFileError
from kit.records.described import take_owners, take_people
from kit.records.entry_files import (
    FOLDER,
    MOVEMENT_FORM,
    book_as_csv,
    critique_form,
    critique_texts,
    grade_form,
    import_book,
)
from kit.records.errors import RecordError
from kit.records.exchange import Imported, import_csv, readings_as_csv, write_whole
from kit.records.store import Store
from kit.standards.points import PointClause

READINGS = "readings.csv"


def entry_texts(store: Store, dog_id: str | None = None) -> dict[str, str]:
    """Return what is recorded beside readings as the texts of its files, by name."""
    return {
        "grades.csv": book_as_csv(store, store.grades, grade_form(), dog_id),
        "movement.csv": book_as_csv(store, store.movement, MOVEMENT_FORM, dog_id),
        "critiques.csv": book_as_csv(store, store.critiques, critique_form(Path()), dog_id),
    }


def write_texts(folder: Path, texts: dict[str, str], *, force: bool = False) -> tuple[Path, ...]:
    """Write files into a folder, all of them checked first to be free; return them.

    Raises
    ------
    RecordError
        If one exists (unless forced) or cannot be written; then none was.
    """
    taken = [name for name in texts if (folder / name).exists()]
    if taken and not force:
        raise RecordError(f"{folder / taken[0]} exists", "a new folder", do="or use --force")
    try:
        if any("/" in name for name in texts):
            (folder / FOLDER).mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        reason = str(fault.strerror)
        raise RecordError(f"cannot make {folder / FOLDER}", "a folder", reason) from fault
    for name, text in texts.items():
        write_whole(folder / name, text, force=force)
    return tuple(folder / name for name in texts)


def export_folder(
    store: Store, folder: Path, dog_id: str | None = None, *, force: bool = False
) -> tuple[Path, ...]:
    """Write readings, grades, movement and critiques into an existing folder."""
    texts = {READINGS: readings_as_csv(store, dog_id)} | entry_texts(store, dog_id)
    return write_texts(folder, texts | critique_texts(store, dog_id), force=force)


def import_file(
    store: Store, path: Path, clauses: tuple[PointClause, ...] = ()
) -> tuple[str, Imported]:
    """Take in one CSV; its heading says of what. Return that, in a word, with what was done.

    Raises
    ------
    KitError
        If the file cannot be read, or nothing of it could be stored.
    """
    names = _heading(path)
    if {"point", "grade"} <= names:
        return "grades", import_book(store, path, store.grades, grade_form(clauses))
    if {"what", "value"} <= names:
        return "observations", import_book(store, path, store.movement, MOVEMENT_FORM)
    if {"written", "standard_hash"} <= names:
        form = critique_form(path.parent)
        return "critiques", import_book(store, path, store.critiques, form)
    return "readings", import_csv(store, path)


def _heading(path: Path) -> set[str]:
    try:
        with path.open("rb") as file:
            line = file.readline().decode("utf-8-sig", errors="replace")
    except OSError as fault:
        raise DataFileError(f"cannot read {path}", "a CSV file", str(fault.strerror)) from fault
    cells = next(csv.reader([line], delimiter=max(",;\t", key=line.count)), [])
    return {cell.strip().lower() for cell in cells}


def import_folder(
    store: Store, folder: Path, clauses: tuple[PointClause, ...] = ()
) -> tuple[tuple[str, Imported], ...]:
    """Take in a folder or package that the records wrote; return what each file brought.

    Raises
    ------
    KitError
        If there is nothing to take in, or a file cannot be read.
    """
    files = (READINGS, "grades.csv", "movement.csv", "critiques.csv")
    found = [folder / name for name in files if (folder / name).is_file()]
    if not found:
        raise DataFileError(f"{folder} holds no records", " or ".join(files), "other files")
    people, untold = take_people(store, folder)
    (name, first), *others = (import_file(store, path, clauses) for path in found)
    owners, homeless = take_owners(store, folder)
    first = replace(
        first,
        dogs=first.dogs + people.dogs,
        sessions=first.sessions + people.sessions,
        completed=first.completed + people.completed,
        owners=owners,
        untold=(*untold, *homeless),
    )
    return ((name, first), *others)
