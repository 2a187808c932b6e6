"""Survey files in Parquet: one row a dog, one column a measurement, read a few dogs at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from numpy.typing import NDArray

from kit.protocol.catalogue import Catalogue, did_you_mean
from kit.quantities.errors import DataFileError

Array = NDArray[np.float64]
Codes = NDArray[np.int8]

SEXES = ("dog", "bitch")
UNKNOWN = -1

FACTS = ("dog", "sex", "age_months", "line", "year")
"""What a survey may say of a dog beside its measurements."""
RIGHT = "_right"
"""Ends the name of a column that holds the right side of a measurement with sides."""


@dataclass(frozen=True)
class Sides:
    """Both sides of one measurement, shape (n,) each; nan where one was not measured."""

    left: Array
    right: Array

    @property
    def either(self) -> Array:
        """Return the left side, or the right one where only that was measured."""
        return np.where(np.isnan(self.left), self.right, self.left)

    def at(self, places: NDArray[np.intp] | slice) -> Sides:
        """Return some of the dogs."""
        return Sides(self.left[places], self.right[places])


@dataclass(frozen=True)
class Batch:
    """Some dogs of a file.

    Attributes
    ----------
    start : int
        Number of the first in the file.
    values : mapping of measurement to array, shape (n,)
        In cm, degrees and kilograms; nan where nothing was measured. Of a measurement with sides
        the left, or the right where only that was measured.
    sides : mapping of measurement to Sides
        Those of which the file has a right side.
    sex : array of int8, optional
        Places in SEXES, or UNKNOWN.
    """

    start: int
    size: int
    values: Mapping[str, Array]
    sex: Codes | None = None
    age_months: Array | None = None
    sides: Mapping[str, Sides] = field(default_factory=dict)

    def part(self, at: int, size: int) -> Batch:
        """Return some of its dogs, without copying."""
        if at == 0 and size >= self.size:
            return self
        cut = slice(at, at + size)
        return Batch(
            self.start + at,
            min(size, self.size - at),
            {name: column[cut] for name, column in self.values.items()},
            None if self.sex is None else self.sex[cut],
            None if self.age_months is None else self.age_months[cut],
            {name: one.at(cut) for name, one in self.sides.items()},
        )


class SurveyFile:
    """A Parquet file of dogs.

    Attributes
    ----------
    rows : int
        How many dogs.
    measurements, facts : tuple of str
        What its columns hold.

    Raises
    ------
    DataFileError
        If it cannot be read, or a column is neither a measurement nor a fact.
    """

    def __init__(self, path: Path, catalogue: Catalogue) -> None:
        self.path = path
        try:
            with pq.ParquetFile(path) as file:
                self.rows: int = file.metadata.num_rows
                names = list(file.schema_arrow.names)
        except (OSError, pa.ArrowException) as fault:
            raise DataFileError(f"cannot read {path.name}", "a Parquet file", str(fault)) from fault
        sided = {f"{key}{RIGHT}": key for key, one in catalogue.measurements.items() if one.sided}
        known = {**catalogue.measurements, **sided, **dict.fromkeys(FACTS)}
        unknown = [name for name in names if name not in known]
        if unknown:
            raise DataFileError(f"{path.name} has a column nobody knows",
                                f"measurement keys, those with sides also ending in {RIGHT}, and "
                                + ", ".join(FACTS), ", ".join(unknown),
                                did_you_mean(unknown[0], known))  # fmt: skip
        self._columns = frozenset(names)
        keys = [sided.get(name, name) for name in names if name not in FACTS]
        self.measurements = tuple(dict.fromkeys(keys))
        self.facts = tuple(name for name in names if name in FACTS)

    def batches(
        self, size: int, needed: Sequence[str] | None = None, start: int = 0
    ) -> Iterator[Batch]:
        """Read the file in order, so many dogs at a time.

        Parameters
        ----------
        needed : sequence of str, optional
            Only these measurements.
        start : int
            Dogs to pass over.
        """
        keys = list(self.measurements if needed is None else needed)
        extra = [name for name in ("sex", "age_months") if name in self.facts]
        columns = [n for key in keys for n in (key, f"{key}{RIGHT}") if n in self._columns]
        done = 0
        coded = ["sex"] if "sex" in self.facts else []
        with pq.ParquetFile(self.path, read_dictionary=coded) as file:
            for record in file.iter_batches(size, columns=columns + extra):
                if done >= start:
                    yield _batch(record, done, keys, extra)
                done += record.num_rows


def _batch(record: pa.RecordBatch, start: int, keys: list[str], extra: list[str]) -> Batch:
    there = set(record.schema.names)
    sides = {key: _sides(record, key, there) for key in keys if f"{key}{RIGHT}" in there}
    values = {
        key: sides[key].either if key in sides else _numbers(record.column(key)) for key in keys
    }
    sex = _sexes(record.column("sex")) if "sex" in extra else None
    age = _numbers(record.column("age_months")) if "age_months" in extra else None
    return Batch(start, record.num_rows, values, sex, age, sides)


def _sides(record: pa.RecordBatch, key: str, there: set[str]) -> Sides:
    right = _numbers(record.column(f"{key}{RIGHT}"))
    left = _numbers(record.column(key)) if key in there else np.full(right.shape, np.nan)
    return Sides(left, right)


def _numbers(column: pa.Array) -> Array:
    """Return a column as floats; what is missing becomes nan."""
    if column.type != pa.float64():
        column = pc.cast(column, pa.float64())
    return np.asarray(column.to_numpy(zero_copy_only=False))


def _sexes(column: pa.Array) -> Codes:
    """Return each dog's sex as its place in SEXES, UNKNOWN where it is not given."""
    words = [(word or "").strip().lower() for word in column.dictionary.to_pylist()]
    places = [SEXES.index(word) if word in SEXES else UNKNOWN for word in words]
    codes = column.indices.fill_null(len(places)).to_numpy(zero_copy_only=False)
    return np.asarray(np.array([*places, UNKNOWN], dtype=np.int8)[codes])
