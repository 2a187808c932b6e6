"""A survey for others: Parquet, Darwin Core, and a copy that names nobody."""

from __future__ import annotations

import io
import math
import secrets
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import write_rows
from kit.quantities.errors import DataFileError
from kit.survey.dogs import SurveyTable, reordered

FEWEST_ALIKE = 5
"""Dogs that share everything said of them; fewer may be known by it (common practice)."""
AGES = np.array([0.0, 12.0, 36.0, 84.0])
"""Months from which a dog counts as of the next age class: puppy, young, grown, old."""
MEASUREMENT_TERMS = ("measurementID", "occurrenceID", "measurementType", "measurementValue",
                     "measurementAccuracy", "measurementUnit", "measurementDeterminedBy",
                     "measurementDeterminedDate", "measurementMethod",
                     "measurementRemarks")  # fmt: skip
OCCURRENCE_TERMS = ("occurrenceID", "basisOfRecord", "scientificName", "sex", "lifeStage",
                    "eventDate", "occurrenceRemarks")  # fmt: skip
DARWIN_CORE = "http://rs.tdwg.org/dwc/terms/"
_SEX = {"dog": "male", "bitch": "female"}


def write_parquet(table: SurveyTable, path: Path, catalogue: Catalogue) -> Path:
    """Write a survey as Parquet, a row a dog; each column's metadata holds its UCUM code.

    Raises
    ------
    DataFileError
        If the file cannot be written.
    """
    columns: dict[str, pa.Array] = {
        "dog": pa.array(table.dogs),
        "sex": pa.array(table.sex),
        "age_months": pa.array(table.age_months, from_pandas=True),
        "line": pa.array(table.line),
        "year": pa.array(table.year),
    }
    for key, values in table.values.items():
        columns[key] = pa.array(values, from_pandas=True)
    fields = [
        pa.field(name, column.type, metadata=_metadata(name, catalogue))
        for name, column in columns.items()
    ]
    try:
        pq.write_table(pa.table(columns, schema=pa.schema(fields)), path)
    except OSError as fault:
        raise DataFileError(f"cannot write {path}", given=str(fault)) from fault
    return path


def _metadata(name: str, catalogue: Catalogue) -> Mapping[str, str] | None:
    if name not in catalogue.measurements:
        return None
    definition = catalogue.measurement(name)
    return {"ucum": definition.kind.unit, "title": definition.title}


def write_darwin_core(table: SurveyTable, folder: Path, catalogue: Catalogue) -> tuple[Path, ...]:
    """Write a Darwin Core Archive folder: occurrences, measurements or facts, and `meta.xml`.

    Units are UCUM codes. A survey of readings gives one row a reading as written; a survey of
    values one row a value. The accuracy is the standard uncertainty of the dog's value.

    Source: Darwin Core quick reference guide, terms of Occurrence and MeasurementOrFact; Darwin
    Core text guide (meta.xml); both from memory.
    """
    _make(folder)
    written = {
        "occurrence.csv": (OCCURRENCE_TERMS, _occurrences(table)),
        "measurementorfact.csv": (MEASUREMENT_TERMS, _measurements(table, catalogue)),
    }
    for name, (terms, rows) in written.items():
        _write(folder / name, terms, rows)
    (folder / "meta.xml").write_text(_meta(), encoding="utf-8")
    return tuple(folder / name for name in (*written, "meta.xml"))


def _occurrences(table: SurveyTable) -> Iterator[list[str]]:
    for place, dog in enumerate(table.dogs):
        age = table.age_months[place]
        stage = "" if math.isnan(age) else ("adult" if age >= 12 else "juvenile")
        remark = f"line {table.line[place]}" if table.line[place] else ""
        yield [dog, "HumanObservation", "Canis lupus familiaris", _SEX.get(table.sex[place], ""),
               stage, table.year[place], remark]  # fmt: skip


def _measurements(table: SurveyTable, catalogue: Catalogue) -> Iterator[list[str]]:
    places = {dog: place for place, dog in enumerate(table.dogs)}
    errors = {key: table.error(key) for key in table.values}
    if table.readings:
        for number, one in enumerate(table.readings, start=1):
            place = places[one.dog]
            remark = f"stand {one.stand}" + (f", {one.side}" if one.side else "")
            definition = catalogue.measurement(one.measurement)
            yield [f"{one.dog}/{number}", one.dog, one.measurement, f"{one.value:g}",
                   f"{errors[one.measurement][place]:.3g}", definition.kind.unit, one.measurer,
                   one.time or table.year[place], definition.how, remark]  # fmt: skip
        return
    for key, values in table.values.items():
        definition = catalogue.measurement(key)
        for place in np.flatnonzero(np.isfinite(values)).tolist():
            yield [f"{table.dogs[place]}/{key}", table.dogs[place], key, f"{values[place]:g}",
                   f"{errors[key][place]:.3g}", definition.kind.unit, "", table.year[place],
                   definition.how, ""]  # fmt: skip


def _meta() -> str:
    def part(tag: str, row_type: str, name: str, terms: tuple[str, ...], link: str) -> str:
        fields = "\n".join(
            f'    <field index="{place}" term="{DARWIN_CORE}{term}"/>'
            for place, term in enumerate(terms)
        )
        return (
            f'  <{tag} encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\r\\n" '
            f'fieldsEnclosedBy="&quot;" ignoreHeaderLines="1" rowType="{DARWIN_CORE}{row_type}">\n'
            f"    <files><location>{name}</location></files>\n    {link}\n{fields}\n  </{tag}>"
        )

    core = part("core", "Occurrence", "occurrence.csv", OCCURRENCE_TERMS, '<id index="0"/>')
    facts = part("extension", "MeasurementOrFact", "measurementorfact.csv", MEASUREMENT_TERMS,
                 '<coreid index="1"/>')  # fmt: skip
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<archive xmlns="http://rs.tdwg.org/dwc/text/">\n{core}\n{facts}\n</archive>\n'
    )


@dataclass(frozen=True)
class Anonymous:
    """A survey that names nobody, and what could still give a dog away.

    Attributes
    ----------
    rare : tuple of (facts, count)
        Combinations of sex, age, line and year that fewer than `FEWEST_ALIKE` dogs share.
    """

    table: SurveyTable
    rare: tuple[tuple[str, int], ...]


def anonymised(table: SurveyTable, *, keep_rare: bool = False) -> Anonymous:
    """Return a survey with dogs, lines and measurers re-keyed at random and remarks removed.

    The keys are drawn anew each time and kept nowhere, so nobody can turn them back. Ages are
    rounded down to the start of their class. What rare combinations say is blanked (line first,
    then age), unless kept; they are listed in either case.
    """
    lines = _keys(table.line, "line")
    hands = _keys([one.measurer for one in table.readings], "measurer")
    dogs = {dog: f"dog-{secrets.token_hex(6)}" for dog in table.dogs}
    readings = tuple(
        replace(one, dog=dogs[one.dog], measurer=hands.get(one.measurer, ""), note="", time="")
        for one in table.readings
    )
    ages = np.where(np.isnan(table.age_months), np.nan, AGES[_age_classes(table.age_months)])
    bare = replace(
        table, dogs=tuple(dogs[dog] for dog in table.dogs),
        line=tuple(lines.get(line, "") for line in table.line),
        age_months=ages, readings=readings, problems=(),
    )  # fmt: skip
    rare = tuple((_said(facts), count) for facts, count in _rare(bare).items())
    return Anonymous(_shuffled(bare if keep_rare else _blanked(bare)), rare)


def _age_classes(months: NDArray[np.float64]) -> NDArray[np.intp]:
    return np.maximum(np.searchsorted(AGES, np.nan_to_num(months), side="right") - 1, 0)


def _keys(words: tuple[str, ...] | list[str], name: str) -> dict[str, str]:
    known = sorted(set(words) - {""})
    numbers = secrets.SystemRandom().sample(range(1, len(known) + 1), len(known))
    return {word: f"{name} {number}" for word, number in zip(known, numbers, strict=True)}


Facts = tuple[str, str, str, str]


def _facts(table: SurveyTable) -> list[Facts]:
    ages = ["" if math.isnan(age) else f"{age:g}" for age in table.age_months]
    return list(zip(table.sex, ages, table.line, table.year, strict=True))


def _rare(table: SurveyTable) -> dict[Facts, int]:
    return {f: n for f, n in sorted(Counter(_facts(table)).items()) if n < FEWEST_ALIKE}


def _said(facts: Facts) -> str:
    sex, age, line, year = facts
    parts = (sex, f"{age} months" if age else "", line, year)
    return ", ".join(part for part in parts if part) or "nothing known"


def _blanked(table: SurveyTable) -> SurveyTable:
    for name in ("line", "age_months"):
        rare = _rare(table)
        hit = np.array([facts in rare for facts in _facts(table)])
        if name == "line":
            line = tuple("" if gone else word for word, gone in zip(table.line, hit, strict=True))
            table = replace(table, line=line)
        else:
            table = replace(table, age_months=np.where(hit, np.nan, table.age_months))
    return table


def _shuffled(table: SurveyTable) -> SurveyTable:
    """Put the dogs in an order that says nothing; readings follow their dogs."""
    order = np.array(secrets.SystemRandom().sample(range(len(table)), len(table)), dtype=np.intp)
    return reordered(table, order)


def write_readings(table: SurveyTable, path: Path) -> Path:
    """Write a survey of readings as CSV, formulas made harmless; read it with `read_survey`."""
    places = {dog: place for place, dog in enumerate(table.dogs)}
    columns = ("dog", "measurement", "value", "unit", "side", "stand", "measurer", "instrument",
               "sex", "age_months", "line", "year")  # fmt: skip

    def rows() -> Iterator[list[str]]:
        for one in table.readings:
            at = places[one.dog]
            age = table.age_months[at]
            yield [one.dog, one.measurement, one.raw, one.unit, one.side, one.stand, one.measurer,
                   one.instrument, table.sex[at], "" if math.isnan(age) else f"{age:g}",
                   table.line[at], table.year[at]]  # fmt: skip

    _write(path, columns, rows())
    return path


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise DataFileError(f"cannot make {folder}", given=str(fault.strerror)) from fault


def _write(path: Path, columns: tuple[str, ...], rows: Iterator[list[str]]) -> None:
    text = io.StringIO(newline="")
    write_rows(text, columns, rows)
    try:
        path.write_text(text.getvalue(), encoding="utf-8", newline="")
    except OSError as fault:
        raise DataFileError(f"cannot write {path}", given=str(fault.strerror)) from fault
