"""The store: append-only, durable, the same from every thread."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from records_workers import reading
from sqlalchemy import text

from kit.protocol.readings import Reading
from kit.quantities.errors import KitError
from kit.records.checking import check_store
from kit.records.errors import RecordError
from kit.records.store import Store, open_store
from kit.records.values import Dog, Session, SnapshotValue, check_birth, check_transponder, new_id


@pytest.fixture
def store(tmp_path: Path):
    with open_store(tmp_path / "records.sqlite3") as opened:
        yield opened


@pytest.fixture
def dog(store: Store) -> Dog:
    return store.add_dog("Alder", sex="dog", born="2021-05", breed="Slate Terrier")


@pytest.fixture
def session(store: Store) -> Session:
    return store.start_session("grooming table")


def test_a_reading_is_there_for_another_program(store: Store, dog: Dog, session: Session) -> None:
    written = reading(" 16 1/4 in ", "", note="kept still; wet coat", time="2025-05-17T09:30:18")
    stored = store.store_reading(dog.id, session.id, written)
    with open_store(store.path) as other:
        assert other.readings(dog.id) == (stored,)
    assert stored.reading == written
    assert stored.reading.raw == " 16 1/4 in "
    # 16 1/4 inches of 2.54 cm (International yard and pound agreement, 1959)
    assert stored.reading.value == pytest.approx(41.275, abs=1e-12)


def test_thirty_readings_from_alternating_threads_are_all_there(
    store: Store, dog: Dog, session: Session
) -> None:
    """As widget callbacks come: now on the main thread, now on another."""
    with ThreadPoolExecutor(1) as other:
        for number in range(30):
            written = reading(f"{40 + number / 10:.1f}")
            if number % 2:
                other.submit(store.store_reading, dog.id, session.id, written).result()
            else:
                store.store_reading(dog.id, session.id, written)
    with open_store(store.path) as again:
        values = [row.reading.raw for row in again.readings(dog.id, session.id)]
    assert values == [f"{40 + number / 10:.1f}" for number in range(30)]


def test_eight_threads_at_once_lose_nothing(store: Store, dog: Dog, session: Session) -> None:
    seen: set[str] = set()

    def enter(number: int) -> str:
        seen.add(threading.current_thread().name)
        return store.store_reading(dog.id, session.id, reading(f"{30 + number / 10:.1f}")).id

    with ThreadPoolExecutor(8) as hands:
        stored = set(hands.map(enter, range(80)))
    assert len(seen) > 1
    assert {row.id for row in store.readings(dog.id)} == stored
    assert len(stored) == 80


@pytest.mark.parametrize(
    "statement",
    [
        "update readings set raw = '1'",
        "delete from readings",
        "delete from snapshots",
        "insert or replace into readings select * from readings",
    ],
)
def test_the_database_itself_refuses_to_change_a_reading(
    store: Store, dog: Dog, session: Session, statement: str
) -> None:
    kept = store.store_reading(dog.id, session.id, reading())
    store.take_snapshot(dog.id, [SnapshotValue("chest_depth_to_height", 0.48, 0.01, "1")])
    with pytest.raises(RecordError, match="append-only"), store.writing() as connection:
        connection.exec_driver_sql(statement)
    assert store.readings(dog.id) == (kept,)


def test_corrections_withdrawals_and_restorations_are_rows_of_their_own(
    store: Store, dog: Dog, session: Session
) -> None:
    first = store.store_reading(dog.id, session.id, reading("14.5"))
    second = store.correct(first.id, reading("41.5"))
    third = store.withdraw(second.id)
    assert store.readings(dog.id) == ()
    fourth = store.restore(third.id)
    assert store.readings(dog.id) == (fourth,)
    assert fourth.reading.raw == "41.5"
    rows = store.readings(dog.id, history=True)
    assert rows == (first, second, third, fourth)
    assert [row.supersedes for row in rows] == ["", first.id, second.id, third.id]
    assert check_store(store).problems == ()


def test_of_two_panels_only_one_may_change_the_same_state(
    store: Store, dog: Dog, session: Session
) -> None:
    first = store.store_reading(dog.id, session.id, reading("14.5"))
    with open_store(store.path) as other:
        other.correct(first.id, reading("41.5"))
    for change in (lambda: store.correct(first.id, reading("45.1")),
                   lambda: store.withdraw(first.id)):  # fmt: skip
        with pytest.raises(RecordError, match="has been changed since"):
            change()
    assert [row.reading.raw for row in store.readings(dog.id)] == ["41.5"]


def test_a_panel_notices_what_another_enters(store: Store, dog: Dog, session: Session) -> None:
    other_dog = store.add_dog("Bramble")
    marks = [store.change_marker(dog.id)]
    with open_store(store.path) as other:
        row = other.store_reading(dog.id, session.id, reading())
        marks.append(store.change_marker(dog.id))
        other.withdraw(row.id)
        marks.append(store.change_marker(dog.id))
        other.store_reading(other_dog.id, session.id, reading())
        assert store.change_marker(dog.id) == marks[-1]
        other.change_dog(replace(other_dog, born="2020"))
        marks.append(store.change_marker(dog.id))
    assert len(set(marks)) == 4


def test_repeating_a_call_stores_once(store: Store, dog: Dog, session: Session) -> None:
    identity = new_id()
    once = store.store_reading(dog.id, session.id, reading(), identity)
    assert store.store_reading(dog.id, session.id, reading(), identity) == once
    with pytest.raises(RecordError, match="another reading has this identity"):
        store.store_reading(dog.id, session.id, reading("42"), identity)
    assert store.readings() == (once,)


BAD: list[tuple[dict[str, object], str]] = [
    ({"raw": ""}, "raw is missing"),
    ({"value": 14.5}, "not what was written"),
    ({"measurement": "height"}, "no measurement is called"),
    ({"side": "left"}, "wrong side"),
    ({"time": "yesterday"}, "no date or time"),
    ({"note": "a\0b"}, "no text"),
    ({"note": "\ud800"}, "no text"),
    ({"note": "x" * 10_001}, "too long"),
]


@pytest.mark.parametrize(("change", "message"), BAD)
def test_what_cannot_be_kept_is_refused(
    store: Store, dog: Dog, session: Session, change: dict[str, object], message: str
) -> None:
    with pytest.raises(KitError, match=message):
        store.store_reading(dog.id, session.id, replace(reading(), **change))
    assert store.readings(history=True) == ()


def test_a_reading_needs_a_stored_dog_and_session(store: Store, dog: Dog, session: Session) -> None:
    with pytest.raises(RecordError, match="no such dog"):
        store.store_reading(new_id(), session.id, reading())
    with pytest.raises(RecordError, match="no such session"):
        store.store_reading(dog.id, new_id(), reading())


def test_the_links_are_held_by_the_database_too(store: Store) -> None:
    with pytest.raises(RecordError), store.writing() as connection:
        connection.execute(text("insert into ownership (dog_id, owner_id, since) "
                                "values ('nobody', 'nobody', '')"))  # fmt: skip


def test_dogs_are_found_by_name_number_or_identity(store: Store) -> None:
    alder = store.add_dog("Alder", transponder="276 0981 0123 4567")
    for wanted in ("alder", " ALDER ", alder.id, "276098101234567"):
        assert store.find_dog(wanted) == alder
    with pytest.raises(RecordError, match="no dog called 'Elm'"):
        store.find_dog("Elm")
    store.add_dog("Alder")
    with pytest.raises(RecordError, match="2 dogs are called"):
        store.find_dog("Alder")
    with pytest.raises(RecordError, match="another dog"):
        store.add_dog("Elm", transponder="276098101234567")


# ISO 11784: 38 bits of identification (0 to 274 877 906 943) and a code of country or maker.
@pytest.mark.parametrize("number", ["276098101234567", "001000000000000", "999274877906943"])
def test_transponder_numbers_of_the_shape_of_iso_11784(number: str) -> None:
    assert check_transponder(number) == number
    assert check_transponder(f" {number[:3]}-{number[3:9]} {number[9:]} ") == number


@pytest.mark.parametrize(
    "number",
    [
        "000098101234567",
        "276274877906944",
        "27609810123456",
        "2760981012345678",
        "2760981O1234567",
        "٢٧٦٠٩٨١٠١٢٣٤٥٦٧",
    ],
)
def test_other_numbers_are_no_transponders(number: str) -> None:
    with pytest.raises(RecordError, match="transponder"):
        check_transponder(number)


@pytest.mark.parametrize("born", ["", "2021", "2021-05", "2021-05-17", "2024-02-29"])
def test_dates_of_birth_are_iso_8601(born: str) -> None:
    assert check_birth(born) == born


@pytest.mark.parametrize("born", ["17.5.2021", "2021-13", "2023-02-29", "21", "20210517", "soon"])
def test_other_dates_are_refused(born: str) -> None:
    with pytest.raises(RecordError, match="ISO 8601"):
        check_birth(born)


def test_snapshots_keep_the_figures_and_what_they_came_from(
    store: Store, dog: Dog, session: Session
) -> None:
    figures = (SnapshotValue("length_to_height_from_prosternum", 1.07, 0.012, "1", "undecided"),)
    store.store_reading(dog.id, session.id, reading("41.5"))
    first = store.take_snapshot(dog.id, figures, "slate-terrier", "2025-05-17")
    row = store.store_reading(dog.id, session.id, reading("41.6"))
    second = store.take_snapshot(dog.id, figures, "slate-terrier", "2025-05-17")
    store.withdraw(row.id)
    third = store.take_snapshot(dog.id, figures, "slate-terrier", "2025-05-17")
    assert store.snapshots(dog.id) == (first, second, third)
    assert first.values == figures
    assert first.content_hash == second.content_hash
    assert first.readings_hash == third.readings_hash != second.readings_hash


def test_owners_are_kept_apart_from_dogs_and_readings(store: Store, dog: Dog) -> None:
    owner = store.add_owner("A. Holder", "1 Mill Lane", "holder@example.org")
    store.set_owner(dog.id, owner.id, "2022")
    assert [link.owner for link in store.ownership()] == [owner.id]
    assert "Holder" not in repr(store.dogs())


def test_a_renamed_dog_keeps_its_readings(store: Store, dog: Dog, session: Session) -> None:
    store.store_reading(dog.id, session.id, reading())
    store.change_dog(replace(dog, name="Alder of the Mill"))
    (row,) = store.readings(dog.id)
    assert isinstance(row.reading, Reading)
    assert (row.dog, row.reading.dog) == (dog.id, "Alder of the Mill")


def test_memory_is_no_place_for_records() -> None:
    with pytest.raises(RecordError, match="would be lost"):
        open_store("sqlite://")


def test_the_users_own_folder_is_made_and_may_be_chosen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CONFORMATION_DATA", str(tmp_path / "deep" / "data"))
    with open_store() as own:
        own.add_dog("Alder")
    with open_store(tmp_path / "deep" / "data" / "records.sqlite3") as named:
        assert [dog.name for dog in named.dogs()] == ["Alder"]
