"""Grades by eye, movement and critiques in the records, as commands and small forms use them."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from records_workers import reading
from test_records_beside import DATA, FEET, TERRIER, everything

from kit.cli.main import main
from kit.movement.body import body_of
from kit.movement.observations import read_movement
from kit.panels.eye import CritiqueEditor, GradingForm, timed_run
from kit.panels.eye_records import EyeRecords
from kit.protocol.catalogue import catalogue
from kit.records.checking import check_store
from kit.records.store import Store, open_store
from kit.records.values import Dog, Session
from kit.reports.critique_build import look
from kit.standards.assessment import assess
from kit.standards.points import points, read_grades
from kit.standards.standard import FOLDER, load_standard


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "records.sqlite3") as opened:
        yield opened


@pytest.fixture
def dog(store: Store) -> Dog:
    return store.add_dog("Alder", sex="dog", born="2021-05")


@pytest.fixture
def session(store: Store) -> Session:
    return store.start_session("ring", "wet")


# Commands ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records that hold the demo's readings, grades and movement."""
    path = tmp_path_factory.mktemp("demo") / "records.sqlite3"
    for name in ("readings", "grades", "movement"):
        file = str(DATA / f"demo_{name}.csv")
        assert main(["records", "--database", str(path), "import", file]) == 0
    return path


def test_files_from_elsewhere_add_nothing_the_second_time(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_store(demo) as store:
        before = everything(store)
        assert [row.content for row in store.grades.all()] == list(
            read_grades(DATA / "demo_grades.csv").rows
        )
        assert [row.content for row in store.movement.all()] == list(
            read_movement(DATA / "demo_movement.csv").rows
        )
    for name in ("grades", "movement"):
        file = str(DATA / f"demo_{name}.csv")
        assert main(["records", "import", file, "--database", str(demo)]) == 0
        said = capsys.readouterr().out
        assert said.startswith("0 ")
        assert "New dogs: 0, new sessions: 0" in said
    with open_store(demo) as store:
        assert everything(store) == before


def test_a_bad_row_is_named_and_the_rest_comes_in(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "grades.csv"
    rows = ["dog;point;grade", f"Alder;feet;{FEET[0]}", "Alder;feet;grand", "Alder;wings;two"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert main(["records", f"--database={store.path}", "import", str(path)]) == 0
    told = capsys.readouterr()
    assert "1 grades added, 0 were there already, 2 left out" in told.out
    assert "row 3, column 'grade'" in told.err
    assert "no point is called 'wings'" in told.err


def run_json(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert main(["critique", *arguments, "--json", "--date", "2025-06-01"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_a_critique_of_the_records_is_that_of_the_files(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--standard", TERRIER, "--dog", "Fennel", "--by", "K.T."]
    files = [str(DATA / "demo_readings.csv"), "--grades", str(DATA / "demo_grades.csv"),
             "--movement", str(DATA / "demo_movement.csv")]  # fmt: skip
    assert run_json(capsys, "--database", str(demo), *asked) == run_json(capsys, *files, *asked)


def test_a_critique_is_saved_as_it_stands_and_none_is_overwritten(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "records.sqlite3"
    shutil.copy(demo, path)
    asked = ["critique", "--database", str(path), "--standard", TERRIER, "--dog", "cob", "--save",
             "--short", "--by", "K.T.", "--date", "2025-06-01", "--out", str(tmp_path)]  # fmt: skip
    for _ in range(2):
        assert main(asked) == 0
    assert "word for word" in capsys.readouterr().err
    text = tmp_path / "Cob" / "critique.txt"
    mine = text.read_text(encoding="utf-8") + "[+] Kind with everyone.\n"
    (tmp_path / "mine.txt").write_text(mine, encoding="utf-8")
    assert main([*asked, "--edited", str(tmp_path / "mine.txt")]) == 0
    with open_store(path) as store:
        first, second = (row.content for row in store.critiques.all())
        assert check_store(store).problems == ()
    assert first.text == text.read_text(encoding="utf-8")
    assert "[+] Kind with everyone." in second.text
    assert (second.author, second.written, second.standard) == ("K.T.", "2025-06-01", TERRIER)
    assert first.standard_hash == second.standard_hash != ""
    (added,) = [row for row in json.loads(second.marks)["sentences"] if row["edited"]]
    assert added["text"] == "Kind with everyone."


@pytest.mark.parametrize(
    ("more", "told"),
    [([str(DATA / "demo_readings.csv")], "from a file or from the records"),
     (["--grades", "x.csv"], "come from the records, too"), (["--dog", "Nobody"], "no dog called")],
)  # fmt: skip
def test_the_command_says_what_it_cannot_do(
    demo: Path, more: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["critique", "--database", str(demo), "--standard", TERRIER, *more]) == 2
    assert told in capsys.readouterr().err


def test_a_mistyped_database_makes_no_records(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "typo.sqlite3"
    assert main(["critique", "--database", str(path), "--standard", TERRIER]) == 2
    assert "there are no records" in capsys.readouterr().err
    assert not path.exists()


def test_standards_show_and_count_points_and_movement(capsys: pytest.CaptureFixture[str]) -> None:
    standard = load_standard(TERRIER)
    assert main(["standards", "show", TERRIER]) == 0
    shown = capsys.readouterr().out
    for clause in standard.points:
        assert f"  {clause.point}: asked: {' or '.join(clause.asked)}" in shown
    for figure in standard.movement:
        assert f"  {figure.figure}: " in shown
        assert f'"{figure.words}"' in shown
    file = FOLDER / f"{TERRIER}.toml"
    assert main(["standards", "check", str(file)]) == 0
    counted = file.read_text(encoding="utf-8")
    points_there, moving = counted.count("\n[[point]]"), counted.count("\n[[movement]]")
    said = f"{points_there} points graded by eye, {moving} figures of movement, nothing wrong"
    assert said in capsys.readouterr().out


# The small forms ---------------------------------------------------------------------------------


def press(place: Any, words: str) -> None:
    """Press the button that bears some words, wherever it is inside."""
    for child in getattr(place, "children", ()):
        if getattr(child, "description", "") == words:
            child.click()
        press(child, words)


STORE = "Store in the records"


def test_the_forms_store_into_the_records(store: Store, dog: Dog, session: Session) -> None:
    standard = load_standard(TERRIER)
    store.store_reading(dog.id, session.id, reading())
    records = EyeRecords(store, dog.id, session.id, standard)
    form = GradingForm("Alder", standard.points, "2025-05-24", records)
    form.grader.value = "K.T."
    form.rows["feet"][0].value = FEET[1]
    form.rows["coat"][0].value = points()["coat"].scale[0]
    press(form, STORE)
    press(form, STORE)
    assert len(store.grades.all(history=True)) == 2
    form.rows["feet"][0].value = FEET[0]
    form.rows["coat"][0].value = "not graded"
    press(form, STORE)
    assert [row.content for row in store.grades.all()] == list(form.grades)
    assert len(store.grades.all(history=True)) == 4
    case = assess([row.reading for row in store.readings()], catalogue(), standard)
    run = timed_run("Alder", body_of(case), records)
    _, distance, time, strides = run.children[0].children
    time.value, strides.value = "4,2", "7,5"
    press(run, STORE)
    press(run, STORE)
    time.value = "4,1"
    press(run, STORE)
    assert [(row.content.run, row.content.raw) for row in store.movement.all()] == [
        ("1", distance.value), ("1", "4,2"), ("1", "7,5"),
        ("2", distance.value), ("2", "4,1"), ("2", "7,5"),
    ]  # fmt: skip
    editor = CritiqueEditor(lambda: look(case, form.grades), "2025-05-24", records)
    editor.by.value = "K.T."
    editor.text.value += "[+] A pleasure.\n"
    press(editor, STORE)
    press(editor, STORE)
    (kept,) = store.critiques.all()
    assert (kept.content.author, kept.content.standard) == ("K.T.", TERRIER)
    assert "[+] A pleasure." in kept.content.text
