"""Export as a Frictionless Data Package: plain CSV files and a descriptor that explains them.

The descriptor follows the Data Package and Table Schema specifications, version 1, which every
reader of version 2 must accept. Units are UCUM codes, in columns of their own where they differ
from row to row. Owners are left out unless asked for.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, field, fields
from pathlib import Path
from typing import Any

from kit import __version__
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import write_rows
from kit.records.entry_files import (
    MOVEMENT_FORM,
    Form,
    critique_form,
    critique_texts,
    grade_form,
)
from kit.records.errors import RecordError
from kit.records.exchange import COLUMNS, readings_as_csv
from kit.records.folder import entry_texts, write_texts
from kit.records.store import Store
from kit.records.ucum import OF_KIND
from kit.records.values import Dog, now

DESCRIPTOR = "datapackage.json"
NOTE = (
    "Raw readings of dogs as written down, points graded by eye, movement and critiques (their "
    "texts under critiques/), with the whole history: count only rows whose status is 'current'. "
    "A text that a spreadsheet would take for a formula carries an apostrophe in front."
)
_WORDS = {
    "dog": "name of the dog", "measurement": "key of the measurement",
    "value": "the entry exactly as written", "unit": "unit written beside the entry",
    "side": "left, right or empty", "stand": "stand of the dog; readings of one share its posture",
    "measurer": "who measured", "instrument": "tool", "time": "ISO 8601", "note": "remark",
    "reading_id": "identity of the row", "dog_id": "identity of the dog",
    "session_id": "identity of the session", "session_started": "ISO 8601",
    "session_place": "place", "session_note": "remark on the session",
    "supersedes": "identity of the row this one corrects, withdraws or restores",
    "withdrawn": "yes on a row that takes its predecessor back",
    "stored_at": "when it was stored, ISO 8601, UTC",
    "status": "current, superseded or withdrawn",
    "number": "the entry in the unit of number_ucum", "number_ucum": "UCUM code of number",
    "written_ucum": "UCUM code of the (first) unit the entry was written in",
    "id": "identity", "name": "name", "sex": "dog, bitch or empty",
    "born": "ISO 8601 date, as exactly as known",
    "died": "ISO 8601 date, as exactly as known; empty for a dog that lives",
    "breed": "breed in words", "transponder": "ISO 11784 number",
    "key": "key of the measurement", "title": "its name", "kind": "length, angle or mass",
    "ucum": "UCUM code of number for this measurement",
    "how": "how it is taken", "started": "ISO 8601", "place": "place", "address": "address",
    "contact": "telephone or electronic mail", "owner_id": "identity of the owner",
    "since": "ISO 8601 date, or empty",
    "entry_id": "identity of the row", "point": "point graded by eye",
    "grade": "the grade, a word of the point's scale", "sure": "how sure the grader was",
    "grader": "who graded", "run": "which run it belongs to", "pace": "walk or trot, as asked for",
    "what": "what was observed of the dog in movement", "foot": "which foot",
    "observer": "who observed", "written": "ISO 8601 date of the critique",
    "author": "whose critique it is", "form": "short or long", "standard": "key of the standard",
    "standard_version": "its date and validity", "standard_hash": "SHA-256 over what it asked",
    "kit_version": "version of the kit", "content_hash": "SHA-256 over text and marks",
    "readings_hash": "SHA-256 over the readings that counted then",
}  # fmt: skip
_REQUIRED = {"dog", "measurement", "value", "reading_id", "dog_id", "session_id", "id", "name",
             "key", "owner_id", "entry_id", "point", "grade", "what", "written"}  # fmt: skip


@dataclass(frozen=True)
class PackageFile:
    """One table of a package.

    Attributes
    ----------
    links : tuple of (column, table, column of the table)
        What its columns point at.
    fields : mapping of column to mapping
        What the schema says of a column, where the records' own words do not.
    """

    name: str
    columns: tuple[str, ...]
    key: str
    text: str
    links: tuple[tuple[str, str, str], ...] = ()
    fields: Mapping[str, Mapping[str, object]] = field(default_factory=dict)


def export_package(store: Store, folder: Path, dog_id: str | None = None, *,
                   with_owners: bool = False, force: bool = False) -> tuple[Path, ...]:  # fmt: skip
    """Write the package into a folder and return its files.

    Raises
    ------
    RecordError
        If the folder holds a package already (unless forced) or cannot be written.
    """
    files = _files(store, dog_id, with_owners=with_owners)
    head = {"name": "conformation-records", "title": "Conformation records", "description": NOTE}
    return write_package(folder, head, files, critique_texts(store, dog_id), force=force)


def write_package(
    folder: Path,
    head: Mapping[str, str],
    files: Sequence[PackageFile],
    beside: Mapping[str, str] | None = None,
    *,
    force: bool = False,
) -> tuple[Path, ...]:
    """Write tables and the descriptor that explains them; `beside` are other texts by name.

    Raises
    ------
    RecordError
        If the folder holds a package already (unless forced) or cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise RecordError(f"cannot make {folder}", "a folder", str(fault.strerror)) from fault
    if (folder / DESCRIPTOR).exists() and not force:
        raise RecordError(f"{folder} holds a package", "a new folder", do="or use --force")
    texts = {f"{file.name}.csv": file.text for file in files} | dict(beside or {})
    texts[DESCRIPTOR] = json.dumps(_descriptor(head, files), indent=2, ensure_ascii=False) + "\n"
    return write_texts(folder, texts, force=force)


def _files(store: Store, dog_id: str | None, *, with_owners: bool) -> list[PackageFile]:
    dogs = [dog for dog in store.dogs() if dog_id in (None, dog.id)]
    used = {row.session for row in store.readings(dog_id, history=True)}
    used |= {row.session for book in store.books for row in book.all(dog_id, history=True)}
    sittings = [session for session in store.sessions() if dog_id is None or session.id in used]
    links = (("measurement", "measurements", "key"), ("dog_id", "dogs", "id"),
             ("session_id", "sessions", "id"), ("supersedes", "", "reading_id"))  # fmt: skip
    files = [
        PackageFile("readings", COLUMNS, "reading_id", readings_as_csv(store, dog_id), links),
        _table("dogs", tuple(one.name for one in fields(Dog)), [astuple(d) for d in dogs]),
        _table("sessions", ("id", "started", "place", "note"),
               [(s.id, s.started, s.place, s.note) for s in sittings]),
        measurements_table(),
        *_entries(entry_texts(store, dog_id)),
    ]  # fmt: skip
    return files + (_owners(store, {dog.id for dog in dogs}) if with_owners else [])


def _entries(texts: Mapping[str, str]) -> list[PackageFile]:
    """Return the tables of what is recorded beside readings."""
    forms: tuple[Form[Any], ...] = (grade_form(), MOVEMENT_FORM, critique_form(Path()))
    links = (("dog_id", "dogs", "id"), ("session_id", "sessions", "id"),
             ("supersedes", "", "entry_id"))  # fmt: skip
    return [
        PackageFile(form.kind.name, form.all_columns, "entry_id", texts[f"{form.kind.name}.csv"],
              tuple(link for link in links if link[0] in form.all_columns))
        for form in forms
    ]  # fmt: skip


def measurements_table() -> PackageFile:
    """Return what the keys of measurements mean, with the UCUM code of each."""
    rows = [
        (definition.key, definition.title, definition.kind.value, OF_KIND[definition.kind],
         definition.how)
        for definition in catalogue().measurements.values()
    ]  # fmt: skip
    return _table("measurements", ("key", "title", "kind", "ucum", "how"), rows)


def _owners(store: Store, dogs: set[str]) -> list[PackageFile]:
    links = [link for link in store.ownership() if link.dog in dogs]
    owning = {link.owner for link in links}
    rows = [(o.id, o.name, o.address, o.contact) for o in store.owners() if o.id in owning]
    points = (("dog_id", "dogs", "id"), ("owner_id", "owners", "id"))
    columns = ("dog_id", "owner_id", "since")
    text = _csv(columns, [(link.dog, link.owner, link.since) for link in links])
    return [
        _table("owners", ("id", "name", "address", "contact"), rows),
        PackageFile("ownership", columns, "", text, points),
    ]


def _table(name: str, columns: tuple[str, ...], rows: Iterable[Sequence[str]]) -> PackageFile:
    return PackageFile(name, columns, columns[0], _csv(columns, rows))


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO(newline="")
    write_rows(text, columns, rows)
    return text.getvalue()


def _descriptor(head: Mapping[str, str], files: Sequence[PackageFile]) -> dict[str, object]:
    return {
        "profile": "tabular-data-package",
        **head,
        "created": now(),
        "version": __version__,
        "resources": [_resource(file) for file in files],
    }


def _resource(file: PackageFile) -> dict[str, object]:
    content = file.text.encode("utf-8")
    return {
        "profile": "tabular-data-resource",
        "name": file.name,
        "path": f"{file.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": "sha256:" + hashlib.sha256(content).hexdigest(),
        "dialect": {"delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"',
                    "doubleQuote": True, "header": True},
        "schema": _schema(file),
    }  # fmt: skip


def _schema(file: PackageFile) -> dict[str, object]:
    schema: dict[str, object] = {
        "fields": [_field(file, column) for column in file.columns],
        "missingValues": [""],
    }
    if file.key:
        schema["primaryKey"] = [file.key]
    if file.links:
        schema["foreignKeys"] = [
            {"fields": [column], "reference": {"resource": table, "fields": [target]}}
            for column, table, target in file.links
        ]
    return schema


def _field(file: PackageFile, column: str) -> dict[str, object]:
    if column in file.fields:
        return {"name": column, **file.fields[column]}
    kind = "number" if column == "number" else "string"
    field: dict[str, object] = {"name": column, "type": kind, "description": _WORDS[column]}
    constraints: dict[str, object] = {}
    if column in _REQUIRED:
        constraints["required"] = True
    if column == file.key:
        constraints["unique"] = True
    return field | ({"constraints": constraints} if constraints else {})
