"""Grades by eye, movement and critiques in the records: kept by the same rules as readings."""

from __future__ import annotations

import csv
import io
import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from records_workers import reading
from test_records_exchange import AWKWARD, TIMES

from kit.cli.main import main
from kit.movement.observations import Observation, make_observation, read_movement
from kit.quantities.errors import KitError
from kit.records.backup import back_up, restore
from kit.records.checking import check_store
from kit.records.entries import SavedCritique, critique_hash
from kit.records.errors import RecordError
from kit.records.folder import export_folder, import_folder
from kit.records.merging import merge, merge_store
from kit.records.migrations import LATEST
from kit.records.package import export_package
from kit.records.store import Store, open_store
from kit.records.values import Dog, Session, new_id
from kit.standards.points import Grade, points, read_grades

DATA = Path(__file__).parents[1] / "data"
FILES = Path(__file__).parent / "files"
TERRIER = "common-practice-terrier"
FEET = points()["feet"].scale
TABLES = ("grades", "movement", "critiques")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "records.sqlite3") as opened:
        yield opened


@pytest.fixture
def dog(store: Store) -> Dog:
    return store.add_dog("Alder", sex="dog", born="2021-05", note="=SUM(A1)")


@pytest.fixture
def session(store: Store) -> Session:
    return store.start_session("ring", "wet")


def feet(word: str = FEET[0], grader: str = "K.T.", **details: str) -> Grade:
    return Grade("Alder", "feet", word, grader=grader, **details)


def timed(written: str = "4,2", run: str = "1") -> Observation:
    return make_observation("Alder", "time", written, "s", run=run, pace="trot")


def critique(text: str = "[s1] Good feet.\n", author: str = "K.T.") -> SavedCritique:
    marks = json.dumps({"sentences": [{"id": "s1", "text": "Good feet."}]})
    return SavedCritique("Alder", "2025-05-24", author, "short", TERRIER, "undated", "a" * 64,
                         "0.1", "", text, marks, critique_hash(text, marks))  # fmt: skip


def an_evening(store: Store, dog: Dog, session: Session) -> None:
    """Store every kind of row of every kind of entry."""
    first = store.grades.add(dog.id, feet(FEET[1], note="+1, or so"), session.id)
    store.grades.correct(first.id, feet(time="2025-05-24T19:00"))
    gone = store.grades.add(dog.id, feet(FEET[2], "M.O.", note='"said"\r\nhe'), session.id)
    store.grades.restore(store.grades.withdraw(gone.id).id)
    store.grades.withdraw(store.grades.add(dog.id, feet(FEET[2], "P."), session.id).id)
    slow = store.movement.add(dog.id, timed("5"), session.id)
    store.movement.correct(slow.id, timed())
    store.movement.withdraw(store.movement.add(dog.id, timed("9", "2"), session.id).id)
    old = store.critiques.add(dog.id, critique())
    store.critiques.correct(old.id, critique("[s1] Very good feet.\r\n[+] =Mine\u2028\n"))
    store.critiques.withdraw(store.critiques.add(dog.id, critique(author="M.O.")).id)


def everything(store: Store) -> tuple[tuple[Any, ...], ...]:
    return tuple(book.all(history=True) for book in store.books)


# The store ---------------------------------------------------------------------------------------


def test_what_was_stored_is_there_for_another_program(
    store: Store, dog: Dog, session: Session
) -> None:
    grade = store.grades.add(dog.id, feet(), session.id)
    moved = store.movement.add(dog.id, timed(), session.id)
    written = store.critiques.add(dog.id, critique())
    with open_store(store.path) as other:
        assert everything(other) == ((grade,), (moved,), (written,))
    assert moved.content.value == 4.2
    assert (grade.content, moved.content, written.content) == (feet(), timed(), critique())


def test_what_counts_is_the_last_of_each_chain(store: Store, dog: Dog, session: Session) -> None:
    an_evening(store, dog, session)
    assert [(row.content.grade, row.content.grader) for row in store.grades.all()] == [
        (FEET[0], "K.T."), (FEET[2], "M.O."),
    ]  # fmt: skip
    assert [row.content.raw for row in store.movement.all(dog.id)] == ["4,2"]
    (kept,) = store.critiques.all(dog.id)
    assert kept.content.text.startswith("[s1] Very good feet.")
    assert [len(rows) for rows in everything(store)] == [7, 4, 4]
    assert check_store(store).problems == ()
    assert check_store(store).entries == (("grades", 7, 2), ("movement", 4, 1), ("critiques", 4, 1))


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("statement", ["update {} set withdrawn = 1", "delete from {}",
                                       "insert or replace into {} select * from {}"])  # fmt: skip
def test_the_database_itself_refuses_to_change_a_row(
    store: Store, dog: Dog, session: Session, table: str, statement: str
) -> None:
    an_evening(store, dog, session)
    before = everything(store)
    with pytest.raises(RecordError, match="append-only"), store.writing() as connection:
        connection.exec_driver_sql(statement.format(table, table))
    assert everything(store) == before


def test_what_cannot_be_is_refused_and_nothing_stored(
    store: Store, dog: Dog, session: Session
) -> None:
    bad: list[tuple[Any, Any, str]] = [
        (store.grades, replace(feet(), point="wings"), "no point is called"),
        (store.grades, replace(feet(), grade=" "), "grade is missing"),
        (store.grades, replace(feet(), sure="certain"), "how sure"),
        (store.grades, replace(feet(), time="today"), "no date or time"),
        (store.grades, replace(feet(), note="\0"), "no text"),
        (store.movement, replace(timed(), value=4.1), "not what was written"),
        (store.movement, replace(timed(), what="hops"), "nothing of movement"),
        (store.movement, replace(timed(), run=""), "belongs to a run"),
        (store.critiques, replace(critique(), text="other"), "not what was stored"),
        (store.critiques, replace(critique(), written="soon"), "no date or time"),
    ]
    for book, content, message in bad:
        with pytest.raises(KitError, match=message):
            book.add(dog.id, content, session.id)
    with pytest.raises(RecordError, match="no such dog"):
        store.grades.add(new_id(), feet(), session.id)
    with pytest.raises(RecordError, match="no such session"):
        store.grades.add(dog.id, feet(), new_id())
    assert everything(store) == ((), (), ())


def test_corrections_are_of_the_same_thing_and_of_the_latest_state(
    store: Store, dog: Dog, session: Session
) -> None:
    first = store.grades.add(dog.id, feet(), session.id)
    with pytest.raises(RecordError, match="same point by the same grader"):
        store.grades.correct(first.id, feet(grader="M.O."))
    with pytest.raises(RecordError, match="not withdrawn"):
        store.grades.restore(first.id)
    store.grades.correct(first.id, feet(FEET[1]))
    with pytest.raises(RecordError, match="changed since"):
        store.grades.withdraw(first.id)
    with pytest.raises(RecordError, match="no such grade"):
        store.grades.withdraw(new_id())


def test_an_identity_makes_a_repeated_call_harmless(
    store: Store, dog: Dog, session: Session
) -> None:
    own = new_id()
    kept = store.movement.add(dog.id, timed(), session.id, own)
    assert store.movement.add(dog.id, timed(), session.id, own) == kept
    with pytest.raises(RecordError, match="another observation has this identity"):
        store.movement.add(dog.id, timed("5"), session.id, own)
    assert store.movement.all(history=True) == (kept,)


def test_a_change_anywhere_is_noticed(store: Store, dog: Dog, session: Session) -> None:
    seen = {store.change_marker()}
    kept = store.grades.add(dog.id, feet(), session.id)
    seen.add(store.change_marker())
    store.grades.withdraw(kept.id)
    seen.add(store.change_marker())
    store.critiques.add(dog.id, critique())
    assert len(seen | {store.change_marker()}) == 4


# Files, merging, backups -------------------------------------------------------------------------


@pytest.mark.parametrize("package", [False, True])
def test_out_and_in_again_is_exact_and_twice_adds_nothing(
    store: Store, dog: Dog, session: Session, tmp_path: Path, package: bool
) -> None:
    an_evening(store, dog, session)
    store.store_reading(dog.id, session.id, reading())
    folder = tmp_path / "out"
    folder.mkdir()
    (export_package if package else export_folder)(store, folder)
    with open_store(tmp_path / "other.sqlite3") as other:
        assert [done.added for _, done in import_folder(other, folder)] == [1, 7, 4, 4]
        assert everything(other) == everything(store)
        assert other.readings() == store.readings()
        assert other.sessions() == store.sessions()
        if package:
            assert other.dogs() == store.dogs()
        again = import_folder(other, folder)
        assert [(done.added, done.present) for _, done in again] == [(0, 1), (0, 7), (0, 4), (0, 4)]
        assert all(done.problems == () for _, done in again)
        second = tmp_path / "second"
        second.mkdir()
        export_folder(other, second)
        for name in ("grades.csv", "movement.csv", "critiques.csv"):
            assert (second / name).read_bytes() == (folder / name).read_bytes()


@pytest.mark.slow
@settings(max_examples=30, deadline=None)
@given(AWKWARD, AWKWARD, TIMES, AWKWARD.filter(lambda text: bool(text.strip())))
def test_any_text_comes_back(grader: str, note: str, time: str, words: str) -> None:
    with tempfile.TemporaryDirectory() as name:
        room = Path(name)
        (room / "out").mkdir()
        with open_store(room / "a.sqlite3") as here, open_store(room / "b.sqlite3") as there:
            dog, session = here.add_dog("Alder"), here.start_session(note, grader)
            here.grades.add(dog.id, feet(FEET[1], grader, note=note, time=time), session.id)
            one = replace(timed(), observer=grader, note=note, time=time, run=words)
            here.movement.add(dog.id, one, session.id)
            here.critiques.add(dog.id, critique(words, grader))
            export_folder(here, room / "out")
            assert all(done.problems == () for _, done in import_folder(there, room / "out"))
            assert everything(there) == everything(here)


def test_no_cell_is_a_formula(store: Store, dog: Dog, session: Session, tmp_path: Path) -> None:
    an_evening(store, dog, session)
    for path in export_package(store, tmp_path / "package"):
        if path.suffix == ".csv":
            text = path.read_bytes().decode()
            cells = [cell for row in csv.reader(io.StringIO(text, newline="")) for cell in row]
            assert not [cell for cell in cells if cell[:1] in set("=+-@\t\r")]


def test_a_critique_changed_outside_or_missing_is_left_out(
    store: Store, dog: Dog, tmp_path: Path
) -> None:
    kept = [store.critiques.add(dog.id, critique(f"[s1] {words}\n")) for words in "ABC"]
    folder = tmp_path / "out"
    folder.mkdir()
    export_folder(store, folder)
    changed, gone, whole = (folder / "critiques" / f"2025-05-24-{row.id}.txt" for row in kept)
    assert whole.read_text(encoding="utf-8") == "[s1] C\n"
    changed.write_text("[s1] Best of all.\n", encoding="utf-8")
    gone.unlink()
    with open_store(tmp_path / "other.sqlite3") as other:
        *_, (_, done) = import_folder(other, folder)
        assert [row.id for row in other.critiques.all()] == [kept[2].id]
        assert [problem.row for problem in done.problems] == [2, 3]
        assert "not what was stored" in done.problems[0].message


def test_a_changed_row_under_an_old_identity_is_refused(
    store: Store, dog: Dog, session: Session, tmp_path: Path
) -> None:
    store.grades.add(dog.id, feet(), session.id)
    export_folder(store, tmp_path)
    path = tmp_path / "grades.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(FEET[0], FEET[2]), encoding="utf-8")
    _, (name, done), *_ = import_folder(store, tmp_path)
    assert (name, done.added, done.present) == ("grades", 0, 0)
    assert "hold another grade under this identity" in done.problems[0].message
    assert [row.content.grade for row in store.grades.all()] == [FEET[0]]


def test_an_exported_file_counts_only_what_counts_now(
    store: Store, dog: Dog, session: Session, tmp_path: Path
) -> None:
    """The files are also what `conformation critique --grades --movement` reads."""
    an_evening(store, dog, session)
    export_folder(store, tmp_path)
    grades, moved = read_grades(tmp_path / "grades.csv"), read_movement(tmp_path / "movement.csv")
    assert [(one.grade, one.grader) for one in grades.rows] == [(FEET[0], "K.T."),
                                                                (FEET[2], "M.O.")]  # fmt: skip
    assert [one.raw for one in moved.rows] == ["4,2"]
    assert grades.problems + moved.problems == ()


def test_stations_that_were_apart_merge_without_loss_or_doubling(
    store: Store, dog: Dog, session: Session, tmp_path: Path
) -> None:
    shared = store.grades.add(dog.id, feet(FEET[2]), session.id)
    back_up(store, tmp_path / "other.sqlite3")
    with open_store(tmp_path / "other.sqlite3") as other:
        store.grades.correct(shared.id, feet(FEET[1]))
        later = other.grades.correct(shared.id, feet(FEET[0]))
        other.movement.add(dog.id, timed(), session.id)
        other.critiques.add(dog.id, critique())
        first = merge_store(store, other)
        assert (first.entries, first.entries_present, first.conflicts) == (3, 1, ())
        second = merge_store(store, other)
        assert (second.entries, second.entries_present, second.conflicts) == (0, 4, ())
        merge_store(other, store)
        for here, there in zip(everything(store), everything(other), strict=True):
            assert set(here) == set(there)
        assert store.grades.all() == other.grades.all() == (later,)
        (problem,) = check_store(store).problems
        assert "two stations changed one grade" in problem


def test_a_merge_takes_in_all_or_nothing(store: Store, dog: Dog, session: Session) -> None:
    kept = store.grades.add(dog.id, feet(), session.id)
    fresh = replace(kept, id=new_id())
    stranger = replace(fresh, id=new_id(), supersedes=new_id())
    with pytest.raises(RecordError, match="nothing was taken in"):
        merge(store, (), (), (), {"grades": [fresh, stranger]})
    assert store.grades.all(history=True) == (kept,)


def test_a_backup_holds_them_and_a_restore_loses_none_unasked(
    store: Store, dog: Dog, session: Session, tmp_path: Path
) -> None:
    an_evening(store, dog, session)
    copy = tmp_path / "copy.sqlite3"
    assert back_up(store, copy) == 15
    before = everything(store)
    store.movement.add(dog.id, timed("3,9", "3"), session.id)
    store.close()
    assert store.path is not None
    with pytest.raises(RecordError, match="1 rows that the backup lacks"):
        restore(store.path, copy)
    assert restore(store.path, copy, force=True).dropped == 1
    with open_store(store.path) as restored:
        assert everything(restored) == before


SPOILT = [
    ("grades", "update grades set grade = '' where supersedes is null", "grade is missing"),
    ("grades", "update grades set supersedes = id where supersedes is not null", "in a ring"),
    ("grades", "update grades set point = 'coat' where supersedes is null", "another dog or thing"),
    ("movement", "update movement set value = 1", "not what was written"),
    ("movement", "update movement set supersedes = 'no' where withdrawn", "does not exist"),
    ("critiques", "update critiques set text = text || '!'", "not what was stored"),
]


@pytest.mark.parametrize(("table", "statement", "message"), SPOILT)
def test_check_finds_what_was_spoilt(
    store: Store, dog: Dog, session: Session, capsys: pytest.CaptureFixture[str],
    table: str, statement: str, message: str,
) -> None:  # fmt: skip
    an_evening(store, dog, session)
    store.close()
    with closing(sqlite3.connect(str(store.path))) as plain:
        plain.execute(f"drop trigger {table}_update")
        plain.execute("pragma foreign_keys = off")
        plain.execute(statement)
        plain.commit()
    assert main(["records", "check", "--database", str(store.path)]) == 2
    assert message in capsys.readouterr().err


# Old files ---------------------------------------------------------------------------------------


def test_an_evening_from_before_opens_whole_and_takes_what_is_new(tmp_path: Path) -> None:
    path = tmp_path / "records.sqlite3"
    shutil.copy(FILES / "evening_v2.sqlite3", path)
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("select max(version) from schema_migrations").fetchone() == (2,)
        raw = plain.execute("select id, raw from readings order by number").fetchall()
    with open_store(path) as store:
        assert [(row.id, row.reading.raw) for row in store.readings(history=True)] == raw
        assert (len(raw), len(store.readings()), len(store.snapshots())) == (56, 53, 1)
        assert check_store(store).problems == ()
        assert check_store(store).version == LATEST
        cob, session = store.find_dog("Cob"), store.sessions()[-1]
        kept = store.grades.add(cob.id, feet(), session.id)
        assert kept.content.dog == "Cob"
        with pytest.raises(RecordError, match="append-only"), store.writing() as connection:
            connection.exec_driver_sql("delete from grades")


def test_the_first_file_with_grades_reads_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "records.sqlite3"
    shutil.copy(FILES / "records_v3.sqlite3", path)
    with open_store(path) as store:
        (grade,) = store.grades.all()
        assert (grade.content.grade, grade.content.note) == (FEET[0], "=after a second look")
        assert [len(rows) for rows in everything(store)] == [4, 3, 1]
        assert [row.content.value for row in store.movement.all()] == [12.0, 4.2, 7.5]
        (kept,) = store.critiques.all()
        assert "[+] A pleasure to handle." in kept.content.text
        (added,) = [row for row in json.loads(kept.content.marks)["sentences"] if row["edited"]]
        assert added["text"] == "A pleasure to handle."
