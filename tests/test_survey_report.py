"""The survey report, the command, and what else they write."""

from __future__ import annotations

import csv
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from pypdf import PdfReader

from kit.cli import survey as command
from kit.cli.main import main
from kit.cli.survey_progress import Progress
from kit.drawing.survey import percent
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.protocol.shipped import shipped
from kit.records.store import open_store
from kit.records.surveys import survey_of_records
from kit.reliability.own_errors import with_own_errors
from kit.reports.survey_content import SurveyReport, survey_report
from kit.reports.survey_figures import Population, survey_figures
from kit.reports.survey_files import save_survey_pdf, survey_html
from kit.reports.survey_study import study_of_traits
from kit.standards.standard import load_standard
from kit.survey import sample
from kit.survey.dogs import SurveyTable, subset, survey_of

DEMO = shipped("data", "demo_survey.csv.gz")
VOID = {"meta", "br", "hr", "img", "path", "line", "circle", "rect", "use", "link"}


@pytest.fixture(scope="module")
def demo(whole_survey: SurveyTable) -> SurveyTable:
    return whole_survey


KEYS = {"weight", "height_at_withers", "body_length_from_prosternum", "back_length", "head_length",
        "neck_length", "chest_depth", "chest_breadth", "chest_girth", "rib_breadth"}  # fmt: skip


@pytest.fixture(scope="module")
def small(demo: SurveyTable) -> SurveyTable:
    """The first dogs of the demo, the whole study among them, on a few measurements."""
    few = subset(demo, np.arange(len(demo)) < 110)
    readings = [one for one in few.readings if one.measurement in KEYS]
    facts = {
        dog: {"sex": few.sex[at], "line": few.line[at], "year": few.year[at]}
        for at, dog in enumerate(few.dogs)
    }
    return survey_of(readings, facts, catalogue())


@pytest.fixture(scope="module")
def report(small: SurveyTable) -> SurveyReport:
    standard = load_standard("common-practice-terrier")
    line = [one == "Cragside" for one in small.line]
    beside = (Population("Cragside", subset(small, line)),
              Population("the others", subset(small, [not one for one in line])))  # fmt: skip
    return survey_report(survey_figures(small, catalogue(), standard, beside=beside))


class _Balance(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, _: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open.pop() == tag


def test_the_report_asks_the_four_questions(report: SurveyReport) -> None:
    titles = [section.title for section in report.sections]
    assert titles[0] == "Measure again"
    assert "Can the measurers be trusted?" in titles
    assert "How the dogs differ" in titles
    assert any(title.startswith("Against ") for title in titles)


def test_the_hand_that_reads_low_is_named(report: SurveyReport) -> None:
    girth = next(one for one in report.figures.studied if one.key == "chest_girth")
    assert min(girth.bias, key=lambda who: girth.bias[who]) == "H.S."
    table = next(
        table for section in report.sections for table in section.tables
        if table.caption == "Each measurement"
    )  # fmt: skip
    row = next(row for row in table.rows if row[0] == "girth of chest")
    assert row[-1].startswith("H.S. −1.")


@pytest.mark.slow
def test_a_trait_is_studied_as_the_hands_make_it(small: SurveyTable) -> None:
    # Second opinion: the ratio's relative error from those of its two measurements, uncorrelated.
    traits = {one.key: one for one in study_of_traits(small, catalogue())}
    found = traits["head_to_height"]
    from kit.reports.survey_study import study_of

    parts = {one.key: one for one in study_of(small)}
    expected = np.hypot(*(parts[k].within.percent for k in ("head_length", "height_at_withers")))
    assert found.within.percent == pytest.approx(expected, rel=0.15)
    assert found.within.dof == parts["head_length"].within.dof


def test_the_html_is_whole_and_needs_nothing_from_elsewhere(report: SurveyReport) -> None:
    text = survey_html(report)
    checker = _Balance()
    checker.feed(text)
    assert checker.open == []
    assert not re.search(r"""(?:src|href)=["'](?!#|data:)""", text)
    assert "dog-066" in text
    assert "nan" not in re.sub(r"<svg.*?</svg>", "", text, flags=re.DOTALL).lower().split()


@pytest.mark.slow
def test_the_pdf_says_the_same_twice(report: SurveyReport, tmp_path: Path) -> None:
    one, two = (save_survey_pdf(report, tmp_path / name) for name in ("a.pdf", "b.pdf"))
    assert one.read_bytes() == two.read_bytes()
    text = " ".join(page.extract_text() for page in PdfReader(one).pages)
    assert "Can the measurers be trusted?" in text
    assert "dog-066" in text


def test_a_survey_of_few_facts_still_gives_a_report(small: SurveyTable) -> None:
    few = subset(small, np.arange(len(small)) >= 95)
    report = survey_report(survey_figures(few, catalogue()))
    assert "Can the measurers be trusted?" not in [section.title for section in report.sections]
    assert survey_html(report)


def test_no_share_is_called_all_of_them() -> None:
    assert percent(1.0) == "over 99%"
    assert percent(0.0) == "under 1%"
    assert percent(0.5) == "50%"


# ---- the command


@pytest.mark.slow
def test_the_command_prints_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["survey", str(DEMO), "--standard", "common-practice-terrier", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["dogs"] == 300
    assert {one["dog"] for one in document["measure_again"]} >= {"dog-041", "dog-286"}
    clause = next(c for c in document["clauses"] if c["trait"] == "chest_depth_to_height")
    assert clause["within_low"] <= clause["within"] <= clause["within_high"]
    assert document["traits"]["height_at_withers"]["mean"] == pytest.approx(39.7, abs=0.2)


@pytest.mark.slow
def test_own_errors_a_draft_and_a_plan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own, draft = tmp_path / "own.toml", tmp_path / "draft.toml"
    given = ["--own-errors", str(own), "--draft", str(draft), "--club", "Tarrowmoss club"]
    assert main(["survey", str(DEMO), "--json", *given]) == 0
    assert main(["standards", "check", str(draft)]) == 0
    changed = with_own_errors(catalogue(), own).measurement("height_at_withers")
    assert changed.error_source == "own_study"
    capsys.readouterr()
    assert main(["survey", str(DEMO), "--json", "--errors", str(own)]) == 0
    narrow = json.loads(capsys.readouterr().out)["traits"]
    assert narrow["height_at_withers"]["dogs"] == 293
    assert main(["survey", "--plan", "0.25"]) == 0
    fewest = capsys.readouterr().out.splitlines()[3].split()
    assert fewest[:5] == ["24", "2", "2", "96", "4"]


def test_a_file_of_columns_is_worked_out_in_parts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    generator = np.random.default_rng(1)
    height = generator.normal(40, 1, 500)
    pq.write_table(
        pa.table({"height_at_withers": height, "chest_depth": height * 0.5}), tmp_path / "a.parquet"
    )
    arguments = ["survey", str(tmp_path / "a.parquet"), "--standard", "common-practice-terrier",
                 "--results", str(tmp_path / "out"), "--json"]  # fmt: skip
    assert main(arguments) == 0
    document = json.loads(capsys.readouterr().out)
    found = next(c for c in document["clauses"] if c["trait"] == "chest_depth_to_height")
    assert sum(found["findings"].values()) == 500
    parts = list((tmp_path / "out").glob("part-*.parquet"))
    assert pq.read_table(parts).num_rows == 500


def test_a_file_that_is_no_survey_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = tmp_path / "x.parquet"
    wrong.write_bytes(b"nothing")
    assert main(["survey", str(wrong)]) == 2
    assert "x.parquet" in capsys.readouterr().err
    assert main(["survey", str(tmp_path / "missing.csv")]) == 2
    assert main(["survey"]) == 2


def test_two_populations_stand_beside_one_another(report: SurveyReport) -> None:
    section = next(one for one in report.sections if one.title == "Cragside beside the others")
    assert {picture.name for picture in section.pictures} == {"two_populations", "middle_dogs"}
    first = section.tables[0].rows[0]
    assert "back" in first[0] or "length" in first[0]  # the long line was planted
    assert section.pictures[0].scene.description


def test_every_figure_of_every_group_is_written(report: SurveyReport, tmp_path: Path) -> None:
    from kit.reports.survey_tables import write_tables

    figures, again = write_tables(report.figures, tmp_path)
    with figures.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    heights = [row for row in rows if row["figure"] == "height_at_withers"]
    assert {row["by"] for row in heights} == {"all", "sex", "line", "year"}
    for row in rows:
        assert float(row["centile_50_low95"]) <= float(row["centile_50"])
        assert float(row["centile_50"]) <= float(row["centile_50_high95"])
    with again.open(encoding="utf-8", newline="") as file:
        assert {row["dog"] for row in csv.DictReader(file)} >= {"dog-066", "dog-087"}


def test_what_is_missing_is_said(report: SurveyReport) -> None:
    section = next(one for one in report.sections if one.title == "What is missing")
    assert "Nothing is put in their place" in section.text[0]


def _columns(path: Path, dogs: int) -> Path:
    generator = np.random.default_rng(1)
    height = generator.normal(40, 1, dogs)
    columns = {
        "dog": [f"d{n}" for n in range(dogs)], "sex": ["dog", "bitch"] * (dogs // 2),
        "line": ["=north", "south"] * (dogs // 2), "height_at_withers": height,
        "chest_depth": height * 0.5 + generator.normal(0, 0.6, dogs),
        "head_length": height * 0.4 + generator.normal(0, 0.4, dogs),
    }  # fmt: skip
    height[7] = 14.0
    pq.write_table(pa.table(columns), path)
    return path


def test_a_survey_too_large_for_one_table_still_gets_a_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for module, name in ((command, "LARGE"), (sample, "MOST")):
        monkeypatch.setattr(module, name, 300)
    monkeypatch.setattr(sample.sampled, "__defaults__", (300,))
    path = _columns(tmp_path / "many.parquet", 2000)
    arguments = ["survey", str(path), "--standard", "common-practice-terrier",
                 "--out", str(tmp_path / "report"), "--compare", "line=south"]  # fmt: skip
    assert main([*arguments, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert (document["dogs"], document["described_from"]) == (2000, 300)
    clause = next(c for c in document["clauses"] if c["trait"] == "chest_depth_to_height")
    assert sum(clause["findings"].values()) == 2000
    again = {(one["dog"], one["measurement"]) for one in document["measure_again"]}
    assert ("d7", "height_at_withers") in again
    assert len(again) < 12
    assert document["compared"]["first"] == "line south"
    assert main(arguments) == 0
    assert "chest_depth_to_height:" in capsys.readouterr().out
    text = (tmp_path / "report" / "survey.html").read_text("utf-8")
    assert "Survey of 2\u202f000 dogs" in text
    assert "drawn at random" in text
    figures = (tmp_path / "report" / "figures.csv").read_text("utf-8")
    assert ",'=north," in figures  # no formula


def test_two_files_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one, other = (_columns(tmp_path / f"{name}.parquet", n) for name, n in (("a", 60), ("b", 80)))
    assert main(["survey", str(one), "--compare", str(other), "--json"]) == 0
    compared = json.loads(capsys.readouterr().out)["compared"]
    assert (compared["first"], compared["second"]) == ("this survey", "b")
    assert compared["dogs"] == [60, 80]
    assert main(["survey", str(one), "--compare", "line=east", "--json"]) == 2
    assert "=north, south" in capsys.readouterr().err


def test_stored_readings_are_surveyed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with open_store(tmp_path / "r.sqlite3") as store:
        for name, sex in (("Bracken", "bitch"), ("Bracken", "dog"), ("Hazel", "bitch")):
            dog = store.add_dog(name, sex=sex, born="2022-05")
            for year, height in (("2023", "39.0"), ("2026", "41.5")):
                session = store.start_session("hall", started=f"{year}-05-15")
                for key, value in (("height_at_withers", height), ("chest_depth", "20.5")):
                    reading = make_reading(catalogue(), name, key, value, "cm", measurer="A.B.")
                    store.store_reading(dog.id, session.id, reading)
        found = survey_of_records(store, catalogue())
    assert found.sex == ("bitch", "dog", "bitch")
    assert len(set(found.dogs)) == 3
    assert found.dogs[2] == "Hazel"
    assert found.year == ("2026",) * 3
    np.testing.assert_allclose(found.age_months, 48.0, atol=0.1)
    np.testing.assert_allclose(found.values["height_at_withers"], 41.5)
    assert found.problems == ("6 readings of earlier years were passed over",)
    assert main(["survey", "--database", str(tmp_path / "r.sqlite3"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["dogs"] == 3


def test_a_survey_stopped_by_hand_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "read_survey", stop)
    assert main(["survey", str(DEMO)]) == 130
    assert "What was measured is untouched" in capsys.readouterr().err


def test_long_work_says_how_far_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    clock = iter(float(n) for n in range(100))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("kit.cli.survey_progress.time.monotonic", lambda: next(clock))
        with Progress() as progress:
            progress.tell("reading")
            progress.tell("every dog")(500, 1000)
    said = capsys.readouterr().err
    assert "… every dog: 500 of 1000 dogs" in said
    assert said.endswith("\r")
