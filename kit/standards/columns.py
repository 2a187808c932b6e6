"""Small tables a hand fills in: a CSV with named columns, bad rows reported and the rest kept."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from kit.protocol.reading_files import MAXIMUM_CELL, WITHDRAWN, RowProblem, unprotect
from kit.quantities.errors import DataFileError, KitError

T = TypeVar("T")
Cells = Mapping[str, str]


@dataclass(frozen=True)
class Sheet(Generic[T]):
    """What a file held: its rows as understood, and the rows that could not be used."""

    rows: tuple[T, ...]
    problems: tuple[RowProblem, ...]


def read_sheet(path: Path, required: Sequence[str], make: Callable[[Cells], T]) -> Sheet[T]:
    """Read a CSV (commas, semicolons or tabs) whose first row names the columns.

    Parameters
    ----------
    required : sequence of str
        Columns that have to be there; a missing one raises.
    make : callable
        Makes one value of a row's cells by column; a KitError from it becomes a problem of the
        row, in the column a ColumnError names.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a column.
    """
    rows: list[T] = []
    problems: list[RowProblem] = []
    for number, cells in _counting(_lines(path, required)):
        try:
            rows.append(make(cells))
        except ColumnError as fault:
            problems.append(_problem(path, number, fault.column, fault, cells))
        except KitError as fault:
            problems.append(_problem(path, number, required[-1], fault, cells))
    return Sheet(tuple(rows), tuple(problems))


def _counting(lines: list[tuple[int, Cells]]) -> list[tuple[int, Cells]]:
    """Leave out rows that another row of a file of the records supersedes, and withdrawn ones."""
    superseded = {cells.get("supersedes", "") for _, cells in lines} - {""}
    return [
        (number, cells)
        for number, cells in lines
        if cells.get("withdrawn") != WITHDRAWN and cells.get("entry_id") not in superseded
    ]


class ColumnError(DataFileError):
    """A cell that cannot be used; `column` names where it stands."""

    def __init__(self, column: str, what: str, needed: str = "", given: str = "", do: str = ""):
        super().__init__(what, needed, given, do)
        self.column = column


def _problem(path: Path, number: int, column: str, fault: KitError, cells: Cells) -> RowProblem:
    return RowProblem(path.name, number, column, str(fault), cells.get("dog", ""))


def _lines(path: Path, required: Sequence[str]) -> list[tuple[int, Cells]]:
    text = _text(path)
    heading = text.partition("\n")[0]
    rows = csv.reader(text.splitlines(), delimiter=max(",;\t", key=heading.count))
    names = [cell.strip().lower() for cell in next(rows, [])]
    missing = [name for name in required if name not in names]
    if missing:
        raise DataFileError(f"{path.name} lacks the column {' and '.join(missing)}",
                            ", ".join(required), ", ".join(names) or "an empty file",
                            "name the columns in the first row")  # fmt: skip
    return [
        (number, _cells(names, row))
        for number, row in enumerate(rows, start=2)
        if any(cell.strip() for cell in row)
    ]


def _cells(names: Sequence[str], row: Sequence[str]) -> Cells:
    padded = [*row, *[""] * (len(names) - len(row))]
    return {
        name: unprotect(cell.strip())[:MAXIMUM_CELL]
        for name, cell in zip(names, padded, strict=False)
        if name
    }


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as fault:
        raise DataFileError(f"cannot read {path}", "a CSV file", str(fault.strerror),
                            "check the name") from fault  # fmt: skip
    except UnicodeDecodeError as fault:
        raise DataFileError(f"{path.name} is not a CSV text file", "UTF-8 text", str(fault),
                            "export it as CSV UTF-8") from fault  # fmt: skip
