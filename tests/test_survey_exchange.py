"""Surveys passed on: nothing changed on the way, nobody named who should not be."""

from __future__ import annotations

import csv
import xml.etree.ElementTree as ElementTree
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError
from kit.standards.standard import load_standard
from kit.survey import evaluate, results
from kit.survey.anonymous import FEWEST_ALIKE, anonymised
from kit.survey.dogs import SurveyTable, read_survey, subset
from kit.survey.evaluate import plan
from kit.survey.exchange import write_darwin_core, write_parquet, write_readings
from kit.survey.parquet import SurveyFile
from kit.survey.results import write_results

DEMO = Path(__file__).parents[1] / "data" / "demo_survey.csv.gz"
# Terms of the Darwin Core quick reference guide, class MeasurementOrFact (from memory).
TERMS = {"measurementID", "measurementType", "measurementValue", "measurementAccuracy",
         "measurementUnit", "measurementDeterminedBy", "measurementDeterminedDate",
         "measurementMethod", "measurementRemarks", "occurrenceID"}  # fmt: skip


@pytest.fixture(scope="module")
def demo() -> SurveyTable:
    return read_survey(DEMO, catalogue())


def test_parquet_comes_back_as_it_was_with_units(demo: SurveyTable, tmp_path: Path) -> None:
    path = write_parquet(demo, tmp_path / "survey.parquet", catalogue())
    again = read_survey(path, catalogue())
    assert (again.dogs, again.sex, again.line, again.year) == (
        demo.dogs, demo.sex, demo.line, demo.year
    )  # fmt: skip
    for key, values in demo.values.items():
        np.testing.assert_array_equal(again.values[key], values)
    # UCUM, case-sensitive codes: centimetre, degree, kilogram.
    units = {f.name: f.metadata[b"ucum"] for f in pq.read_schema(path) if f.metadata}
    assert units["chest_depth"] == b"cm"
    assert units["weight"] == b"kg"


def test_darwin_core_names_its_terms_and_ucum_units(demo: SurveyTable, tmp_path: Path) -> None:
    few = subset(demo, np.arange(len(demo)) < 30)
    write_darwin_core(few, tmp_path, catalogue())
    with (tmp_path / "measurementorfact.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert set(rows[0]) == TERMS
    assert len(rows) == len(few.readings)
    assert {row["measurementUnit"] for row in rows} <= {"cm", "deg", "kg"}
    meta = ElementTree.parse(tmp_path / "meta.xml").getroot()  # noqa: S314  (our own file)
    places = {
        field.get("term", "").rsplit("/", 1)[1]: int(field.get("index", "-1"))
        for field in meta[1].iter("{http://rs.tdwg.org/dwc/text/}field")
    }
    assert places == {name: place for place, name in enumerate(rows[0])}
    with (tmp_path / "occurrence.csv").open(encoding="utf-8", newline="") as file:
        assert {row["sex"] for row in csv.DictReader(file)} == {"male", "female"}


def test_an_anonymous_copy_names_nobody_and_keeps_every_figure(
    demo: SurveyTable, tmp_path: Path
) -> None:
    found = anonymised(demo)
    path = write_readings(found.table, tmp_path / "anonymous.csv")
    with path.open(encoding="utf-8", newline="") as file:
        cells = {cell for row in csv.reader(file) for cell in row}
    assert not cells & {*demo.dogs, *demo.line, "A.F.", "H.S.", "J.W.", "R.T."} - {""}
    again = read_survey(path, catalogue())
    for key in ("height_at_withers", "chest_girth"):
        np.testing.assert_allclose(
            np.sort(again.values[key]), np.sort(demo.values[key]), equal_nan=True
        )
    assert again.dogs == found.table.dogs
    assert anonymised(demo).table.dogs != found.table.dogs  # keys are not kept


def test_rare_combinations_are_listed_and_blanked(demo: SurveyTable) -> None:
    found = anonymised(demo)
    assert found.rare
    assert all(count < FEWEST_ALIKE for _, count in found.rare)
    table = found.table
    kept = Counter(
        (s, a, line, y)
        for s, a, line, y in zip(
            table.sex, table.age_months.tolist(), table.line, table.year, strict=True
        )
        if line
    )
    assert min(kept.values()) >= FEWEST_ALIKE
    assert len(anonymised(demo, keep_rare=True).rare) == len(found.rare)


def test_a_formula_in_a_name_is_made_harmless(demo: SurveyTable, tmp_path: Path) -> None:
    few = subset(demo, np.arange(len(demo)) < 1)
    nasty = '=HYPERLINK("http://x","y")'
    renamed = replace(
        few, dogs=(nasty,), readings=tuple(replace(one, dog=nasty) for one in few.readings)
    )
    path = write_readings(renamed, tmp_path / "x.csv")
    with path.open(encoding="utf-8", newline="") as file:
        cells = {row["dog"] for row in csv.DictReader(file)}
    assert cells == {"'" + nasty}
    assert read_survey(path, catalogue()).dogs == (nasty,)


def test_a_run_that_was_stopped_goes_on_and_loses_nothing(
    demo: SurveyTable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (evaluate, results):
        monkeypatch.setattr(module, "ROWS", 64)
    monkeypatch.setattr(evaluate.evaluate, "__kwdefaults__",
                        {**(evaluate.evaluate.__kwdefaults__ or {}), "rows": 64})  # fmt: skip
    file = SurveyFile(write_parquet(demo, tmp_path / "s.parquet", catalogue()), catalogue())
    work = plan(file, catalogue(), load_standard("common-practice-terrier"))

    def stop_after_two(done: int, _total: int) -> None:
        if done >= 128:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_results(file, work, tmp_path / "out", stop_after_two)
    before = sorted(path.name for path in (tmp_path / "out").glob("part-*.parquet"))
    assert before
    done = write_results(file, work, tmp_path / "out")
    assert done.resumed == 64 * len(before)
    whole = write_results(file, work, tmp_path / "whole")
    assert whole.resumed == 0
    tables = [
        pq.read_table(sorted((tmp_path / name).glob("part-*.parquet"))) for name in ("out", "whole")
    ]
    assert tables[0].num_rows == len(demo)
    assert tables[0].equals(tables[1])
    with pytest.raises(DataFileError, match="something else"):
        write_results(file, plan(file, catalogue()), tmp_path / "out")
