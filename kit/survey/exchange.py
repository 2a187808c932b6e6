"""A survey for others: CSV, Parquet, Darwin Core."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import write_rows
from kit.quantities.errors import DataFileError
from kit.survey.dogs import SurveyTable
from kit.survey.parquet import RIGHT

Array = NDArray[np.float64]
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

    A measurement of which some right side was taken has a column for each side.

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
    for name, values in value_columns(table):
        columns[name] = pa.array(values, from_pandas=True)
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
    key = name.removesuffix(RIGHT)
    if key not in catalogue.measurements:
        return None
    definition = catalogue.measurement(key)
    side = ", right side" if name != key else ""
    return {"ucum": definition.kind.unit, "title": definition.title + side}


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
            yield [f"{one.dog}/{number}", one.dog, one.measurement, f"{one.value:.10g}",
                   f"{errors[one.measurement][place]:.3g}", definition.kind.unit, one.measurer,
                   one.time or table.year[place], definition.how, remark]  # fmt: skip
        return
    for name, values in value_columns(table):
        key = name.removesuffix(RIGHT)
        side = "right" if name != key else ("left" if key in table.sides else "")
        definition = catalogue.measurement(key)
        for place in np.flatnonzero(np.isfinite(values)).tolist():
            yield [f"{table.dogs[place]}/{name}", table.dogs[place], key, f"{values[place]:.10g}",
                   f"{errors[key][place]:.3g}", definition.kind.unit, "", table.year[place],
                   definition.how, side]  # fmt: skip


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


FACT_COLUMNS = ("sex", "age_months", "line", "year")
READING_COLUMNS = ("dog", "measurement", "value", "unit", "side", "stand", "measurer",
                   "instrument", *FACT_COLUMNS)  # fmt: skip


def write_readings(table: SurveyTable, path: Path) -> Path:
    """Write a survey as CSV, formulas made harmless; `read_survey` reads it back as it was.

    A survey of readings gives one row a reading, exactly as written; a survey of values one row a
    dog, a column a measurement.
    """
    _write(path, survey_columns(table), survey_rows(table))
    return path


def survey_columns(table: SurveyTable) -> tuple[str, ...]:
    """Return the columns of a survey as text."""
    if table.readings:
        return READING_COLUMNS
    return ("dog", *FACT_COLUMNS, *(name for name, _ in value_columns(table)))


def survey_rows(table: SurveyTable) -> Iterator[list[str]]:
    """Yield a survey as text, a row a reading or a row a dog, in `survey_columns`."""
    facts = list(zip(table.sex, (_months(age) for age in table.age_months.tolist()),
                     table.line, table.year, strict=True))  # fmt: skip
    if table.readings:
        places = {dog: place for place, dog in enumerate(table.dogs)}
        for one in table.readings:
            yield [one.dog, one.measurement, one.raw, one.unit, one.side, one.stand, one.measurer,
                   one.instrument, *facts[places[one.dog]]]  # fmt: skip
        return
    columns = [column.tolist() for _, column in value_columns(table)]
    for dog, known, *values in zip(table.dogs, facts, *columns, strict=True):
        yield [dog, *known, *("" if math.isnan(value) else repr(value) for value in values)]


def _months(age: float) -> str:
    return "" if math.isnan(age) else f"{age:.10g}"


def value_columns(table: SurveyTable) -> list[tuple[str, Array]]:
    """Return names and values of the measurements; one of which a right side was taken has two."""
    columns = []
    for key, values in table.values.items():
        sides = table.sides.get(key)
        columns.append((key, sides.left if sides else values))
        if sides:
            columns.append((f"{key}{RIGHT}", sides.right))
    return columns


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
