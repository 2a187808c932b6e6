"""The day a dog died: noted, taken back, carried along or left out, and moved there from old notes.

Oracles: ISO 8601 dates; files read with sqlite3 and csv, not with the kit.
"""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from kit.cli.main import main
from kit.protocol.catalogue import catalogue
from kit.records.backup import back_up, restore
from kit.records.checking import check_store
from kit.records.errors import RecordError
from kit.records.exchange import import_csv
from kit.records.folder import import_folder
from kit.records.merging import merge
from kit.records.package import export_package
from kit.records.puppies import labels, puppy_of, with_mark
from kit.records.store import Store, open_store
from kit.records.values import Dog, check_death, new_id
from kit.survey.anonymous import anonymised
from kit.survey.dogs import read_survey
from kit.survey.exchange import write_readings

FILES = Path(__file__).parent / "files"
DEMO = Path(__file__).parents[1] / "data" / "demo_litter.csv"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "records.sqlite3") as opened:
        yield opened


@pytest.mark.parametrize(("died", "born"), [
    ("", "2026-03-01"), ("2026-03-01", "2026-03-01"), ("2026", "2026-03-01"), ("2026-03", ""),
    ("2026-03-02", "2026-03"),
])  # fmt: skip
def test_a_day_of_death_is_as_exact_as_known(died: str, born: str) -> None:
    assert check_death(died, born) == died


@pytest.mark.parametrize(("died", "born"), [
    ("2026-02-28", "2026-03-01"), ("2025", "2026-03-01"), ("2026-02", "2026-03-01"),
    ("10.3.2026", ""), ("2026-02-30", ""), ("soon", ""),
])  # fmt: skip
def test_no_dog_dies_before_it_is_born(died: str, born: str) -> None:
    with pytest.raises(RecordError, match=r"before it was born|is no date"):
        check_death(died, born)


def test_it_is_noted_and_taken_back(store: Store) -> None:
    dog = store.add_dog("Moss", born="2026-03-01")
    store.change_dog(replace(dog, died="2026-03-10"))
    assert store.find_dog(dog.id).died == "2026-03-10"
    with pytest.raises(RecordError, match="before it was born"):
        store.change_dog(replace(dog, died="2026-02-10"))
    store.change_dog(dog)
    assert store.find_dog(dog.id) == dog


def test_old_notes_that_held_a_death_are_moved(tmp_path: Path) -> None:
    """Only what is plainly the dog's own day of death is moved; all else stays as written."""
    path = tmp_path / "records.sqlite3"
    shutil.copy(FILES / "litter_v3.sqlite3", path)
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("select max(version) from schema_migrations").fetchone() == (3,)
        before = dict(plain.execute("select name, note from dogs"))
        raw = plain.execute("select id, raw from readings order by number").fetchall()
    with open_store(path) as opened:
        now = {dog.name: (dog.died, dog.note) for dog in opened.dogs()}
        assert [(row.id, row.reading.raw) for row in opened.readings(history=True)] == raw
        assert check_store(opened).problems == ()
    assert now["Birch"] == ("2026-03-10", "collar: blue; seen by the vet")
    assert now["Cedar"] == ("2026-03-04", "collar: white")
    for untouched in ("Ash", "Doe", "Elm", "Fir"):
        assert now[untouched] == ("", before[untouched])


def test_the_first_file_with_a_death_reads_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "records.sqlite3"
    shutil.copy(FILES / "records_v4.sqlite3", path)
    with open_store(path) as opened:
        assert {dog.name: dog.died for dog in opened.dogs()} == {"Alder": "", "Bramble": "2024-11"}


def test_a_package_carries_it_and_an_older_package_still_comes_in(
    store: Store, tmp_path: Path
) -> None:
    store.add_dog("Moss", born="2026-03-01", died="2026-03-10")
    folder = tmp_path / "package"
    export_package(store, folder)
    resources = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))["resources"]
    (fields,) = [one["schema"]["fields"] for one in resources if one["name"] == "dogs"]
    assert "lives" in next(field for field in fields if field["name"] == "died")["description"]
    with open_store(tmp_path / "b.sqlite3") as other:
        import_folder(other, folder)
        assert other.dogs() == store.dogs()
    rows = list(csv.reader((folder / "dogs.csv").read_text(encoding="utf-8").splitlines()))
    old = rows[0].index("died")
    lines = [",".join(cell for at, cell in enumerate(row) if at != old) for row in rows]
    (folder / "dogs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    with open_store(tmp_path / "c.sqlite3") as other:
        import_folder(other, folder)
        assert [(dog.name, dog.died) for dog in other.dogs()] == [("Moss", "")]


def test_a_backup_carries_it(store: Store, tmp_path: Path) -> None:
    store.add_dog("Moss", born="2026-03-01", died="2026-03-10")
    back_up(store, tmp_path / "copy.sqlite3")
    restore(tmp_path / "new.sqlite3", tmp_path / "copy.sqlite3")
    with open_store(tmp_path / "new.sqlite3") as other:
        assert other.dogs() == store.dogs()


def test_a_merge_fills_in_what_was_not_known_and_changes_nothing_known(store: Store) -> None:
    here = store.add_dog("Moss", born="2026-03-01", note="collar: white")
    there = replace(here, sex="dog", born="2026-03-02", note="other", died="2026-03-10")
    assert merge(store, [there], []).completed == 1
    assert store.find_dog(here.id) == replace(here, sex="dog", died="2026-03-10")
    assert merge(store, [there], []).completed == 0


def test_a_death_that_contradicts_what_is_known_stays_out(store: Store) -> None:
    here = store.add_dog("Moss", born="2026-03-01")
    there = Dog(here.id, "Moss", born="2026-01-01", died="2026-02-01")
    assert merge(store, [there], []).completed == 0
    assert store.find_dog(here.id) == here


def test_a_csv_tells_of_its_dogs(store: Store, tmp_path: Path) -> None:
    done = import_csv(store, DEMO)
    assert (done.dogs, done.problems) == (7, ())
    moss = store.find_dog("Moss")
    assert (moss.sex, moss.born, moss.died) == ("dog", "2026-03-01", "2026-03-10")
    assert moss.note == "collar: white; litter: first litter of Bryony"
    assert import_csv(store, DEMO).completed == 0
    later = tmp_path / "later.csv"
    later.write_text(
        "dog,measurement,value,unit,time,born,died,sex\n"
        "Gorse,weight,13,kg,2026-10-01,2026-03-02,2026-10-02,male\n"
        "Gorse,weight,13.1,kg,2026-10-02,2026-03-02,,\n",
        encoding="utf-8",
    )
    done = import_csv(store, later)
    assert (done.added, done.completed) == (2, 1)
    assert [problem.column for problem in done.problems] == ["sex", "born"]
    gorse = store.find_dog("Gorse")
    assert (gorse.sex, gorse.born, gorse.died) == ("dog", "2026-03-01", "2026-10-02")


def test_a_csv_of_readings_and_an_anonymised_survey_leave_it_out(
    store: Store, tmp_path: Path
) -> None:
    import_csv(store, DEMO)
    address, out = f"--database={store.path}", tmp_path / "out.csv"
    assert main(["records", address, "export", str(out)]) == 0
    assert "died" not in out.read_text(encoding="utf-8").splitlines()[0]
    bare = anonymised(read_survey(DEMO, catalogue())).table
    write_readings(bare, tmp_path / "bare.csv")
    told = (tmp_path / "bare.csv").read_text(encoding="utf-8")
    assert not {"died", "born"} & set(told.splitlines()[0].split(","))
    assert "2026-03" not in told


def test_check_finds_a_death_before_birth(store: Store) -> None:
    dog = store.add_dog("Moss", born="2026-03-01")
    with closing(sqlite3.connect(store.path)) as plain:
        plain.execute("update dogs set died = '2025-01-01' where id = ?", (dog.id,))
        plain.commit()
    (problem,) = check_store(store).problems
    assert "dog Moss: a dog cannot have died before it was born" in problem


def test_dogs_of_the_records_as_puppies() -> None:
    moss = Dog(new_id(), "Moss", "dog", "2026-03-01", died="2026-03-10",
               note="collar: white; litter: B")  # fmt: skip
    puppy = puppy_of(moss)
    assert (puppy.mark, puppy.litter, puppy.died) == ("white", "B", date(2026, 3, 10))
    assert puppy_of(replace(moss, died="2026-02")).died == date(2026, 2, 28)
    assert puppy_of(replace(moss, died="2026")).died == date(2026, 12, 31)
    assert with_mark(moss.note, "a nick; left ear") == "collar: a nick left ear; litter: B"
    assert with_mark(moss.note, "") == "litter: B"
    assert with_mark("shy", "red") == "collar: red; shy"


def test_namesakes_are_told_apart_by_date_then_by_number() -> None:
    one = Dog(new_id(), "Ash", born="2025-03-01")
    two = Dog(new_id(), "Ash", born="2026-03-01")
    three = Dog(new_id(), "Ash", born="2026-03-01", transponder="276098101234567")
    assert labels([one, two])[two.id] == "Ash (2026-03-01)"
    assert labels([one, two, three])[three.id] == "Ash (276098101234567)"
    assert labels([one])[one.id] == "Ash"
