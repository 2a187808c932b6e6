"""Grades, movement and critiques out of and into the records, exactly, as files of their own.

``grades.csv`` and ``movement.csv`` have the columns a person would write, then those that keep a
row's identity and what it supersedes. Of critiques ``critiques.csv`` says what there is; the text
and its marks stand under ``critiques/``, named by date and identity.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Generic, TypeAlias

from kit.movement.observations import Observation, kept, make_observation
from kit.protocol.reading_files import WITHDRAWN, Row, RowProblem, read_rows, write_rows
from kit.quantities.errors import DataFileError, KitError
from kit.records.arriving import People, Taking
from kit.records.book import Book
from kit.records.entries import CRITIQUES, GRADES, MOVEMENT, C, EntryKind, SavedCritique, Stored
from kit.records.exchange import Imported
from kit.records.merging import merge
from kit.records.rows import statuses
from kit.records.store import Store
from kit.records.values import Session, check_id, check_moment, now
from kit.standards.points import Grade, PointClause, make_grade, point

Cells: TypeAlias = Mapping[str, str]
FOLDER = "critiques"
LINKS = ("entry_id", "dog_id", "session_id", "session_started", "session_place", "session_note",
         "supersedes", "withdrawn", "stored_at", "status")  # fmt: skip
_SESSION = LINKS[2:6]
# The units observations are kept in, as UCUM codes; a frame is an annotated one.
_UCUM = {"m": "m", "s": "s", "deg": "deg", "1 / s": "/s", "dimensionless": "1",
         "frames": "{frame}"}  # fmt: skip


@dataclass(frozen=True)
class Form(Generic[C]):
    """How one kind stands in its CSV.

    Attributes
    ----------
    columns : tuple of str
        The columns of the content, the dog's name first.
    required : tuple of str
        Columns without which a file is not of this kind.
    cells : callable
        Gives the content's cells by column.
    exact, foreign : callable
        Make a content of the cells the records wrote, or of a file from elsewhere.
    """

    kind: EntryKind[C]
    columns: tuple[str, ...]
    required: tuple[str, ...]
    cells: Callable[[C], Cells]
    exact: Callable[[Cells], C]
    foreign: Callable[[Cells], C]

    @property
    def all_columns(self) -> tuple[str, ...]:
        """Every column of the file."""
        links = LINKS if self.kind.has_session else tuple(k for k in LINKS if k not in _SESSION)
        return self.columns + links


# Grades


def grade_form(clauses: tuple[PointClause, ...] = ()) -> Form[Grade]:
    """Return the form of grades; a standard's clauses bring its own words for them."""
    scales = {clause.point: clause.scale for clause in clauses}
    columns = ("dog", "point", "grade", "sure", "grader", "time", "note")

    def foreign(cells: Cells) -> Grade:
        scale = scales.get(cells["point"], point(cells["point"]).scale)
        rest = [cells.get(name, "") for name in columns[3:]]
        return make_grade(cells["dog"], cells["point"], cells["grade"], scale, *rest)

    def exact(cells: Cells) -> Grade:
        return Grade(*(cells.get(name, "") for name in columns))

    def written(grade: Grade) -> Cells:
        return {name: getattr(grade, name) for name in columns}

    return Form(GRADES, columns, columns[:3], written, exact, foreign)


# Movement


def _observation(cells: Cells) -> Observation:
    rest = {name: cells.get(name, "") for name in ("run", "pace", "foot", "observer", "time",
                                                   "note")}  # fmt: skip
    return make_observation(cells["dog"], cells["what"], cells["value"], cells["unit"], **rest)


def _observed_cells(one: Observation) -> Cells:
    names = ("dog", "run", "pace", "what", "unit", "foot", "observer", "time", "note")
    unit = "s" if one.in_seconds else kept()[one.what].unit
    figures = {"value": one.raw, "number": repr(one.value), "number_ucum": _UCUM[unit]}
    return {name: getattr(one, name) for name in names} | figures


MOVEMENT_FORM = Form(
    MOVEMENT,
    ("dog", "run", "pace", "what", "value", "unit", "foot", "observer", "time", "note", "number",
     "number_ucum"),
    ("dog", "what", "value", "unit"), _observed_cells, _observation, _observation,
)  # fmt: skip


# Critiques


def critique_form(folder: Path) -> Form[SavedCritique]:
    """Return the form of critiques whose texts are under a folder."""
    plain = ("dog", "written", "author", "form", "standard", "standard_version", "standard_hash",
             "kit_version", "readings_hash", "content_hash")  # fmt: skip

    def exact(cells: Cells) -> SavedCritique:
        day = check_moment(cells["written"], "date of the critique")  # before it names a file
        stem = critique_stem(day, check_id(cells["entry_id"]))
        text, marks = (_whole(folder / FOLDER / f"{stem}.{end}") for end in ("txt", "json"))
        details = {name: cells.get(name, "") for name in plain}
        return SavedCritique(text=text, marks=marks, **details)

    def foreign(_: Cells) -> SavedCritique:
        raise DataFileError("a critique without its identity", "a file the records wrote")

    def written(critique: SavedCritique) -> Cells:
        return {name: getattr(critique, name) for name in plain}

    return Form(CRITIQUES, plain, (*plain, "entry_id"), written, exact, foreign)


def critique_stem(written: str, identity: str) -> str:
    """Return the name of a critique's files: its day and its identity."""
    return f"{written[:10]}-{identity}"


def _whole(path: Path) -> str:
    try:
        with path.open(encoding="utf-8", newline="") as file:
            return file.read()
    except (OSError, UnicodeDecodeError) as fault:
        raise DataFileError(f"cannot read {path.name}", f"the critique's text under {FOLDER}/",
                            str(fault)) from fault  # fmt: skip


def critique_texts(store: Store, dog_id: str | None = None) -> dict[str, str]:
    """Return the texts and marks of every critique, by file."""
    found = {}
    for row in store.critiques.all(dog_id, history=True):
        stem = f"{FOLDER}/{critique_stem(row.content.written, row.id)}"
        found[f"{stem}.txt"], found[f"{stem}.json"] = row.content.text, row.content.marks
    return found


# Out and in


def book_as_csv(store: Store, book: Book[C], form: Form[C], dog_id: str | None = None) -> str:
    """Return the whole history of one kind, of one dog or of all, as the text of a CSV file."""
    found = book.all(dog_id, history=True)
    sessions = {session.id: session for session in store.sessions()}
    status = statuses(found)
    text = io.StringIO(newline="")
    lines = (
        {**form.cells(row.content)} | _link_cells(row, sessions.get(row.session), status[row.id])
        for row in found
    )
    write_rows(text, form.all_columns, ([line[c] for c in form.all_columns] for line in lines))
    return text.getvalue()


def _link_cells(row: Stored[Any], session: Session | None, status: str) -> dict[str, str]:
    sitting = (session.started, session.place, session.note) if session else ("", "", "")
    withdrawn = WITHDRAWN if row.withdrawn else ""
    cells = (row.id, row.dog, row.session, *sitting, row.supersedes, withdrawn, row.stored_at,
             status)  # fmt: skip
    return dict(zip(LINKS, cells, strict=True))


def import_book(store: Store, path: Path, book: Book[C], form: Form[C]) -> Imported:
    """Take in a CSV of one kind, all usable rows in one transaction; nothing is doubled.

    Raises
    ------
    KitError
        If the file cannot be read, or nothing of it could be stored.
    """
    people = People(store, path.name)
    taking = Taking(path.name, book.all(history=True), form.kind.noun, "entry_id")
    builder = _Entries(people, taking, form)
    for row in read_rows(path, form.required):
        taking.take(row, builder.build, builder.problem)
    taking.drop_orphans()
    entries = {form.kind.name: taking.found.values()}
    done = merge(store, people.dogs.values(), people.sessions.values(), (), entries)
    taking.refuse_conflicts(done.conflicts)
    return Imported(done.entries, done.entries_present, done.dogs, done.sessions,
                    taking.sorted_problems)  # fmt: skip


class _Entries(Generic[C]):
    """How a row of a file becomes an entry of the records."""

    def __init__(self, people: People, taking: Taking[Stored[C]], form: Form[C]) -> None:
        self.people, self.taking, self.form = people, taking, form

    def problem(self, fault: KitError, row: Row) -> RowProblem:
        """Word what is wrong with a row."""
        column = getattr(fault, "column", "entry_id" if row.cells.get("entry_id") else "dog")
        return RowProblem(self.taking.file, row.number, column, str(fault), row.cells["dog"])

    def build(self, row: Row) -> Stored[C]:
        """Build the stored row: exactly where the records wrote it, else forgiving."""
        return self._exact(row.cells) if row.cells.get("entry_id") else self._foreign(row.cells)

    def _exact(self, cells: Cells) -> Stored[C]:
        content = self.form.exact(cells)
        self.form.kind.check(content)
        identity, supersedes = check_id(cells["entry_id"]), cells.get("supersedes", "")
        dog = self.people.dog(cells, cells["dog"])
        return Stored(
            identity, dog, self.people.session(cells) if self.form.kind.has_session else "",
            content, check_id(supersedes) if supersedes else "",
            cells.get("withdrawn", "") == WITHDRAWN,
            check_moment(cells.get("stored_at", ""), "time of storing") or now(),
        )  # fmt: skip

    def _foreign(self, written: Cells) -> Stored[C]:
        cells = {key: cell.strip() for key, cell in written.items()}
        content = self.form.foreign(cells)
        self.form.kind.check(content)
        told = self.form.cells(content)
        identity = self.taking.identity_of(
            (self.form.kind.name, *(told[key] for key in sorted(told)))
        )
        if identity in self.taking.known:
            return self.taking.known[identity]
        dog = self.people.dog(cells, cells["dog"])
        sitting = self.people.session_or_sitting(cells, cells.get("time", "")[:10])
        return Stored(identity, dog, sitting, content, "", False, now())
