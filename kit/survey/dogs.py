"""A survey in memory: what was measured of every dog, what is known of it, and its traits."""

from __future__ import annotations

import gzip
import tempfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
from numpy.typing import NDArray

from kit.estimation.repeats import Estimate, estimates_of
from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import Row, by_dog, read_rows, readings_in
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.survey.parquet import FACTS, SEXES, UNKNOWN, Batch, Sides, SurveyFile
from kit.survey.program import TraitColumn, compile_program
from kit.survey.rows import readings_of_rows
from kit.survey.spread import Spread, spread_of_column, spread_of_estimates
from kit.traits.declarations import traits
from kit.traits.inputs import scale_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
LARGEST_TEXT = 200_000_000
SEX_WORDS = {"dog": "dog", "male": "dog", "m": "dog",
             "bitch": "bitch", "female": "bitch", "f": "bitch"}  # fmt: skip
PACKAGED = "survey.csv"
"""The survey in a Data Package folder."""


@dataclass(frozen=True)
class SurveyTable:
    """The dogs of a survey, one place in every column each.

    Attributes
    ----------
    dogs : tuple of str
    sex, line, year : tuple of str
        Empty where not given.
    age_months : array, shape (n,)
        nan where not given.
    values : mapping of measurement to array, shape (n,)
        In cm, degrees and kilograms; nan where nothing was measured. Of a measurement with sides
        the left, or the right where only that was measured.
    sides : mapping of measurement to Sides
        Those of which the right side of some dog was measured.
    spreads : mapping of measurement to Spread
        How sure each value is.
    traits : mapping of trait key to TraitColumn
        First-order figures (see `kit.survey.program`).
    readings : tuple of Reading
        What the values were made of; empty for a file of values.
    problems : tuple of str
        Rows of the file that could not be used.
    """

    dogs: tuple[str, ...]
    sex: tuple[str, ...]
    line: tuple[str, ...]
    year: tuple[str, ...]
    age_months: Array
    values: Mapping[str, Array]
    spreads: Mapping[str, Spread]
    traits: Mapping[str, TraitColumn]
    readings: tuple[Reading, ...] = ()
    problems: tuple[str, ...] = ()
    sides: Mapping[str, Sides] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.dogs)

    def column(self, key: str) -> Array:
        """Return the values of a trait or a measurement, shape (n,)."""
        if key in self.traits:
            return self.traits[key].values
        if key in self.values:
            return self.values[key]
        raise DataFileError(
            f"the survey has no column '{key}'", ", ".join([*self.traits, *self.values])
        )

    def figures(self) -> tuple[str, ...]:
        """Return the keys of all figures: traits, then the measurements that are no trait."""
        return (*self.traits, *(key for key in self.values if key not in self.traits))

    def error(self, key: str) -> Array:
        """Return the standard uncertainties of a trait or a measurement, shape (n,)."""
        if key in self.traits:
            return self.traits[key].uncertainties
        variance = np.broadcast_to(self.spreads[key].variance, (len(self),))
        return np.asarray(np.sqrt(variance) * scale_of(key))

    def where(self, **facts: str) -> Flags:
        """Tell which dogs have some facts, such as ``sex="dog"``; shape (n,)."""
        kept = np.ones(len(self), dtype=bool)
        for name, wanted in facts.items():
            kept &= np.array([given == wanted for given in getattr(self, name)])
        return kept

    def adults(self, from_months: float) -> Flags:
        """Tell which dogs are not known to be younger; shape (n,)."""
        return ~(self.age_months < from_months)

    def batch(self) -> Batch:
        """Return the dogs as the columns that findings are made of."""
        sex = [SEXES.index(one) if one in SEXES else UNKNOWN for one in self.sex]
        return Batch(0, len(self), self.values, np.array(sex, dtype=np.int8), self.age_months)


def read_survey(path: Path, catalogue: Catalogue, readings: int = 1) -> SurveyTable:
    """Read a survey: Parquet or CSV, also gzipped, or a Data Package folder that holds one.

    A CSV has a row a reading, with the columns of a file of readings, or a row a dog, with a
    column a measurement (in cm, degrees and kilograms unless a cell says otherwise; of one with
    sides `KEY_right` is the right one). Either may say of the dog sex, age_months, line and year.

    Parameters
    ----------
    readings : int
        Readings behind each value of a Parquet file.

    Raises
    ------
    DataFileError
        If it cannot be read.
    """
    if path.suffix == ".parquet":
        return table_of_columns(SurveyFile(path, catalogue), catalogue, readings)
    if path.is_dir():
        path = path / PACKAGED
    rows = _rows(path, catalogue)
    file = readings_in(rows, path.name, catalogue)
    if not file.readings:
        problem = f"{file.problems[0]}" if file.problems else "no rows"
        raise DataFileError(f"{path.name} holds no usable reading", given=problem)
    return survey_of(file.readings, _facts(rows), catalogue, tuple(str(p) for p in file.problems))


def _rows(path: Path, catalogue: Catalogue) -> tuple[Row, ...]:
    """Return the rows of a CSV as rows of readings."""
    if path.suffix != ".gz":
        rows = read_rows(path, required=("dog",))
    else:
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / path.name.removesuffix(".gz")
            copy.write_bytes(_unpacked(path))
            rows = read_rows(copy, required=("dog",))
    return readings_of_rows(rows, path.name, catalogue)


def _unpacked(path: Path) -> bytes:
    try:
        with gzip.open(path) as opened:
            return opened.read(LARGEST_TEXT)
    except (OSError, EOFError, zlib.error) as fault:
        raise DataFileError(f"cannot read {path.name}", "a .csv.gz file", str(fault)) from fault


def _facts(rows: Sequence[Row]) -> dict[str, dict[str, str]]:
    """Return what the file says of each dog; the first word on it counts."""
    facts: dict[str, dict[str, str]] = {}
    for row in rows:
        own = facts.setdefault(row.cells.get("dog", "").strip(), {})
        for name in FACTS[1:]:
            if row.cells.get(name) and not own.get(name):
                own[name] = row.cells[name].strip()
    return facts


def survey_of(
    readings: Sequence[Reading],
    facts: Mapping[str, Mapping[str, str]],
    catalogue: Catalogue,
    problems: tuple[str, ...] = (),
) -> SurveyTable:
    """Make a survey of readings.

    Parameters
    ----------
    facts : mapping of dog to mapping of FACTS to str
        What is known of the dogs.

    Raises
    ------
    DataFileError
        If there is no reading.
    """
    groups = dict(by_dog(readings))
    if not groups:
        raise DataFileError("the survey has no usable reading", do="see the rows it names")
    estimates = [estimates_of(rows, catalogue) for rows in groups.values()]
    found = [_one_side(one) for one in estimates]
    keys = [key for key in catalogue.measurements if any(key in one for one in found)]
    rows = {key: [one.get(key) for one in found] for key in keys}
    own = [facts.get(dog, {}) for dog in groups]
    unclear = [said for dog, one in zip(groups, own, strict=True) for said in _unclear(dog, one)]
    table = SurveyTable(
        tuple(groups),
        tuple(_sex(one.get("sex", "")) for one in own),
        tuple(one.get("line", "") for one in own),
        tuple(one.get("year", "") for one in own),
        np.array([_number(one.get("age_months", "")) for one in own]),
        {key: np.array([np.nan if e is None else e.value for e in rows[key]]) for key in keys},
        {key: spread_of_estimates(key, rows[key]) for key in keys},
        {}, tuple(readings), (*problems, *unclear), _both_sides(estimates),
    )  # fmt: skip
    return with_traits(table, catalogue)


def _both_sides(estimates: Sequence[Mapping[tuple[str, str], Estimate]]) -> dict[str, Sides]:
    keys = dict.fromkeys(key for one in estimates for key, side in one if side == "right")

    def column(key: str, side: str) -> Array:
        found = [one.get((key, side)) for one in estimates]
        return np.array([np.nan if e is None else e.value for e in found])

    return {key: Sides(column(key, "left"), column(key, "right")) for key in keys}


def _one_side(estimates: Mapping[tuple[str, str], Estimate]) -> dict[str, Estimate]:
    """Take a sided measurement from the left, or from the right where only that was measured."""
    chosen: dict[str, Estimate] = {}
    for (key, side), one in estimates.items():
        if key not in chosen or side != "right":
            chosen[key] = one
    return chosen


def _sex(word: str) -> str:
    return SEX_WORDS.get(word.strip().lower(), "")


def _number(word: str) -> float:
    try:
        return float(word.replace(",", "."))
    except ValueError:
        return float("nan")


def _unclear(dog: str, facts: Mapping[str, str]) -> Iterator[str]:
    """Say what is written of a dog that cannot be understood; it counts as not known."""
    sex, age = facts.get("sex", ""), facts.get("age_months", "")
    if sex and not _sex(sex):
        yield f"{dog}: sex '{sex}' is not understood (dog or bitch)"
    if age and np.isnan(_number(age)):
        yield f"{dog}: age_months '{age}' is not understood (a number of months)"


def table_of_columns(
    file: SurveyFile, catalogue: Catalogue, readings: int, rows: NDArray[np.intp] | None = None
) -> SurveyTable:
    """Read a Parquet file, or some rows of it in their order."""
    facts = pq.read_table(file.path, columns=list(file.facts))
    parts = [one for batch in file.batches(100_000) if (one := _picked(batch, rows)).size]
    size = file.rows if rows is None else rows.size
    values = {key: np.concatenate([part.values[key] for part in parts])
              for key in (file.measurements if parts else ())}  # fmt: skip
    sides = {
        key: Sides(*(np.concatenate([getattr(part.sides[key], side) for part in parts])
                     for side in ("left", "right")))
        for key in (parts[0].sides if parts else ())
    }  # fmt: skip
    known = (facts if rows is None else facts.take(rows)).to_pydict()
    numbers = range(1, size + 1) if rows is None else (rows + 1).tolist()
    table = SurveyTable(
        tuple(str(one) for one in known.get("dog", numbers)),
        tuple(_sex(str(one or "")) for one in known.get("sex", [""] * size)),
        tuple(str(one or "") for one in known.get("line", [""] * size)),
        tuple("" if one is None else str(one) for one in known.get("year", [""] * size)),
        np.array([np.nan if one is None else float(one)
                  for one in known.get("age_months", [None] * size)], dtype=np.float64),
        values,
        {key: spread_of_column(key, column, catalogue, readings) for key, column in values.items()},
        {},
        sides=sides,
    )  # fmt: skip
    return with_traits(table, catalogue)


def _picked(batch: Batch, rows: NDArray[np.intp] | None) -> Batch:
    """Return those dogs of a batch whose numbers in the file are among some."""
    if rows is None:
        return batch
    ends = np.searchsorted(rows, [batch.start, batch.start + batch.size])
    places = rows[ends[0] : ends[1]] - batch.start
    return Batch(
        batch.start, places.size, {key: column[places] for key, column in batch.values.items()},
        sides={key: one.at(places) for key, one in batch.sides.items()},
    )  # fmt: skip


def with_traits(table: SurveyTable, catalogue: Catalogue) -> SurveyTable:
    """Return the survey with every trait its columns allow, degrees of freedom included."""
    program = compile_program(table.values, catalogue, sample=table.values, with_dof=traits())
    return replace(table, traits=program.run(table.values, table.spreads))


def subset(table: SurveyTable, kept: Flags | Sequence[bool]) -> SurveyTable:
    """Return some dogs of a survey, each with its readings."""
    return reordered(table, np.flatnonzero(np.asarray(kept)))


def reordered(table: SurveyTable, places: NDArray[np.intp]) -> SurveyTable:
    """Return the dogs at some places, in that order, each with its readings."""
    names = _at(table.dogs, places)
    order = {dog: place for place, dog in enumerate(names)}
    readings = sorted((r for r in table.readings if r.dog in order), key=lambda r: order[r.dog])
    return replace(
        table,
        dogs=names,
        sex=_at(table.sex, places),
        line=_at(table.line, places),
        year=_at(table.year, places),
        age_months=table.age_months[places],
        values={key: column[places] for key, column in table.values.items()},
        spreads={key: _spread_at(one, places) for key, one in table.spreads.items()},
        traits={key: _trait_at(one, places) for key, one in table.traits.items()},
        readings=tuple(readings),
        sides={key: one.at(places) for key, one in table.sides.items()},
    )


def _at(words: Sequence[str], places: NDArray[np.intp]) -> tuple[str, ...]:
    return tuple(words[place] for place in places.tolist())


def _spread_at(one: Spread, places: NDArray[np.intp]) -> Spread:
    return Spread(*(part[places] if isinstance(part, np.ndarray) else part
                    for part in (one.variance, one.fourth)))  # fmt: skip


def _trait_at(one: TraitColumn, places: NDArray[np.intp]) -> TraitColumn:
    dof = None if one.dof is None else one.dof[places]
    return TraitColumn(one.key, one.values[places], one.uncertainties[places], dof)
