"""The demo litter and its sheet: what is planted is found, what is asked for is said.

The truths are those of data/make_demo_litter.py.
"""

from __future__ import annotations

import json
import runpy
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader

from kit.cli.main import main
from kit.drawing.canvas import to_png
from kit.growth.litter_files import read_litter
from kit.growth.puppies import Puppy, growth_record
from kit.growth.study import Known, LitterStudy, study_litter
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.quantities.errors import DataFileError
from kit.records.exchange import import_csv
from kit.records.store import open_store
from kit.reports.growth_content import litter_report
from kit.reports.growth_files import write_litter_report
from kit.reports.growth_html import litter_html
from kit.standards.standard import load_standard

DEMO = Path(__file__).parents[1] / "data" / "demo_litter.csv"
TRUTH = {build.name: build for build in
         runpy.run_path(str(DEMO.with_name("make_demo_litter.py")))["LITTER"]}  # fmt: skip


@pytest.fixture(scope="module")
def study() -> LitterStudy:
    file = read_litter(DEMO, catalogue())
    assert file.problems == ()
    record = growth_record(file.readings, file.puppies, catalogue())
    known = Known(standard=load_standard("common-practice-terrier"))
    return study_litter(record, catalogue(), known)


def test_the_script_writes_the_file(tmp_path: Path) -> None:
    script = tmp_path / "make_demo_litter.py"
    script.write_text(DEMO.with_name("make_demo_litter.py").read_text(encoding="utf-8"))
    runpy.run_path(str(script), run_name="__main__")
    assert (tmp_path / "demo_litter.csv").read_bytes() == DEMO.read_bytes()


def test_what_was_planted_is_found(study: LitterStudy) -> None:
    told = {(a.dog, a.kind) for a in study.alerts}
    assert {("Knot", "fall"), ("Knot", "one side"), ("Moss", "fall"), ("Moss", "behind")} <= told
    assert not {dog for dog, _ in told} & {"Gorse", "Isla", "Linnet"}
    doubts = {doubt.dog: doubt.message for doubt in study.record.doubts}
    assert "kg typed as g" in doubts["Isla"]
    assert "before whelping" in doubts["Heath"]
    assert "on one day are further apart" in doubts["Juniper"]
    assert len(doubts) == len(study.record.doubts)


def test_adult_weights_are_held_by_their_intervals(study: LitterStudy) -> None:
    """One litter: of six 90 % intervals at least four should hold (chance below 2 % otherwise)."""
    weight = study.measurement("weight")
    held = [one.low < TRUTH[name].weight < one.high for name, one in weight.adult.items()]
    assert len(held) >= 5
    assert sum(held) >= 4
    assert "Moss" not in weight.adult


def test_the_puppy_measured_three_times_is_least_certain(study: LitterStudy) -> None:
    weight = study.measurement("weight")
    widths = {name: one.high / one.low for name, one in weight.adult.items()}
    if "Linnet" in widths:
        assert max(widths, key=lambda name: widths[name]) == "Linnet"
    else:
        assert "measure weekly" in weight.refused["Linnet"]


WANTED = ("measure both sides again, then call your vet", "cannot be told apart from",
          "growth record, never a final height", "no prophecy")  # fmt: skip


def test_the_sheet_says_what_must_be_said(study: LitterStudy) -> None:
    content = litter_report(study, "Litter B", "demo_litter.csv")
    html = litter_html(content)
    for words in WANTED:
        assert words in html.lower()
    assert "do not judge puppies" in html
    assert "http://" not in html.replace("http://www.w3.org/2000/svg", "")
    for puppy in TRUTH:
        assert puppy in html
    names = {picture.name for picture in content.pictures}
    assert {"first_weeks", "weight_by_age", "weight_order", "proportions"} <= names


@pytest.mark.slow
def test_the_pdf_says_the_same(study: LitterStudy, tmp_path: Path) -> None:
    files = write_litter_report(study, tmp_path, "Litter B", "demo_litter.csv")
    pages = " ".join(page.extract_text() for page in PdfReader(files.pdf).pages)
    for words in WANTED:
        assert words in " ".join(pages.lower().split())


@pytest.mark.slow
def test_the_pdf_is_the_same_each_time(study: LitterStudy, tmp_path: Path) -> None:
    one = write_litter_report(study, tmp_path / "a", "Litter B").pdf.read_bytes()
    assert write_litter_report(study, tmp_path / "b", "Litter B").pdf.read_bytes() == one


def test_pictures_have_words_and_can_be_drawn(study: LitterStudy) -> None:
    for picture in litter_report(study, "Litter B").pictures:
        assert picture.scene.title
        assert picture.scene.description
        assert to_png(picture.scene, 30.0).startswith(b"\x89PNG")


def test_panels_of_one_picture_share_their_axes(study: LitterStudy) -> None:
    """The same numbers stand at the axes of every panel."""
    from collections import Counter

    from kit.drawing.growth_litter import litter_curves
    from kit.drawing.scene import Text

    scene = litter_curves(study.measurement("weight"), study.record.puppies)
    labels = Counter(
        text.content for text in scene.primitives
        if isinstance(text, Text) and text.content.endswith(" kg")
    )  # fmt: skip
    assert labels
    assert set(labels.values()) == {6}


def growth_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert main(["growth", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_json_of_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    (litter,) = growth_json(capsys, str(DEMO))["litters"]
    assert [puppy["dog"] for puppy in litter["puppies"]] == list(TRUTH)
    weight = litter["measurements"][0]
    assert weight["measurement"] == "weight"
    gorse = weight["dogs"][0]
    assert gorse["adult"]["low"] < gorse["adult"]["value"] < gorse["adult"]["high"]
    assert litter["alerts"]
    assert any("do not judge puppies" in note for note in litter["notes"])


@pytest.mark.slow
def test_the_same_litter_from_the_records(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "records.sqlite3"
    with open_store(path) as store:
        import_csv(store, DEMO)
    arguments = ["--database", str(path), "--born", "2026-03-01"]
    (stored,) = growth_json(capsys, *arguments)["litters"]
    (read,) = growth_json(capsys, str(DEMO))["litters"]
    assert stored["litter"] == read["litter"] == "first litter of Bryony"
    assert stored["puppies"] == read["puppies"]
    assert stored["alerts"] == read["alerts"]
    assert stored["measurements"][0]["order_grown"] == read["measurements"][0]["order_grown"]
    assert main(["growth", "--database", str(tmp_path / "none.sqlite3")]) == 2
    assert main(["growth", *arguments[:3], "2020-01-01"]) == 2


def test_namesakes_of_two_litters_are_kept_apart_and_grown_dogs_left_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "records.sqlite3"
    with open_store(path) as store:
        session = store.start_session()
        for born, first in (("2024-03-01", 250), ("2026-03-01", 300)):
            dog = store.add_dog("Ash", born=born)
            for day in range(3):
                text, time = str(first + 20 * day), str(date.fromisoformat(born) + timedelta(day))
                weight = make_reading(catalogue(), "Ash", "weight", text, "g", time=time)
                store.store_reading(dog.id, session.id, weight)
        grown = store.add_dog("Cob", born="2019-05-01")
        weight = make_reading(catalogue(), "Cob", "weight", "9", "kg", time="2026-03-01")
        store.store_reading(grown.id, session.id, weight)
    assert main(["growth", "--database", str(path), "--json"]) == 0
    told = capsys.readouterr()
    assert "left out: Cob" in told.err
    litters = json.loads(told.out)["litters"]
    assert [(one["litter"], one["puppies"][0]["dog"]) for one in litters] == [
        ("Litter of 2024-03-01", "Ash (2024-03-01)"), ("Litter of 2026-03-01", "Ash (2026-03-01)"),
    ]  # fmt: skip
    weights = [one["measurements"][0]["dogs"][0]["values"] for one in litters]
    assert weights == [pytest.approx([0.25, 0.27, 0.29]), pytest.approx([0.30, 0.32, 0.34])]
    assert [one["problems"] for one in litters] == [[], []]


BAD = [
    ("dog,measurement,value,unit,time\nAsh,weight,250,g,2026-03-01\n", "no whelping date"),
    (
        "dog,measurement,value,unit,time,born\nAsh,weight,250,g,2026-03-01,soon\n",
        "no whelping date",
    ),
]


@pytest.mark.parametrize(("text", "words"), BAD)
def test_a_file_without_a_whelping_date_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    path = tmp_path / "litter.csv"
    path.write_text(text, encoding="utf-8")
    assert main(["growth", str(path)]) == 2
    assert words in capsys.readouterr().err
    assert main(["growth", str(path), "--born", "2026-03-01", "--json"]) == 0


def test_cells_that_contradict_are_told_and_the_first_counts(tmp_path: Path) -> None:
    path = tmp_path / "litter.csv"
    path.write_text(
        "dog,measurement,value,unit,time,born,sex,died\n"
        "Ash,weight,250,g,2026-03-01,2026-03-01,bitch,\n"
        "Ash,weight,350,kg,2026-03-02,2026-03-02,male,never\n",
        encoding="utf-8",
    )
    file = read_litter(path, catalogue())
    assert file.puppies[0].born == date(2026, 3, 1)
    told = [problem.message for problem in file.problems]
    assert any("more than any dog" in message for message in told)
    assert any("an earlier row says 2026-03-01" in message for message in told)
    assert any("is no sex" in message for message in told)
    assert any("is no date" in message for message in told)


ODD = """dog;measurement;value;unit;time;born;collar;died
Ash;weight;0,25;kg;2026-03-01;2026-03-01;a nick in the ear;
Ash;weight;9,5 oz;;2026-03-02;;;
Ash;height_at_withers;3 1/2 in;;2026-03-02;;;
Ash;weight;300;g;03.03.2026;;;
Ash;weight;0;g;2026-03-04;;;
Ash;weight;nan;g;2026-03-05;;;
Cob;weight;210;g;2026-03-01;2026-03-01;Blue;2026-02-25
Doe;weight;215;g;2026-03-01;2026-03-01;blue;
Elm;weight;215;g;2026-03-01;;;
Elm;weight;225;g;2026-03-02;;;
"""


@pytest.mark.slow
def test_what_cannot_be_right_is_told_and_the_rest_still_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(ODD, encoding="utf-8")
    assert main(["growth", str(path), "--out", str(tmp_path)]) == 0
    told = capsys.readouterr()
    for words in ("weight cannot be 0", "entry not understood"):
        assert words in told.err
    for words in (
        "Ash: 269 g on day 1", "Ash: 8.9 cm on day 1", "Cob: 210 g on day 0",
        "'03.03.2026' is no date, so there is no age; write it as YYYY-MM-DD",
        "Cob: died on 2026-02-25, which is before whelping",
        "Doe: marked blue like Cob; were they taken for one another?",
        "Elm: no whelping date is known",
    ):  # fmt: skip
        assert words in told.out
    assert told.out.count("Elm:") == 1
    (html,) = tmp_path.glob("*/litter.html")
    assert "a nick in the ear" in html.read_text(encoding="utf-8")
    assert "ear collar" not in html.read_text(encoding="utf-8")


def test_a_puppy_alone_has_a_sheet_without_siblings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ["dog,measurement,value,unit,time,born"]
    for day in range(0, 200, 7):
        weight = 14.0 * np.exp(-np.exp(-(day - 68.0) / 47.0)) * (1 + 0.02 * np.sin(day))
        lines.append(f"Solo,weight,{weight:.2f},kg,{date(2026, 1, 1) + timedelta(day)},2026-01-01")
    path = tmp_path / "solo.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    assert main(["growth", str(path), "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "kg on day 196; grown 1" in told
    assert "told apart" not in told
    (html,) = tmp_path.glob("*/litter.html")
    text = html.read_text(encoding="utf-8")
    assert "weighed too seldom to see a fall" in text
    for words in ("siblings (grey)", "littermates", "one panel a puppy"):
        assert words not in text


def test_any_measurement_can_be_shown(study: LitterStudy) -> None:
    content = litter_report(study, "Litter B", shown=("chest_girth", "weight", "head_length"))
    names = {picture.name for picture in content.pictures}
    assert {"chest_girth_by_age", "weight_by_age", "head_length_by_age"} <= names
    assert "height_at_withers_by_age" not in names
    assert [len(table.heads) for table in content.tables] == [6, 3]
    with pytest.raises(DataFileError, match="tail_length was not measured"):
        litter_report(study, "Litter B", shown=("tail_length",))


def test_a_sheet_of_one_day_says_what_was_read(tmp_path: Path) -> None:
    readings = [make_reading(catalogue(), name, "weight", text, "g", time="2026-03-01")
                for name, text in (("Ash", "250"), ("Birch", "310"))]  # fmt: skip
    puppies = [Puppy(name, date(2026, 3, 1)) for name in ("Ash", "Birch")]
    one = study_litter(growth_record(readings, puppies, catalogue()), catalogue())
    content = litter_report(one, "Litter B")
    assert [row.cells[:2] for row in content.tables[0].rows] == [("250 g", "0"), ("310 g", "0")]
    assert content.order[0][1][0] == "Birch: place 1, told apart from all others."
    assert {picture.name for picture in content.pictures} == {"first_weeks", "weight_order"}


@pytest.mark.slow
def test_written_to_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["growth", str(DEMO), "--out", str(tmp_path), "--dog", "Gorse", "--dog", "Knot"]) == 0
    )
    said = capsys.readouterr().out
    assert "Knot, day 178" in said
    assert "Weight grown, in order:" in said
    assert "Gorse: 11.92 kg on day 182; grown 12." in said
    assert list(tmp_path.glob("*/litter.pdf"))
    assert main(["growth", str(DEMO), "--dog", "Nobody"]) == 2


@pytest.mark.slow
def test_a_club_fits_its_own_centiles_and_a_puppy_is_watched_on_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Forty invented bitches make a reference; too few dogs make none, and that is told."""
    rng = np.random.default_rng(9)
    lines = ["dog,measurement,value,unit,time,born,sex"]
    for number in range(40):
        factor = np.exp(0.1 * rng.standard_normal())
        for day in (21, 35, 56, 84, 126, 182):
            weight = factor * 11.0 * np.exp(-np.exp(-(day - 68.0) / 47.0))
            time = date(2026, 3, 1) + timedelta(day)
            lines.append(f"B{number},weight,{weight:.2f},kg,{time},2026-03-01,bitch")
    lines.append("D1,weight,1.20,kg,2026-04-05,2026-03-01,dog")
    club = tmp_path / "club.csv"
    club.write_text("\n".join(lines), encoding="utf-8")
    assert main(["growth", str(DEMO), "--centiles", str(club), "--json"]) == 0
    told = capsys.readouterr()
    assert "1 readings of 1 dogs" in told.err
    (litter,) = json.loads(told.out)["litters"]
    assert not {a["dog"] for a in litter["alerts"] if a["kind"] == "centiles"} & {"Gorse", "Heath"}
