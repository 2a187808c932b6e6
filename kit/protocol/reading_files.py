"""Readings from and to CSV: one row a reading, repeats are repeated rows."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from kit.protocol.catalogue import Catalogue
from kit.protocol.readings import Reading, make_reading
from kit.quantities.errors import DataFileError, EntryError, KitError, UnitError

REQUIRED = ("dog", "measurement", "value")
OPTIONAL = ("unit", "side", "stand", "measurer", "instrument", "time", "note")
MAXIMUM_CELL = 1000


@dataclass(frozen=True)
class RowProblem:
    """A row that could not be used: where it stands and why."""

    file: str
    row: int
    column: str
    message: str
    dog: str = ""

    def __str__(self) -> str:
        return f"{self.file}, row {self.row}, column '{self.column}': {self.message}"


@dataclass(frozen=True)
class ReadingFile:
    """What a file held: its readings, and the rows that could not be used."""

    readings: tuple[Reading, ...]
    problems: tuple[RowProblem, ...]


def read_csv(path: Path, catalogue: Catalogue) -> ReadingFile:
    """Read a CSV of readings; a bad row is reported and the rest still counts.

    Rows are numbered as a spreadsheet shows them: the heading is row 1. Separators may be
    commas, semicolons or tabs.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a required column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            return _read(file, path.name, catalogue)
    except OSError as fault:
        reason = str(fault.strerror)
        raise DataFileError(
            f"cannot read {path}", "a CSV file", reason, "check the name"
        ) from fault
    except (UnicodeDecodeError, csv.Error) as fault:
        raise DataFileError(
            f"{path.name} is not a CSV text file",
            "UTF-8 text",
            str(fault),
            "export it as CSV UTF-8",
        ) from fault


def _read(file: TextIO, name: str, catalogue: Catalogue) -> ReadingFile:
    rows = csv.DictReader(file, dialect=_dialect(file), restkey="", restval="")
    _check_columns(rows.fieldnames, name)
    readings: list[Reading] = []
    problems: list[RowProblem] = []
    for row in rows:
        number = rows.line_num
        cells = {str(key).strip().lower(): _text(cell) for key, cell in row.items() if key}
        if not any(cells.values()):
            continue
        try:
            readings.append(_reading(cells, catalogue))
        except KitError as fault:
            column = _column(fault, cells, catalogue)
            problems.append(RowProblem(name, number, column, str(fault), cells["dog"]))
    return ReadingFile(tuple(readings), tuple(problems))


def _dialect(file: TextIO) -> type[csv.Dialect]:
    """Tell the separator from the heading alone: values may hold decimal commas."""

    class Dialect(csv.excel):
        pass

    heading = file.readline()
    file.seek(0)
    Dialect.delimiter = max(",;\t", key=heading.count)
    return Dialect


def _text(cell: object) -> str:
    return cell.strip()[:MAXIMUM_CELL] if isinstance(cell, str) else ""


def _check_columns(names: Iterable[str] | None, file: str) -> None:
    found = {name.strip().lower() for name in names or ()}
    missing = [name for name in REQUIRED if name not in found]
    if missing:
        raise DataFileError(
            f"{file} lacks the column {' and '.join(missing)}",
            ", ".join(REQUIRED + OPTIONAL),
            ", ".join(sorted(found)) or "an empty file",
            "name the columns in the first row",
        )


def _reading(cells: dict[str, str], catalogue: Catalogue) -> Reading:
    details = {key: cells.get(key, "") for key in OPTIONAL}
    return make_reading(catalogue, cells["dog"], cells["measurement"], cells["value"], **details)


def _column(fault: KitError, cells: dict[str, str], catalogue: Catalogue) -> str:
    """Name the column a fault belongs to."""
    if cells["measurement"] not in catalogue.measurements:
        return "measurement"
    if not cells["dog"]:
        return "dog"
    if isinstance(fault, EntryError | UnitError):
        return "unit" if "unit" in fault.what else "value"
    return "side"


def by_dog(readings: Iterable[Reading]) -> Iterator[tuple[str, tuple[Reading, ...]]]:
    """Group readings by dog, in the order the dogs first appear."""
    groups: dict[str, list[Reading]] = {}
    for reading in readings:
        groups.setdefault(reading.dog, []).append(reading)
    for dog, group in groups.items():
        yield dog, tuple(group)
