"""Readings from and to CSV: one row a reading, repeats are repeated rows.

A file written from the records carries more columns (`RECORD_COLUMNS`), so that rows keep their
identity and what was corrected or withdrawn is not counted again.

A spreadsheet takes a cell that begins with ``=``, ``+``, ``-``, ``@`` or a tab for a formula. Such
a text is written with an apostrophe before it, as a person would type it there; reading takes one
apostrophe away again. A text that itself begins with apostrophes before such a sign gets one more,
so every text comes back exactly. Plain numbers such as -5 are left alone.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from kit.protocol.catalogue import Catalogue
from kit.protocol.readings import Reading, make_reading
from kit.quantities.errors import DataFileError, EntryError, KitError, UnitError

REQUIRED = ("dog", "measurement", "value")
OPTIONAL = ("unit", "side", "stand", "measurer", "instrument", "time", "note")
RECORD_COLUMNS = ("reading_id", "dog_id", "session_id", "session_started", "session_place",
                  "session_note", "supersedes", "withdrawn", "stored_at", "status",
                  "number", "number_ucum", "written_ucum")  # fmt: skip
WITHDRAWN = "yes"
MAXIMUM_CELL = 1000
# Full-width forms are taken for the sign itself by spreadsheets set up for East Asian text.
_FORMULA = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_PLAIN_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?", re.ASCII)


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


@dataclass(frozen=True)
class Row:
    """One row exactly as written: its number as a spreadsheet shows it, and its cells by column."""

    number: int
    cells: Mapping[str, str]


def protect(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    if _FORMULA.match(cell) and not _PLAIN_NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def unprotect(cell: str) -> str:
    """Return the text that was given to `protect`."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def write_rows(file: TextIO, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a heading and rows as CSV, each cell protected; open the file with newline=""."""
    writer = csv.writer(file)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([protect(cell) for cell in row])


def read_rows(path: Path, required: Sequence[str] = REQUIRED) -> tuple[Row, ...]:
    """Read the rows of a CSV exactly as written, empty rows left out.

    The heading is row 1. Separators may be commas, semicolons or tabs.

    Parameters
    ----------
    required : sequence of str
        Columns that have to be there; usually those of readings.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a required column.
    """
    try:
        with path.open(encoding=_encoding(path), newline="") as file:
            return tuple(_rows(file, path.name, required))
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


def _rows(file: TextIO, name: str, required: Sequence[str]) -> Iterator[Row]:
    lines = csv.reader(file, dialect=_dialect(file))
    names = [cell.strip().lower() for cell in next(lines, [])]
    _check_columns(names, name, required)
    for number, line in enumerate(lines, start=2):
        cells = line + [""] * (len(names) - len(line))
        if any(cell.strip() for cell in cells):
            columns = zip(names, cells, strict=False)
            yield Row(number, {key: unprotect(cell) for key, cell in columns if key})


def read_csv(path: Path, catalogue: Catalogue) -> ReadingFile:
    """Read a CSV of readings; a bad row is reported and the rest still counts.

    Rows that another row of the file supersedes, and withdrawn ones, are left out.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a required column.
    """
    return readings_in(read_rows(path), path.name, catalogue)


def readings_in(rows: Sequence[Row], name: str, catalogue: Catalogue) -> ReadingFile:
    """Read the rows of the file `name`; a bad row is reported and the rest still counts."""
    superseded = {row.cells.get("supersedes", "").strip() for row in rows} - {""}
    readings: list[Reading] = []
    problems: list[RowProblem] = []
    for row in rows:
        cells = {key: cell.strip()[:MAXIMUM_CELL] for key, cell in row.cells.items()}
        if cells.get("withdrawn") == WITHDRAWN or cells.get("reading_id") in superseded:
            continue
        try:
            readings.append(_reading(cells, catalogue))
        except KitError as fault:
            problems.append(problem_of(fault, cells, name, row.number, catalogue))
    return ReadingFile(tuple(readings), tuple(problems))


def problem_of(
    fault: KitError, cells: Mapping[str, str], file: str, row: int, catalogue: Catalogue
) -> RowProblem:
    """Word what is wrong with one row."""
    return RowProblem(file, row, _column(fault, cells, catalogue), str(fault), cells["dog"])


def _dialect(file: TextIO) -> type[csv.Dialect]:
    """Tell the separator from the heading alone: values may hold decimal commas."""

    class Dialect(csv.excel):
        pass

    heading = file.readline()
    file.seek(0)
    Dialect.delimiter = max(",;\t", key=heading.count)
    return Dialect


def _encoding(path: Path) -> str:
    """Tell UTF-8 from what spreadsheets on Windows write: UTF-16, or code page 1252."""
    content = path.read_bytes()
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _check_columns(found: Sequence[str], file: str, required: Sequence[str]) -> None:
    missing = [name for name in required if name not in found]
    if missing:
        as_you_like = f" (and as you like {', '.join(OPTIONAL)})" if required == REQUIRED else ""
        raise DataFileError(
            f"{file} lacks the column {' and '.join(missing)}",
            ", ".join(required) + as_you_like,
            ", ".join(sorted(found)) or "an empty file",
            "name the columns in the first row",
        )


def _reading(cells: Mapping[str, str], catalogue: Catalogue) -> Reading:
    details = {key: cells.get(key, "") for key in OPTIONAL}
    return make_reading(catalogue, cells["dog"], cells["measurement"], cells["value"], **details)


def _column(fault: KitError, cells: Mapping[str, str], catalogue: Catalogue) -> str:
    """Name the column a fault belongs to."""
    if cells["measurement"] not in catalogue.measurements:
        return "measurement"
    if not cells["dog"]:
        return "dog"
    if isinstance(fault, EntryError | UnitError):
        return "unit" if "unit" in fault.what else "value"
    return next((name for name in OPTIONAL if name in fault.what), "side")


def by_dog(readings: Iterable[Reading]) -> Iterator[tuple[str, tuple[Reading, ...]]]:
    """Group readings by dog, in the order the dogs first appear."""
    groups: dict[str, list[Reading]] = {}
    for reading in readings:
        groups.setdefault(reading.dog, []).append(reading)
    for dog, group in groups.items():
        yield dog, tuple(group)
