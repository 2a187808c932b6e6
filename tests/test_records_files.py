"""Old files, migrations, backup, restore and check."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from records_workers import HOLD, reading, start
from sqlalchemy import Connection, Engine, inspect

from kit.cli.main import main
from kit.records import schema
from kit.records.backup import back_up, restore
from kit.records.checking import check_store
from kit.records.connection import locate, make_engine
from kit.records.errors import RecordError
from kit.records.merging import merge
from kit.records.migrations import LATEST, MIGRATIONS, Migration, migrate, pending, version_of
from kit.records.store import Store, open_store
from kit.records.values import Dog, Session, StoredReading, new_id

FILES = Path(__file__).parent / "files"
OLD = sorted(FILES.glob("records_v*.sqlite3"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


@pytest.fixture
def begun(path: Path) -> tuple[Dog, Session]:
    with open_store(path) as store:
        return store.add_dog("Alder"), store.start_session("table")


def enter(path: Path, begun: tuple[Dog, Session], written: str = "41.5") -> StoredReading:
    with open_store(path) as store:
        return store.store_reading(begun[0].id, begun[1].id, reading(written))


@contextmanager
def engine_of(path: Path) -> Iterator[Engine]:
    engine = make_engine(locate(path))
    yield engine.execution_options(writes=True)
    engine.dispose()


def test_there_is_an_old_file_of_every_version() -> None:
    assert [int(path.stem.removeprefix("records_v")) for path in OLD] == list(range(1, LATEST + 1))


@pytest.mark.parametrize("old", OLD, ids=lambda old: old.stem)
def test_an_old_file_opens_and_reads_as_it_was_written(old: Path, path: Path) -> None:
    shutil.copy(old, path)
    with closing(sqlite3.connect(path)) as plain:
        (version,) = plain.execute("select max(version) from schema_migrations").fetchone()
    assert f"v{version}" in old.stem
    with open_store(path) as store:
        assert check_store(store).problems == ()
        assert check_store(store).version == LATEST
        alder, bramble = store.dogs()
        assert alder == Dog("11111111-1111-4111-8111-111111111111", "Alder", "dog", "2021-05",
                            "Slate Terrier", "276098101234567")  # fmt: skip
        assert bramble.note == '"quoted", and\nmore'
        assert [owner.address for owner in store.owners()] == ["1 Mill Lane"]
        rows = store.readings(history=True)
        assert [(row.reading.raw, row.reading.value) for row in rows] == [
            ("14.5", 14.5), ("41,5", 41.5), ("7 1/2 in", 19.05), ("13", 13.0), ("13", 13.0),
        ]  # fmt: skip
        assert [row.reading.raw for row in store.readings()] == ["41,5", "7 1/2 in"]
        assert len(store.snapshots()) == min(version - 1, 1)
        new = store.correct(rows[2].id, reading("19 cm", "", "chest_depth"))
        assert store.readings(alder.id)[-1] == new
        with pytest.raises(RecordError, match="append-only"), store.writing() as connection:
            connection.exec_driver_sql("update readings set raw = '1'")


def test_the_migrations_add_up_to_the_tables_of_today(path: Path, tmp_path: Path) -> None:
    with open_store(path) as migrated, engine_of(tmp_path / "direct.sqlite3") as direct:
        schema.METADATA.create_all(direct)
        assert shape(migrated.engine) == shape(direct)


def shape(engine: Engine) -> dict[str, object]:
    """Describe tables, columns, indexes and links as the database itself reports them."""
    seen = inspect(engine)
    return {
        table: (
            [(column["name"], str(column["type"]), column["nullable"], column["primary_key"])
             for column in seen.get_columns(table)],
            sorted((str(index["name"]), str(index["column_names"]))
                   for index in seen.get_indexes(table)),
            sorted((str(key["constrained_columns"]), key["referred_table"], str(key["options"]))
                   for key in seen.get_foreign_keys(table)),
            sorted(str(one["column_names"]) for one in seen.get_unique_constraints(table)),
            [one["sqltext"] for one in seen.get_check_constraints(table)],
        )
        for table in seen.get_table_names()
    }  # fmt: skip


def test_migrations_are_numbered_in_order_and_named() -> None:
    assert [migration.version for migration in MIGRATIONS] == list(range(1, LATEST + 1))
    assert len({migration.name for migration in MIGRATIONS}) == LATEST


def test_a_migration_that_fails_leaves_nothing_behind(path: Path) -> None:
    shutil.copy(FILES / "records_v1.sqlite3", path)

    def half(connection: Connection) -> None:
        connection.exec_driver_sql("create table extra (x integer)")
        connection.exec_driver_sql("insert into extra values (1)")
        connection.exec_driver_sql("insert into nowhere values (1)")

    with engine_of(path) as engine:
        steps = (*MIGRATIONS, Migration(LATEST + 1, "fails half-way", half))
        with pytest.raises(Exception, match="nowhere"):
            migrate(engine.begin, steps)
        with engine.begin() as connection:
            assert "extra" not in inspect(connection).get_table_names()
            assert version_of(connection) == LATEST


def test_the_pending_list(path: Path) -> None:
    shutil.copy(FILES / "records_v1.sqlite3", path)
    with engine_of(path) as engine:
        with engine.begin() as connection:
            assert pending(connection) == MIGRATIONS[1:]
        assert migrate(engine.begin) == tuple(step.name for step in MIGRATIONS[1:])
        assert migrate(engine.begin) == ()
        with engine.begin() as connection:
            assert pending(connection) == ()


def test_a_file_of_a_newer_kit_is_refused_untouched(path: Path, begun: tuple[Dog, Session]) -> None:
    with closing(sqlite3.connect(path)) as plain:
        plain.execute("insert into schema_migrations values (99, 'of tomorrow', '')")
        plain.commit()
        plain.execute("pragma journal_mode = delete")
    before = path.read_bytes()
    with pytest.raises(RecordError, match=r"newer version of the kit.*schema version 99.*install"):
        open_store(path)
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("select max(version) from schema_migrations").fetchone() == (99,)
    assert len(path.read_bytes()) == len(before)


def test_a_backup_made_while_others_enter_is_whole(path: Path, begun: tuple[Dog, Session]) -> None:
    rows = [enter(path, begun, f"4{number}.5") for number in range(5)]
    target = path.with_name("copy.sqlite3")
    with open_store(path) as store, open_store(path) as other:
        other.store_reading(begun[0].id, begun[1].id, reading("50"))
        assert back_up(store, target) == 6
        other.store_reading(begun[0].id, begun[1].id, reading("51"))
    assert [item.name for item in path.parent.iterdir() if "copy" in item.name] == ["copy.sqlite3"]
    with open_store(target) as copy:
        assert copy.readings()[:5] == tuple(rows)
        assert len(copy.readings()) == 6


def test_a_backup_overwrites_nothing(path: Path, begun: tuple[Dog, Session]) -> None:
    with open_store(path) as store:
        with pytest.raises(RecordError, match="exists"):
            back_up(store, path)
        with pytest.raises(RecordError, match="no folder"):
            back_up(store, path.parent / "nowhere" / "copy.sqlite3")


def backed_up(path: Path) -> Path:
    copy = path.with_name("copy.sqlite3")
    with open_store(path) as store:
        back_up(store, copy)
    return copy


def test_restoring_over_newer_readings_needs_force_and_keeps_them_aside(
    path: Path, begun: tuple[Dog, Session]
) -> None:
    first = enter(path, begun)
    copy = backed_up(path)
    second = enter(path, begun, "42")
    with pytest.raises(RecordError, match="holds 1 rows that the backup lacks"):
        restore(path, copy)
    with open_store(path) as store:
        assert store.readings() == (first, second)
    done = restore(path, copy, force=True)
    assert (done.rows, done.dropped) == (1, 1)
    assert done.aside is not None
    with open_store(path) as store, open_store(done.aside) as aside:
        assert store.readings() == (first,)
        assert aside.readings() == (first, second)


def test_restoring_into_records_that_are_open_is_refused(
    path: Path, begun: tuple[Dog, Session]
) -> None:
    enter(path, begun)
    copy = backed_up(path)
    with open_store(path) as store:
        kept = store.readings()
        with pytest.raises(RecordError, match=r"another program holds|is in use"):
            restore(path, copy)
        assert store.readings() == kept


def test_a_lost_or_ruined_file_comes_back(path: Path, begun: tuple[Dog, Session]) -> None:
    row = enter(path, begun)
    copy = backed_up(path)
    path.unlink()
    assert restore(path, copy).aside is None
    path.write_bytes(path.read_bytes()[:9000])
    ruined = path.read_bytes()
    with pytest.raises(RecordError, match="what it holds is not known"):
        restore(path, copy)
    done = restore(path, copy, force=True)
    assert done.aside is not None
    assert done.aside.read_bytes() == ruined
    with open_store(path) as store:
        assert store.readings() == (row,)


@pytest.mark.parametrize("old", OLD, ids=lambda old: old.stem)
def test_an_old_backup_can_be_restored(old: Path, path: Path) -> None:
    before = old.read_bytes()
    assert restore(path, old).rows == (13 if old.stem in ("records_v3", "records_v4") else 5)
    assert old.read_bytes() == before


def test_an_unsound_backup_is_refused(path: Path, begun: tuple[Dog, Session]) -> None:
    enter(path, begun)
    copy = backed_up(path)
    spoil(copy, "update readings set value = 14.5")
    with pytest.raises(RecordError, match="is not sound"):
        restore(path, copy)
    with pytest.raises(RecordError, match="there is no file"):
        restore(path, path.with_name("nowhere"))


def spoil(path: Path, statement: str) -> None:
    """Do to a file what the records never do."""
    with closing(sqlite3.connect(path)) as plain:
        for verb in ("update", "delete", "replace"):
            plain.execute(f"drop trigger readings_{verb}")
        plain.execute("pragma foreign_keys = off")
        plain.execute(statement)
        plain.commit()


SPOILT = [
    ("update readings set value = 14.5 where supersedes is null", "not what was written"),
    ("update readings set raw = 'forty' where supersedes is null", "entry not understood"),
    ("update readings set supersedes = 'nobody' where supersedes is not null", "does not exist"),
    ("update readings set supersedes = id where supersedes is not null", "in a ring"),
    ("update readings set measurement = 'chest_depth' where supersedes is null", "another dog or"),
    ("delete from dogs", "do not exist"),
    ("update snapshots set content = '[]'", "not what was stored"),
]


@pytest.mark.parametrize(("statement", "message"), SPOILT)
def test_check_finds_what_was_spoilt(
    path: Path, begun: tuple[Dog, Session], capsys: pytest.CaptureFixture[str],
    statement: str, message: str,
) -> None:  # fmt: skip
    first = enter(path, begun, "41.5")
    with open_store(path) as store:
        store.correct(first.id, reading("41.6"))
        store.take_snapshot(begun[0].id, ())
    assert main(["records", "check", "--database", str(path)]) == 0
    assert "nothing wrong" in capsys.readouterr().out
    if "snapshots" in statement:
        statement = statement.replace("'[]'", "'[ ]'")
        with closing(sqlite3.connect(path)) as plain:
            plain.execute("drop trigger snapshots_update")
    spoil(path, statement)
    assert main(["records", "check", "--database", str(path)]) == 2
    assert message in capsys.readouterr().err


def apart(store: Store) -> tuple[tuple[Dog, ...], tuple[Session, ...], tuple[StoredReading, ...]]:
    return store.dogs(), store.sessions(), store.readings(history=True)


def test_stations_that_were_apart_merge_without_loss_or_doubling(
    path: Path, begun: tuple[Dog, Session]
) -> None:
    """Both corrected the same reading: both rows are kept, and both stations agree which counts."""
    shared = enter(path, begun, "14.5")
    other_path = backed_up(path)
    with open_store(path) as here, open_store(other_path) as there:
        here.correct(shared.id, reading("41.5"))
        later = there.correct(shared.id, reading("45.1"))
        there.store_reading(begun[0].id, begun[1].id, reading("40"))
        for _ in range(2):
            merge(here, *apart(there))
            merge(there, *apart(here))
        assert set(here.readings(history=True)) == set(there.readings(history=True))
        assert {row.reading.raw for row in here.readings()} == {"45.1", "40"}
        assert set(here.readings()) == set(there.readings())
        (problem,) = check_store(here).problems
        assert "two stations changed one reading" in problem
        assert later.id in problem


def test_a_merge_takes_in_all_or_nothing(path: Path, begun: tuple[Dog, Session]) -> None:
    row = enter(path, begun)
    stranger = replace(row, id=new_id(), supersedes=new_id())
    with open_store(path) as store:
        with pytest.raises(RecordError, match="nothing was taken in"):
            merge(store, (), (), [replace(row, id=new_id()), stranger])
        assert store.readings(history=True) == (row,)


def test_the_command_does_the_round(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    demo = Path(__file__).parents[1] / "data" / "demo_readings.csv"
    first, second = tmp_path / "a.sqlite3", tmp_path / "b.sqlite3"
    for arguments in (
        ["--database", str(first), "import", str(demo)],
        ["export", str(tmp_path / "a.csv"), "--database", str(first)],
        ["import", str(tmp_path / "a.csv"), "--database", str(second)],
        ["export", str(tmp_path / "b.csv"), "--database", str(second)],
        ["backup", str(tmp_path / "copy"), "--database", str(first)],
        ["restore", str(tmp_path / "copy"), "--database", str(second)],
        ["check", "--database", str(second)],
    ):
        assert main(["records", *arguments]) == 0, capsys.readouterr().err
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()


@pytest.mark.parametrize("arguments", [["check"], ["export", "x.csv"], ["backup", "x"],
                                       ["restore", "nowhere"], ["import", "nowhere.csv"],
                                       ["export", "x.csv", "--with-owners"]])  # fmt: skip
def test_a_mistyped_name_makes_no_records(
    tmp_path: Path, arguments: list[str], capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert main(["records", "--database", str(tmp_path / "typo.sqlite3"), *arguments]) == 2
    assert capsys.readouterr().err.startswith("conformation: ")
    assert list(tmp_path.iterdir()) == []


def test_a_restore_does_not_wait_for_ever(path: Path, begun: tuple[Dog, Session]) -> None:
    enter(path, begun)
    copy = backed_up(path)
    holder = start(HOLD, path, "alone")
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    try:
        with pytest.raises(RecordError, match=r"another program holds|in use"):
            restore(path, copy)
    finally:
        holder.communicate()
