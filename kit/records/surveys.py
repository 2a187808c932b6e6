"""Between the records and surveys: the stored readings as a survey, a survey as a Data Package."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import write_rows
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.records.package import PackageFile, measurements_table, write_package
from kit.records.store import Store
from kit.records.ucum import OF_KIND
from kit.records.values import Dog, Session, StoredReading
from kit.survey.dogs import PACKAGED, SurveyTable, survey_of
from kit.survey.exchange import survey_columns, survey_rows
from kit.survey.parquet import RIGHT

DAYS_A_MONTH = 365.25 / 12.0
NOTE = (
    "A survey of dogs: a row a reading exactly as written, or a row a dog with a column a "
    "measurement. A text that a spreadsheet would take for a formula carries an apostrophe in "
    "front."
)
_FIELDS: Mapping[str, Mapping[str, object]] = {
    "dog": {"type": "string", "description": "name or number of the dog",
            "constraints": {"required": True}},
    "sex": {"type": "string", "description": "dog, bitch or empty"},
    "age_months": {"type": "number", "unit": "mo", "description": "age when measured"},
    "line": {"type": "string", "description": "line or family"},
    "year": {"type": "string", "description": "year of the survey"},
}  # fmt: skip


def survey_of_records(store: Store, catalogue: Catalogue) -> SurveyTable:
    """Return the readings that count as a survey; what is known of a dog comes from its record.

    A dog measured in several years counts with its last year alone, and the survey says how many
    readings were passed over for it. The age is that at its last session of the year; of a birth
    known only by year or month the middle is taken.

    Raises
    ------
    DataFileError
        If nothing is stored.
    """
    sessions = {session.id: session for session in store.sessions()}
    by_dog: dict[str, list[StoredReading]] = {}
    for row in store.readings():
        by_dog.setdefault(row.dog, []).append(row)
    if not by_dog:
        raise DataFileError("no readings are stored", do="import some, or name another --database")
    names = _names(dog for dog in store.dogs() if dog.id in by_dog)
    readings: list[Reading] = []
    facts: dict[str, Mapping[str, str]] = {}
    earlier = 0
    for dog in (one for one in store.dogs() if one.id in by_dog):
        rows = by_dog[dog.id]
        last = max((sessions[row.session] for row in rows), key=lambda one: one.started)
        kept = [row for row in rows if sessions[row.session].started[:4] == last.started[:4]]
        earlier += len(rows) - len(kept)
        facts[names[dog.id]] = _facts(dog, last)
        readings += [_reading(row, names[dog.id]) for row in kept]
    passed = (f"{earlier} readings of earlier years were passed over",) if earlier else ()
    return survey_of(readings, facts, catalogue, passed)


def _names(dogs: Iterable[Dog]) -> dict[str, str]:
    """Return a name for each dog; where two are alike, with the start of their identity."""
    every = list(dogs)
    alike = {one.name for one in every if sum(other.name == one.name for other in every) > 1}
    return {
        one.id: f"{one.name} ({one.id[:8]})" if one.name in alike else one.name for one in every
    }


def _facts(dog: Dog, last: Session) -> dict[str, str]:
    facts = {"sex": dog.sex, "year": last.started[:4]}
    if dog.born:
        days = (_day(last.started) - _day(dog.born)).days
        facts["age_months"] = f"{max(0.0, days / DAYS_A_MONTH):.1f}"
    return facts


def _day(written: str) -> date:
    """Return a date; of a year or a month alone its middle."""
    parts = [int(part) for part in written[:10].split("-")]
    middle = [*parts, 7, 1] if len(parts) == 1 else [*parts, 15]
    return date(*middle[:3])


def _reading(row: StoredReading, dog: str) -> Reading:
    """Name the dog, and tell the stands of one session from those of another."""
    return replace(row.reading, dog=dog, stand=f"{row.session[:8]} {row.reading.stand}")


def export_survey(
    table: SurveyTable, folder: Path, catalogue: Catalogue, *, force: bool = False
) -> tuple[Path, ...]:
    """Write a survey as a Frictionless Data Package; `read_survey` reads the folder back.

    Raises
    ------
    RecordError
        If the folder holds a package already (unless forced) or cannot be written.
    """
    columns = survey_columns(table)
    text = io.StringIO(newline="")
    write_rows(text, columns, survey_rows(table))
    links = (("measurement", "measurements", "key"),) if table.readings else ()
    fields = {name: _field(name, catalogue) for name in columns if _described(name, catalogue)}
    survey = PackageFile(PACKAGED.removesuffix(".csv"), columns, "" if table.readings else "dog",
                         text.getvalue(), links, fields)  # fmt: skip
    head = {"name": "conformation-survey", "title": "Conformation survey", "description": NOTE}
    return write_package(folder, head, [survey, measurements_table()], force=force)


def _described(name: str, catalogue: Catalogue) -> bool:
    return name in _FIELDS or name.removesuffix(RIGHT) in catalogue.measurements


def _field(name: str, catalogue: Catalogue) -> Mapping[str, object]:
    if name in _FIELDS:
        return _FIELDS[name]
    definition = catalogue.measurement(name.removesuffix(RIGHT))
    side = ", right side" if name.endswith(RIGHT) else ""
    return {"type": "number", "unit": OF_KIND[definition.kind],
            "description": definition.title + side}  # fmt: skip
