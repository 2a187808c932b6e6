"""The same records on a real PostgreSQL server: many stations, one event, nothing lost."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import pytest
from records_workers import reading, start
from sqlalchemy import create_engine, make_url, text
from test_survey_sql import DOGS, compare, dogs

from kit.cli.main import main
from kit.protocol.catalogue import catalogue
from kit.records.checking import check_store
from kit.records.connection import make_engine
from kit.records.merging import merge
from kit.records.migrations import MIGRATIONS, migrate
from kit.records.store import Store, open_store
from kit.records.values import new_id
from kit.survey.program import compile_program
from kit.survey.sql import select_traits

pytestmark = [pytest.mark.postgres, pytest.mark.slow]
SCRIPT = Path(__file__).parents[1] / ".ci" / "postgres"
STATIONS, EACH = 4, 50

# A station that goes on through a server that is away for a moment: the same identity again.
STATION = """
import sys, time
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.records.errors import RecordError
from kit.records.store import open_store
from uuid import UUID
target, dog, session, hand, count = sys.argv[1:]
store = open_store(target)
for number in range(int(count)):
    written = f"{30 + number / 10:.1f}"
    reading = make_reading(catalogue(), "x", "height_at_withers", written, "cm", measurer=hand)
    own = str(UUID(int=(1 << 122) + (ord(hand) << 32) + number, version=4))
    for attempt in range(200):
        try:
            print(store.store_reading(dog, session, reading, own).id, flush=True)
            break
        except RecordError:
            time.sleep(0.05)
    else:
        sys.exit("the server did not come back")
"""


@dataclass(frozen=True)
class Server:
    folder: str
    url: str

    def restart(self) -> None:
        subprocess.run([SCRIPT, "restart", self.folder], check=True)


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    started = subprocess.run([SCRIPT, "start"], check=True, stdout=subprocess.PIPE, text=True)
    folder, url = started.stdout.split()
    yield Server(folder, url)
    subprocess.run([SCRIPT, "stop", folder], check=True)


@pytest.fixture
def url(server: Server) -> str:
    """The address of a fresh database."""
    name = f"event_{uuid4().hex[:12]}"
    engine = create_engine(server.url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(f"create database {name}"))
    engine.dispose()
    return server.url.rsplit("/", 1)[0] + f"/{name}"


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    with open_store(url) as opened:
        yield opened


def test_it_is_debians_server_and_not_a_stand_in(store: Store) -> None:
    with store.reading() as connection:
        said = connection.execute(text("select version()")).scalar_one()
    assert said.startswith("PostgreSQL")


def test_a_reading_comes_back_as_written(store: Store) -> None:
    dog, session = store.add_dog("Ålder ‘the Tall’"), store.start_session("ring 1")
    kept = store.store_reading(dog.id, session.id, reading("16 1/4 in", ""))
    corrected = store.correct(kept.id, reading("41,5", "cm"))
    (now,) = store.readings()
    assert now == corrected
    assert now.reading.raw == "41,5"
    assert len(store.readings(history=True)) == 2
    assert not check_store(store).problems


def test_rows_cannot_be_changed_behind_the_kit(store: Store) -> None:
    dog, session = store.add_dog("Alder"), store.start_session()
    store.store_reading(dog.id, session.id, reading())
    for command in ("update readings set value = 1", "delete from readings"):
        with pytest.raises(Exception, match="append-only"), store.engine.begin() as connection:
            connection.execute(text(command))
    assert store.readings()[0].reading.value == 41.5


def test_a_database_from_before_days_of_death_is_brought_up_to_date(url: str) -> None:
    engine = make_engine(make_url(url))
    migrate(engine.begin, MIGRATIONS[:3])
    row = {"id": new_id(), "note": "collar: white; Died: 2026-03-10"}
    with engine.begin() as connection:
        connection.execute(
            text("insert into dogs (id, name, sex, born, breed, transponder, note, changed_at) "
                 "values (:id, 'Moss', '', '2026-03-01', '', '', :note, '')"), row,
        )  # fmt: skip
    engine.dispose()
    with open_store(url) as store:
        assert [(dog.died, dog.note) for dog in store.dogs()] == [("2026-03-10", "collar: white")]
        assert not check_store(store).problems


def test_four_stations_write_through_a_restart_of_the_server(
    store: Store, url: str, server: Server
) -> None:
    dog, session = store.add_dog("Alder"), store.start_session()
    stations = [start(STATION, url, dog.id, session.id, hand, str(EACH)) for hand in "ABCD"]
    for station in stations:  # each has stored something, none is done
        assert station.stdout is not None
        assert station.stdout.readline()
    server.restart()
    said = [station.communicate(timeout=120) for station in stations]
    assert [station.returncode for station in stations] == [0] * STATIONS, said
    with open_store(url) as again:
        rows = again.readings(history=True)
    assert len(rows) == STATIONS * EACH
    assert len({row.id for row in rows}) == STATIONS * EACH
    for hand in "ABCD":
        values = [row.reading.value for row in rows if row.reading.measurer == hand]
        assert sorted(values) == pytest.approx([30 + n / 10 for n in range(EACH)])


def test_a_station_that_was_offline_merges_later_and_twice(store: Store, tmp_path: Path) -> None:
    dog, session = store.add_dog("Alder"), store.start_session()
    shared = store.store_reading(dog.id, session.id, reading("41.0"))
    with open_store(tmp_path / "station.sqlite3") as offline:
        merge(offline, [dog], [session], [shared])
        own = [offline.store_reading(dog.id, session.id, reading(f"{41 + n / 10:.1f}"))
               for n in range(30)]  # fmt: skip
        corrected = offline.correct(shared.id, reading("41.4"))
        store.store_reading(dog.id, session.id, reading("40.9"))  # the event went on meanwhile
        taken = offline.readings(history=True)
        first = merge(store, offline.dogs(), offline.sessions(), taken)
        second = merge(store, offline.dogs(), offline.sessions(), taken)
    assert (first.added, first.present, first.conflicts) == (31, 1, ())
    assert (second.added, second.present, second.conflicts) == (0, 32, ())
    now = {row.id for row in store.readings()}
    assert now >= {row.id for row in own} | {corrected.id}
    assert shared.id not in now
    assert len(store.readings(history=True)) == 33
    assert len(store.dogs()) == 1


def test_stations_that_open_new_records_at_once_make_them_once(url: str) -> None:
    script = "import sys; from kit.records.store import open_store; open_store(sys.argv[1])"
    opened = [start(script, url) for _ in range(STATIONS)]
    for one in opened:
        _, said = one.communicate(timeout=60)
        assert one.returncode == 0, said
    with open_store(url) as store:
        assert not check_store(store).problems


def test_the_command_takes_the_address(
    url: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    readings = tmp_path / "readings.csv"
    readings.write_text("dog,measurement,value,unit\nAlder,height_at_withers,41.5,cm\n")
    assert main(["records", "--database", url, "import", str(readings)]) == 0
    assert main(["records", "--database", url, "import", str(readings)]) == 0
    assert main(["records", "--database", url, "check"]) == 0
    said = capsys.readouterr().out
    assert "1 readings added" in said
    assert "1 were there already" in said
    assert "nothing wrong" in said
    assert url.split(":")[2].split("@")[0] not in said  # the password


def test_the_event_is_surveyed_where_it_is_stored(
    store: Store, url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    session = store.start_session("ring 1", started="2026-06-06")
    for number in range(8):
        dog = store.add_dog(f"dog {number}", sex="bitch" if number % 2 else "dog", born="2023")
        for value in ("40.0", f"{40 + number / 10:.1f}"):
            store.store_reading(dog.id, session.id, reading(value, "cm"))
    assert main(["survey", "--database", url, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["dogs"] == 8
    assert document["traits"]["height_at_withers"]["mean"] == pytest.approx(40.175)


def test_a_server_that_is_away_is_told_in_words(url: str) -> None:
    from kit.records.errors import RecordError

    nowhere = url.replace(url.split("@")[1].split("/")[0], "127.0.0.1:1")
    with pytest.raises(RecordError, match="cannot be opened"):
        open_store(nowhere)


def test_the_server_gives_the_figures_of_numpy(url: str) -> None:
    columns = dogs()
    program = compile_program(columns, catalogue())
    engine = create_engine(url)
    names = list(columns)
    with engine.begin() as connection:
        kinds = ", ".join(f'"{name}" double precision' for name in names)
        connection.execute(text(f"create table survey (dog integer, {kinds})"))
        places = ", ".join(f":{name}" for name in names)
        rows = [
            {"dog": n} | {k: None if v[n] != v[n] else float(v[n]) for k, v in columns.items()}
            for n in range(DOGS)
        ]
        connection.execute(text(f"insert into survey values (:dog, {places})"), rows)  # noqa: S608
        found = connection.exec_driver_sql(select_traits(program, "survey") + " ORDER BY dog")
        table = found.mappings().all()
    engine.dispose()
    assert compare({key: [row[key] for row in table] for key in table[0]}, columns) > 40_000
