"""A table with a row a dog, as a club keeps it in a spreadsheet, taken apart into readings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from kit.protocol.catalogue import Catalogue, did_you_mean
from kit.protocol.reading_files import Row
from kit.quantities.errors import DataFileError
from kit.survey.parquet import FACTS, RIGHT

_BARE = re.compile(r"\s*[+-]?\d+([.,]\d+)?(e[+-]?\d+)?\s*", re.ASCII)
ABOUT_THE_ROW = ("stand", "measurer", "instrument", "time", "note")


def readings_of_rows(rows: Sequence[Row], name: str, catalogue: Catalogue) -> tuple[Row, ...]:
    """Return rows of readings; a table with a row a dog is taken apart, cell by cell.

    Raises
    ------
    DataFileError
        If it is neither: no column of measurements, or one that nobody knows.
    """
    columns = tuple(rows[0].cells) if rows else ()
    if "measurement" in columns and "value" in columns:
        return tuple(rows)
    sides = {f"{key}{RIGHT}": key for key, one in catalogue.measurements.items() if one.sided}
    known = {**sides, **{key: key for key in catalogue.measurements}}
    unknown = [one for one in columns if one not in {*known, *FACTS, *ABOUT_THE_ROW}]
    if unknown or not set(columns) & set(known):
        raise DataFileError(
            f"{name} is no survey",
            "columns dog, measurement and value, or dog and a column for each measurement",
            ", ".join(unknown or columns) or "an empty file",
            did_you_mean((unknown or ["?"])[0], known,
                         "conformation sheet --keys lists the measurements"),
        )  # fmt: skip
    return tuple(one for row in rows for one in _taken_apart(row, known, catalogue))


def _taken_apart(row: Row, known: Mapping[str, str], catalogue: Catalogue) -> Iterator[Row]:
    shared = {name: cell for name, cell in row.cells.items() if name not in known}
    for name, cell in row.cells.items():
        if name in known and cell.strip():
            bare = _BARE.fullmatch(cell)
            unit = catalogue.measurement(known[name]).kind.unit if bare else ""
            side = "right" if name.endswith(RIGHT) else ""
            own = {"measurement": known[name], "value": cell, "unit": unit, "side": side}
            yield Row(row.number, {**shared, **own})
