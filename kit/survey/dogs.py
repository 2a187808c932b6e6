"""A survey in memory: what was measured of every dog, what is known of it, and its traits."""

from __future__ import annotations

import csv
import gzip
import io
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
from numpy.typing import NDArray

from kit.estimation.repeats import Estimate, estimates_of
from kit.protocol.catalogue import Catalogue
from kit.protocol.reading_files import ReadingFile, by_dog, read_csv
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.survey.parquet import FACTS, SEXES, UNKNOWN, Batch, SurveyFile
from kit.survey.program import TraitColumn, compile_program
from kit.survey.spread import Spread, spread_of_column, spread_of_estimates
from kit.traits.declarations import traits
from kit.traits.inputs import scale_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
LARGEST_TEXT = 200_000_000


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
        In cm, degrees and kilograms; nan where nothing was measured.
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
    """Read a survey: Parquet (a row a dog) or CSV, also gzipped (a row a reading).

    A CSV has the columns of a file of readings, and sex, age_months, line and year of the dog.

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
        return _from_columns(SurveyFile(path, catalogue), catalogue, readings)
    text = _text(path)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name.removesuffix(".gz")
        copy.write_text(text, encoding="utf-8", newline="")
        file = read_csv(copy, catalogue)
    return _from_readings(file, _facts(text), catalogue)


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()
        if path.suffix == ".gz":
            with gzip.open(io.BytesIO(raw)) as opened:
                raw = opened.read(LARGEST_TEXT)
        return raw.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError, EOFError) as fault:
        raise DataFileError(f"cannot read {path.name}", "CSV text (UTF-8), .csv.gz or .parquet",
                            str(fault)) from fault  # fmt: skip


def _facts(text: str) -> dict[str, dict[str, str]]:
    """Return what the file says of each dog; the first word on it counts."""
    heading = text.partition("\n")[0]
    delimiter = max(",;\t", key=heading.count)
    facts: dict[str, dict[str, str]] = {}
    for row in csv.DictReader(io.StringIO(text), delimiter=delimiter):
        own = facts.setdefault((row.get("dog") or "").strip(), {})
        for name in FACTS[1:]:
            if row.get(name) and not own.get(name):
                own[name] = str(row[name]).strip()
    return facts


def _from_readings(
    file: ReadingFile, facts: Mapping[str, Mapping[str, str]], catalogue: Catalogue
) -> SurveyTable:
    groups = dict(by_dog(file.readings))
    if not groups:
        raise DataFileError("the survey has no usable reading", do="see the rows it names")
    found = [_one_side(estimates_of(rows, catalogue)) for rows in groups.values()]
    keys = [key for key in catalogue.measurements if any(key in one for one in found)]
    rows = {key: [one.get(key) for one in found] for key in keys}
    values = {key: np.array([np.nan if e is None else e.value for e in rows[key]]) for key in keys}
    spreads = {key: spread_of_estimates(key, rows[key]) for key in keys}
    own = [facts.get(dog, {}) for dog in groups]
    table = SurveyTable(
        tuple(groups),
        tuple(_sex(one.get("sex", "")) for one in own),
        tuple(one.get("line", "") for one in own),
        tuple(one.get("year", "") for one in own),
        np.array([_number(one.get("age_months", "")) for one in own]),
        values, spreads, {}, file.readings, tuple(str(row) for row in file.problems),
    )  # fmt: skip
    return with_traits(table, catalogue)


def _one_side(estimates: Mapping[tuple[str, str], Estimate]) -> dict[str, Estimate]:
    """Take a sided measurement from the left, or from the right where only that was measured."""
    chosen: dict[str, Estimate] = {}
    for (key, side), one in estimates.items():
        if key not in chosen or side != "right":
            chosen[key] = one
    return chosen


def _sex(word: str) -> str:
    return word.lower() if word.lower() in SEXES else ""


def _number(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        return float("nan")


def _from_columns(file: SurveyFile, catalogue: Catalogue, readings: int) -> SurveyTable:
    facts = pq.read_table(file.path, columns=list(file.facts)).to_pydict()
    columns: dict[str, list[Array]] = {key: [] for key in file.measurements}
    for batch in file.batches(100_000):
        for key, part in batch.values.items():
            columns[key].append(part)
    values = {key: np.concatenate(parts) for key, parts in columns.items() if parts}
    nothing = [""] * file.rows
    table = SurveyTable(
        tuple(str(one) for one in facts.get("dog", range(1, file.rows + 1))),
        tuple(_sex(str(one or "")) for one in facts.get("sex", nothing)),
        tuple(str(one or "") for one in facts.get("line", nothing)),
        tuple("" if one is None else str(one) for one in facts.get("year", nothing)),
        np.array([np.nan if one is None else float(one) for one in facts["age_months"]])
        if "age_months" in facts
        else np.full(file.rows, np.nan),
        values,
        {key: spread_of_column(key, column, catalogue, readings) for key, column in values.items()},
        {},
    )
    return with_traits(table, catalogue)


def with_traits(table: SurveyTable, catalogue: Catalogue) -> SurveyTable:
    """Return the survey with every trait its columns allow, degrees of freedom included."""
    program = compile_program(table.values, catalogue, sample=table.values, with_dof=traits())
    return replace(table, traits=program.run(table.values, table.spreads))


def subset(table: SurveyTable, kept: Flags) -> SurveyTable:
    """Return some dogs of a survey, each with its readings."""
    return reordered(table, np.flatnonzero(kept))


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
    )


def _at(words: Sequence[str], places: NDArray[np.intp]) -> tuple[str, ...]:
    return tuple(words[place] for place in places.tolist())


def _spread_at(one: Spread, places: NDArray[np.intp]) -> Spread:
    return Spread(*(part[places] if isinstance(part, np.ndarray) else part
                    for part in (one.variance, one.fourth)))  # fmt: skip


def _trait_at(one: TraitColumn, places: NDArray[np.intp]) -> TraitColumn:
    dof = None if one.dof is None else one.dof[places]
    return TraitColumn(one.key, one.values[places], one.uncertainties[places], dof)
