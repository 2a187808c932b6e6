"""Surveys passed on: nothing changed on the way, nobody named who should not be."""

from __future__ import annotations

import csv
import hashlib
import json
import xml.etree.ElementTree as ElementTree
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError
from kit.records.errors import RecordError
from kit.records.surveys import export_survey
from kit.standards.standard import load_standard
from kit.survey import evaluate, results
from kit.survey.anonymous import FEWEST_ALIKE, anonymised
from kit.survey.dogs import SurveyTable, read_survey, subset, survey_of
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
def demo(whole_survey: SurveyTable) -> SurveyTable:
    return whole_survey


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


# ---- both ways, exactly


def _same(one: SurveyTable, other: SurveyTable) -> None:
    assert (one.dogs, one.sex, one.line, one.year) == (
        other.dogs, other.sex, other.line, other.year
    )  # fmt: skip
    np.testing.assert_array_equal(one.age_months, other.age_months)
    assert list(one.values) == list(other.values)
    for key, values in one.values.items():
        np.testing.assert_array_equal(values, other.values[key])
    assert one.sides.keys() == other.sides.keys()
    for key, sides in one.sides.items():
        np.testing.assert_array_equal(sides.left, other.sides[key].left)
        np.testing.assert_array_equal(sides.right, other.sides[key].right)


@pytest.fixture(scope="module")
def awkward(demo: SurveyTable) -> SurveyTable:
    """A few dogs with names and lines that a spreadsheet takes for formulas, and both sides."""
    few = subset(demo, np.arange(len(demo)) < 12)
    names = {few.dogs[0]: "=1+1", few.dogs[1]: "@home", few.dogs[2]: "'-quoted"}
    readings = [replace(one, dog=names.get(one.dog, one.dog)) for one in few.readings]
    right = [
        replace(one, side="right", raw="12,7", value=12.7)
        for one in readings if one.measurement == "forearm_length" and one.dog != "@home"
    ]  # fmt: skip
    readings = [
        one for one in readings
        if (one.dog, one.measurement) != ("=1+1", "forearm_length") or one.side == "right"
    ]  # fmt: skip
    facts = {
        names.get(dog, dog): {"sex": few.sex[at], "age_months": f"{few.age_months[at]:g}",
                              "line": "+" + few.line[at], "year": few.year[at]}
        for at, dog in enumerate(few.dogs)
    }  # fmt: skip
    return survey_of([*readings, *right], facts, catalogue())


def test_readings_come_back_exactly_from_csv_and_package(
    awkward: SurveyTable, tmp_path: Path
) -> None:
    path = write_readings(awkward, tmp_path / "readings.csv")
    again = read_survey(path, catalogue())
    _same(awkward, again)
    assert again.readings == tuple(replace(one, note="", time="") for one in awkward.readings)
    export_survey(awkward, tmp_path / "package", catalogue())
    _same(awkward, read_survey(tmp_path / "package", catalogue()))
    with path.open(encoding="utf-8", newline="") as file:
        assert not [c for row in csv.reader(file) for c in row if c[:1] in "=+@" and c]


def test_values_come_back_exactly_a_row_a_dog_with_both_sides(
    awkward: SurveyTable, tmp_path: Path
) -> None:
    parquet = write_parquet(awkward, tmp_path / "wide.parquet", catalogue())
    assert "forearm_length_right" in pq.read_schema(parquet).names
    wide = read_survey(parquet, catalogue())
    _same(awkward, wide)
    assert wide.column("forearm_length")[0] == 12.7  # its left was not measured
    for name in ("wide.csv", "package"):
        path = tmp_path / name
        if name == "package":
            export_survey(wide, path, catalogue())
        else:
            write_readings(wide, path)
        _same(wide, read_survey(path, catalogue()))


def test_the_package_explains_itself(awkward: SurveyTable, tmp_path: Path) -> None:
    wide = read_survey(write_parquet(awkward, tmp_path / "w.parquet", catalogue()), catalogue())
    export_survey(wide, tmp_path / "package", catalogue())
    descriptor = json.loads((tmp_path / "package" / "datapackage.json").read_text("utf-8"))
    survey = next(one for one in descriptor["resources"] if one["name"] == "survey")
    content = (tmp_path / "package" / survey["path"]).read_bytes()
    assert survey["hash"] == "sha256:" + hashlib.sha256(content).hexdigest()
    fields = {one["name"]: one for one in survey["schema"]["fields"]}
    assert list(fields) == content.decode().splitlines()[0].split(",")
    assert (fields["weight"]["type"], fields["weight"]["unit"]) == ("number", "kg")
    assert survey["schema"]["primaryKey"] == ["dog"]
    with pytest.raises(RecordError, match="holds a package"):
        export_survey(wide, tmp_path / "package", catalogue())


def test_a_spreadsheet_with_a_row_a_dog_is_read_as_a_club_keeps_it(tmp_path: Path) -> None:
    path = tmp_path / "club.csv"
    path.write_text(
        "dog;sex;age_months;height_at_withers;forearm_length;forearm_length_right;weight\n"
        "Bracken;Bitch;24,5;16 1/4 in;;12,4;9,8\nHazel;male;;41,5;12,9;;\nRowan;?;x;40;;;\n"
    )
    found = read_survey(path, catalogue())
    assert found.sex == ("bitch", "dog", "")
    np.testing.assert_allclose(found.values["height_at_withers"], [41.275, 41.5, 40.0])
    np.testing.assert_allclose(found.values["forearm_length"], [12.4, 12.9, np.nan])
    assert found.age_months[0] == 24.5
    assert [said.split("'")[0] for said in found.problems] == ["Rowan: sex ", "Rowan: age_months "]
    path.write_text("dog,hieght_at_withers\nBracken,41\n")
    with pytest.raises(DataFileError, match="did you mean height_at_withers"):
        read_survey(path, catalogue())


def test_nothing_is_left_rare_even_where_a_year_has_one_dog(demo: SurveyTable) -> None:
    lonely = replace(demo, year=("2019", *demo.year[1:]))
    found = anonymised(lonely)
    assert found.still_rare == () or all("nothing known" in said for said, _ in found.still_rare)
    assert "2019" not in found.table.year


def test_an_own_standard_that_changed_is_not_gone_on_with(
    demo: SurveyTable, tmp_path: Path
) -> None:
    file = SurveyFile(write_parquet(demo, tmp_path / "s.parquet", catalogue()), catalogue())
    standard = load_standard("common-practice-terrier")
    first = write_results(file, plan(file, catalogue(), standard), tmp_path / "out")
    again = write_results(file, plan(file, catalogue(), standard), tmp_path / "out")
    assert again.resumed == len(demo)
    assert again.findings == first.findings  # counted from what was written
    clause = replace(standard.clauses[0], high=9.0)
    other = replace(standard, clauses=(clause, *standard.clauses[1:]))
    with pytest.raises(DataFileError, match="something else"):
        write_results(file, plan(file, catalogue(), other), tmp_path / "out")
