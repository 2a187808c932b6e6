"""What is recorded beside readings: points graded by eye, movement, and saved critiques.

They are rows as readings are: with an identity, never changed, superseded by rows of their own.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Generic, Protocol, TypeVar

from sqlalchemy import Table

from kit.movement.observations import Observation, make_observation
from kit.quantities.errors import KitError
from kit.records import schema
from kit.records.errors import RecordError
from kit.records.rows import Kind
from kit.records.values import check_moment, check_text
from kit.standards.points import Grade, make_grade, point

MAXIMUM_CRITIQUE = 1_000_000
_LINKS = ("number", "id", "dog_id", "session_id", "supersedes", "withdrawn", "stored_at")


class Content(Protocol):
    """A frozen dataclass whose first field is the name of a dog."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def dog(self) -> str:
        """The dog's name."""


C = TypeVar("C", bound=Content)


@dataclass(frozen=True)
class Stored(Generic[C]):
    """One row of the record.

    Attributes
    ----------
    content : Grade, Observation or SavedCritique
        `content.dog` is the dog's name as it stands now; `dog` is its identity.
    session : str
        Identity of the session; empty for a critique, which belongs to none.
    supersedes : str
        Identity of the row this one corrects, withdraws or restores; empty for a first one.
    withdrawn : bool
        True on a row that takes its predecessor back.
    stored_at : str
        ISO 8601, UTC, to the microsecond.
    """

    id: str
    dog: str
    session: str
    content: C
    supersedes: str
    withdrawn: bool
    stored_at: str


@dataclass(frozen=True)
class SavedCritique:
    """A critique as its author left it; make one with `critique_to_save`.

    Attributes
    ----------
    written : str
        ISO 8601 date.
    standard : str
        Key of the standard; `standard_version` is its date and validity in words and
        `standard_hash` a SHA-256 over what it asked.
    readings_hash : str
        SHA-256 over the readings that counted then; empty where they are not in the records.
    text : str
        The text as edited.
    marks : str
        A JSON document: every sentence with the figures it rests on, and which were edited,
        added or left out.
    content_hash : str
        SHA-256 over `text` and `marks`.
    """

    dog: str
    written: str
    author: str
    form: str
    standard: str
    standard_version: str
    standard_hash: str
    kit_version: str
    readings_hash: str
    text: str
    marks: str
    content_hash: str


def critique_hash(text: str, marks: str) -> str:
    """Return the SHA-256 over a critique's text and marks."""
    return hashlib.sha256(f"{text}\0{marks}".encode()).hexdigest()


def _check_grade(grade: Grade) -> None:
    """Raise KitError unless it is a grade of a known point; its words may be a standard's own."""
    point(grade.point)
    check_text(grade.grade, "grade", required=True)
    for name in ("grader", "note"):
        check_text(getattr(grade, name), name)
    check_moment(grade.time, "time of the grade")
    make_grade("any", grade.point, grade.grade, (grade.grade,), grade.sure)


def _check_observation(one: Observation) -> None:
    """Raise KitError unless it follows from what was written."""
    for name in ("run", "observer", "note", "raw", "unit"):
        check_text(getattr(one, name), name, required=name == "raw")
    check_moment(one.time, "time of the observation")
    read = make_observation("any", one.what, one.raw, one.unit, run=one.run, pace=one.pace,
                            foot=one.foot, observer=one.observer, time=one.time,
                            note=one.note)  # fmt: skip
    if read != replace(one, dog="any"):
        raise RecordError(f"{one.what}: the value is not what was written", repr(read.value),
                          repr(one.value))  # fmt: skip


def _check_critique(critique: SavedCritique) -> None:
    """Raise KitError unless it can be kept and is what it was when it was made."""
    for name in ("form", "standard", "standard_version", "author"):
        check_text(getattr(critique, name), name)
    check_text(critique.written, "date of the critique", required=True)
    check_moment(critique.written, "date of the critique")
    _check_long(critique.text, "text of the critique")
    _check_long(critique.marks, "marks of the critique")
    found = critique_hash(critique.text, critique.marks)
    if found != critique.content_hash:
        what = f"the critique of {critique.written} is not what was stored"
        raise RecordError(what, critique.content_hash, found, "restore a backup")
    try:
        json.loads(critique.marks)
    except json.JSONDecodeError as fault:
        raise RecordError("the marks of the critique are no JSON", given=str(fault)) from fault


def _check_long(text: str, name: str) -> None:
    """Check a long text piece by piece, so that only its length has a limit of its own."""
    if not text.strip() or len(text) > MAXIMUM_CRITIQUE:
        needed = f"1 to {MAXIMUM_CRITIQUE} characters"
        raise RecordError(f"the {name} cannot be kept", needed, f"{len(text)}")
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        raise RecordError(f"the {name} holds a character that is no text", do="write it again")


def _graded_thing(grade: Grade) -> tuple[str, ...]:
    return grade.point, grade.grader


def _observed_thing(one: Observation) -> tuple[str, ...]:
    return (one.what,)


def _written_thing(_: SavedCritique) -> tuple[str, ...]:
    return ()


@dataclass(frozen=True)
class EntryKind(Generic[C]):
    """One kind of entry: its columns are the fields of its content but for the dog's name.

    Attributes
    ----------
    name : str
        What the files and the table are called.
    make : callable
        Makes a content of its fields.
    check : callable
        Raises KitError for a content that cannot be kept.
    thing : callable
        What a correction has to be of as well; `thing_words` says so.
    """

    name: str
    noun: str
    table: Table
    make: Callable[..., C]
    check: Callable[[C], None]
    thing: Callable[[C], tuple[str, ...]]
    thing_words: str
    has_session: bool = True

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns that hold the content."""
        return tuple(one.name for one in self.table.columns if one.name not in _LINKS)

    @property
    def rows(self) -> Kind[Stored[C]]:
        """How its rows lie in the table."""
        return Kind(self.noun, self.table, self._stored, self._cells)

    def named(self, row: Stored[C], name: str) -> Stored[C]:
        """Return the row with another name of its dog."""
        return replace(row, content=replace(row.content, dog=name))

    def check_rows(self, rows: Mapping[str, Stored[C]]) -> None:
        """Raise KitError if one of the rows cannot be kept."""
        for identity, row in rows.items():
            try:
                self.check(row.content)
            except KitError as fault:
                raise RecordError(f"{self.noun} {identity}", given=str(fault)) from fault

    def _stored(self, cells: Mapping[str, Any]) -> Stored[C]:
        content = self.make(dog=cells["dog_name"], **{key: cells[key] for key in self.columns})
        return Stored(
            cells["id"], cells["dog_id"], cells["session_id"] if self.has_session else "", content,
            cells["supersedes"] or "", bool(cells["withdrawn"]), cells["stored_at"],
        )  # fmt: skip

    def _cells(self, row: Stored[C]) -> dict[str, object]:
        cells: dict[str, object] = {key: getattr(row.content, key) for key in self.columns}
        if self.has_session:
            cells["session_id"] = row.session
        return cells | {"id": row.id, "dog_id": row.dog, "supersedes": row.supersedes or None,
                        "withdrawn": row.withdrawn, "stored_at": row.stored_at}  # fmt: skip


GRADES = EntryKind("grades", "grade", schema.grades, Grade, _check_grade, _graded_thing,
                   "the same point by the same grader")  # fmt: skip
MOVEMENT = EntryKind("movement", "observation", schema.movement, Observation, _check_observation,
                     _observed_thing, "the same thing in movement")  # fmt: skip
CRITIQUES = EntryKind("critiques", "critique", schema.critiques, SavedCritique, _check_critique,
                      _written_thing, "the same dog", has_session=False)  # fmt: skip
KINDS: tuple[EntryKind[Any], ...] = (GRADES, MOVEMENT, CRITIQUES)
