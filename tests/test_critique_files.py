"""The critique handed over: as text to be changed, as pages, by the command and in the panel."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from test_critique import (
    DATA,
    DAY,
    DOGS,
    EVERY,
    GRADES,
    LONG_ONES,
    RUNS,
    SHORT_ONES,
    STANDARD,
    each,
    looked,
)

from kit.cli.main import main
from kit.panels.eye import CritiqueEditor, GradingForm
from kit.quantities.errors import DataFileError
from kit.reports.critique import LONG, Critique
from kit.reports.critique_build import look, write_critique
from kit.reports.critique_edit import as_record, as_text, edited
from kit.reports.critique_html import critique_html
from kit.reports.critique_pdf import save_critique_pdf
from kit.standards.standard import load_standard

# Editing ----------------------------------------------------------------------------------------

ALDER = LONG_ONES["Alder"]


def test_a_text_left_as_it_is_changes_nothing() -> None:
    for critique in EVERY:
        assert edited(critique, as_text(critique)) == critique


def test_edited_added_and_deleted_sentences_are_marked() -> None:
    first, second, third = ALDER.sentences[1:4]
    text = as_text(ALDER).replace(
        f"[{first.id}] {first.text}", f"[{first.id}] A grand chest.\n[+] A pleasure to handle."
    )
    text = text.replace(f"[{second.id}] {second.text}\n", "")
    changed = edited(ALDER, text)
    new = {sentence.id: sentence for sentence in changed.sentences}
    assert new[first.id].text == "A grand chest."
    assert new[first.id].rests_on == first.rests_on
    assert new[first.id].original == first.text
    added = next(sentence for sentence in changed.sentences if sentence.id.startswith("e"))
    assert added.text == "A pleasure to handle."
    assert not added.rests_on
    assert second.id not in new
    assert changed.left_out == (second.text,)
    assert new[third.id] == third
    page = critique_html(changed)
    for words in ("edited</em>", "added by hand</em>", "was written as", "Left out"):
        assert words in page
    marked = [row for row in as_record(changed)["sentences"] if row["edited"]]  # type: ignore[attr-defined]
    assert [row["text"] for row in marked] == ["A grand chest.", "A pleasure to handle."]


def test_a_text_of_other_readings_is_refused() -> None:
    with pytest.raises(DataFileError, match="not written from these readings"):
        edited(LONG_ONES["Cob"], as_text(ALDER))
    with pytest.raises(DataFileError, match="each mark of the text once"):
        edited(ALDER, as_text(ALDER) + "\n[s999] What?\n")
    with pytest.raises(DataFileError, match="a mark such as"):
        edited(ALDER, as_text(ALDER) + "\nno mark\n")


def test_the_record_is_dated_and_names_the_version_of_the_standard() -> None:
    record = as_record(ALDER)
    assert record["written"] == DAY
    assert record["standard"] == STANDARD.title
    assert STANDARD.key in str(record["standard_version"])
    boxer = load_standard("boxer-fci")
    version = str(as_record(write_critique(looked("Alder", "boxer-fci")))["standard_version"])
    assert boxer.dated in version


# Pages ------------------------------------------------------------------------------------------


@each
def test_every_anchor_of_the_page_is_there_and_nothing_is_fetched(critique: Critique) -> None:
    page = critique_html(critique)
    ids = set(re.findall(r'id="([^"]+)"', page))
    targets = re.findall(r'href="#([^"]+)"', page)
    assert targets
    assert set(targets) <= ids
    assert not re.findall(r'(?:src|href)="(?!#)', page)


def test_a_name_cannot_break_out_of_the_page() -> None:
    case = replace(DOGS["Alder"].assessment, dog='<script>alert("x")</script>')
    critique = write_critique(look(case, GRADES, RUNS), LONG, DAY, "<b>me</b>")
    page = critique_html(critique)
    assert "<script" not in page
    assert "<b>me" not in page


@pytest.mark.slow
def test_the_pdf_says_what_the_critique_says(tmp_path: Path) -> None:
    for critique in (LONG_ONES["Fennel"], SHORT_ONES["Fennel"]):
        path = save_critique_pdf(critique, tmp_path / f"{critique.form}.pdf")
        raw = " ".join(page.extract_text() for page in PdfReader(path).pages)
        text = re.sub(r"\s+", " ", raw)
        for title in [part.title for part in critique.parts if part.title]:
            assert title in text
        assert "too many steps for the speed and the size" in text
        assert path.read_bytes() == save_critique_pdf(critique, tmp_path / "b.pdf").read_bytes()
    assert len(PdfReader(tmp_path / "short.pdf").pages) == 1


# The command and the panel ----------------------------------------------------------------------

ASKED = ["critique", str(DATA / "demo_readings.csv"), "--standard", "common-practice-terrier",
         "--grades", str(DATA / "demo_grades.csv"), "--movement", str(DATA / "demo_movement.csv"),
         "--dog", "Fennel", "--date", DAY]  # fmt: skip


def test_the_command_prints_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*ASKED, "--json", "--short"]) == 0
    document = json.loads(capsys.readouterr().out)
    (dog,) = document["dogs"]
    assert dog["dog"] == "Fennel"
    assert dog["form"] == "short"
    assert dog["written"] == DAY
    ratio = next(m for m in dog["movement"] if (m["pace"], m["figure"]) == ("trot", "stride_ratio"))
    assert ratio["low95"] < ratio["value"] < ratio["high95"] < 0.8
    assert {row["point"] for row in dog["seen"]} >= {"colour", "reach"}


@pytest.mark.slow
def test_the_command_writes_keeps_and_never_overwrites_edited_text(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = [*ASKED, "--out", str(tmp_path)]
    assert main(out) == 0
    own = tmp_path / "Fennel"
    text = own / "critique.txt"
    mine = re.sub(r"\[s2\] .*", "[s2] In my own words.", text.read_text(encoding="utf-8"))
    text.write_text(mine, encoding="utf-8")
    assert main([*out, "--edited", str(text)]) == 0
    saved = json.loads((own / f"critique-{DAY}.json").read_text(encoding="utf-8"))
    assert [s["text"] for s in saved["sentences"] if s["edited"]] == ["In my own words."]
    assert main(out) == 0
    assert main([*out, "--edited", str(text)]) == 0
    assert text.read_text(encoding="utf-8") == mine
    assert (own / "critique-2.txt").exists()
    assert (own / f"critique-{DAY}-2.json").exists()
    capsys.readouterr()


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--dog", "Nobody"], "no readings of a dog called 'Nobody'"),
        (["--date", "yesterday"], "YYYY-MM-DD"),
        (["--grades", "nowhere.csv"], "cannot read nowhere.csv"),
        (["--edited", "nowhere.txt"], "cannot read nowhere.txt"),
        (["--pair", "Fennel", "Nobody"], "no readings of a dog called 'Nobody'"),
    ],
)
def test_the_command_says_what_is_wrong(
    more: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*ASKED, "--json", *more]) == 2
    assert told in capsys.readouterr().err


def test_the_form_grades_in_the_words_of_the_scale() -> None:
    form = GradingForm("Dunnock", STANDARD.points, DAY)
    assert form.grades == ()
    calls: list[int] = []
    form.changed.append(lambda: calls.append(1))
    form.grader.value = "K.T."
    form.rows["feet"][0].value = "a little flat or open"
    form.rows["feet"][1].value = "fairly sure"
    (given,) = form.grades
    assert (given.dog, given.point, given.grader, given.sure) == (
        "Dunnock", "feet", "K.T.", "fairly sure",
    )  # fmt: skip
    assert calls


def test_the_editor_never_writes_over_a_persons_words() -> None:
    form = GradingForm("Dunnock", STANDARD.points, DAY)
    case = DOGS["Dunnock"].assessment
    editor = CritiqueEditor(lambda: look(case, form.grades, RUNS), DAY)
    form.changed.append(editor.follow)
    form.rows["feet"][0].value = "compact, with firm pads"
    assert "the feet are compact" in editor.text.value
    mine = editor.text.value.replace("the feet are compact", "lovely feet, compact")
    editor.text.value = mine
    assert "edited" in editor.place.value
    form.rows["coat"][0].value = "of the texture asked and in good order"
    assert editor.text.value == mine
    assert "not written from these readings" in editor.place.value
