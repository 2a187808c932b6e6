"""Killed programs, full disks, locks, read-only and damaged files: nothing lost, and said so."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from records_workers import ENTER, HOLD, reading, start
from sqlalchemy import event

from kit.records.errors import RecordError
from kit.records.store import Store, open_store
from kit.records.values import Dog, Session

NOBODY = 65534


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


@pytest.fixture
def begun(path: Path) -> tuple[Dog, Session]:
    with open_store(path) as store:
        return store.add_dog("Alder"), store.start_session("table")


def fill(path: Path, begun: tuple[Dog, Session], count: int) -> list[str]:
    with open_store(path) as store:
        return [store.store_reading(begun[0].id, begun[1].id, reading()).id for _ in range(count)]


def stored(path: Path) -> list[str]:
    with open_store(path) as store:
        return [row.id for row in store.readings(history=True)]


@pytest.mark.parametrize("after", [1, 7, 23])
def test_killed_in_the_middle_of_entry(path: Path, begun: tuple[Dog, Session], after: int) -> None:
    """Every identity the program had said was stored is in the file."""
    worker = start(ENTER, path, begun[0].id, begun[1].id, "A", "100000")
    assert worker.stdout is not None
    said = [worker.stdout.readline().strip() for _ in range(after)]
    os.kill(worker.pid, signal.SIGKILL)
    rest, _ = worker.communicate()
    said += rest.splitlines()
    assert worker.returncode == -signal.SIGKILL
    found = stored(path)
    assert len(said) >= after
    # One more may have been stored and not yet said.
    assert found[: len(said)] == said
    assert len(found) <= len(said) + 1


TWICE = """
import os, signal, subprocess, sys
from kit.records.store import open_store
from records_workers import reading
target, dog, session, other = sys.argv[1:]
store = open_store(target)
again = open_store(target)
subprocess.run([sys.executable, "-c", other, target], check=True)
for number in range(3):
    print(store.store_reading(dog, session, reading(f"4{number}.5")).id, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""
OTHERS = {
    "the kit": (
        "import sys; from kit.records.store import open_store; open_store(sys.argv[1]).close()"
    ),
    "another program": (
        "import sqlite3, sys; one = sqlite3.connect(sys.argv[1]); "
        "one.execute('select count(*) from readings').fetchone(); one.close()"
    ),
}


@pytest.mark.parametrize("other", OTHERS)
def test_opened_twice_and_closed_by_another_a_file_still_keeps_what_is_stored(
    path: Path, begun: tuple[Dog, Session], other: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """sqlite.org, How To Corrupt, 2.2: a file opened and closed aside drops every lock on it."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent), prepend=os.pathsep)
    worker = start(TWICE, path, begun[0].id, begun[1].id, OTHERS[other])
    out, fault = worker.communicate(timeout=60)
    assert worker.returncode == -signal.SIGKILL, fault
    assert len(out.split()) == 3
    assert stored(path) == out.split()


def test_two_panels_write_to_one_file_at_once(path: Path, begun: tuple[Dog, Session]) -> None:
    workers = [start(ENTER, path, begun[0].id, begun[1].id, hand, "60") for hand in "AB"]
    results = [worker.communicate(timeout=120) for worker in workers]
    assert [worker.returncode for worker in workers] == [0, 0], results
    said = {identity for out, _ in results for identity in out.split()}
    assert len(said) == 120
    assert set(stored(path)) == said


def test_two_programs_open_a_new_file_at_once(path: Path) -> None:
    script = (
        "import sys; from kit.records.store import open_store; sys.stdin.readline(); "
        "open_store(sys.argv[1]).add_dog(sys.argv[2]); print('done')"
    )
    workers = [start(script, path, name) for name in ("Alder", "Bramble", "Cob")]
    results = [worker.communicate("go\n", timeout=60) for worker in workers]
    assert [out for out, _ in results] == ["done\n"] * 3, results
    with open_store(path) as store:
        assert [dog.name for dog in store.dogs()] == ["Alder", "Bramble", "Cob"]


def limit_pages(store: Store, pages: int) -> None:
    """Let the file grow no further, as on a full disk (SQLITE_FULL is what both give)."""

    @event.listens_for(store.engine, "connect")
    def _(connection: sqlite3.Connection, _entry: object) -> None:
        connection.execute(f"pragma max_page_count = {pages}")

    store.close()


def enter_until_refused(store: Store, begun: tuple[Dog, Session], stored: list[str]) -> None:
    for _ in range(200):
        long = reading(note="x" * 900)
        stored.append(store.store_reading(begun[0].id, begun[1].id, long).id)


def test_a_full_disk_is_said_and_nothing_before_is_lost(
    path: Path, begun: tuple[Dog, Session]
) -> None:
    before = fill(path, begun, 3)
    with open_store(path) as store:
        limit_pages(store, 1)
        with pytest.raises(RecordError, match=r"the disk is full.*make room") as refused:
            enter_until_refused(store, begun, before)
        assert "not stored" in str(refused.value)
        assert [row.id for row in store.readings(history=True)] == before
    before += fill(path, begun, 1)  # room was made
    assert stored(path) == before


def test_the_system_refuses_to_let_the_file_grow(path: Path, begun: tuple[Dog, Session]) -> None:
    """A real failing write: the system's limit on the size of a file."""
    script = ("import resource\nresource.setrlimit(resource.RLIMIT_FSIZE, (400000, 400000))\n"
              + ENTER)  # fmt: skip
    worker = start(script, path, begun[0].id, begun[1].id, "A", "5000")
    out, error = worker.communicate(timeout=120)
    assert worker.returncode == 1
    assert "RecordError: the reading was not stored" in error
    assert "all that was stored before is safe" in error
    assert stored(path) == out.split()


def test_a_lock_held_by_another_program(path: Path, begun: tuple[Dog, Session]) -> None:
    before = fill(path, begun, 2)
    holder = start(HOLD, path, "shared")
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    try:
        with open_store(path, wait=0.2) as store:
            with pytest.raises(RecordError, match="another program holds the records"):
                store.store_reading(begun[0].id, begun[1].id, reading())
            assert [row.id for row in store.readings()] == before
    finally:
        holder.communicate()
    before += fill(path, begun, 1)
    assert stored(path) == before


def test_a_file_held_so_that_nobody_else_may_even_read(
    path: Path, begun: tuple[Dog, Session]
) -> None:
    holder = start(HOLD, path, "alone")
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    try:
        with pytest.raises(RecordError, match="another program holds the records"):
            open_store(path, wait=0.2)
    finally:
        holder.communicate()
    assert stored(path) == []


@pytest.fixture
def public_folder() -> Iterator[Path]:
    """Yield a folder that users other than the one running the tests may look into."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


READ_ONLY = f"""
import os, sys
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.records.errors import RecordError
from kit.records.store import open_store
reading = make_reading(catalogue(), "x", "height_at_withers", "41.5", "cm")
import sqlalchemy.dialects.sqlite.pysqlite, sqlite3, uuid
if os.geteuid() == 0:
    os.setuid({NOBODY})  # permissions do not bind the superuser
try:
    store = open_store(sys.argv[1])
    print("rows", len(store.readings()))
    store.store_reading(sys.argv[2], sys.argv[3], reading)
    print("stored")
except RecordError as fault:
    print(fault)
"""


@pytest.mark.parametrize(
    ("file_mode", "folder_mode"),
    [(0o444, 0o555), (0o644, 0o555), (0o444, 0o755), (0o000, 0o555)],
)
def test_a_read_only_file_or_folder(public_folder: Path, file_mode: int, folder_mode: int) -> None:
    path = public_folder / "records.sqlite3"
    with open_store(path) as store:
        begun = store.add_dog("Alder"), store.start_session("table")
    before = fill(path, begun, 2)
    path.chmod(file_mode)
    public_folder.chmod(folder_mode)
    worker = start(READ_ONLY, path, begun[0].id, begun[1].id)
    out, error = worker.communicate(timeout=60)
    assert error == ""
    if os.geteuid() == 0 or file_mode == 0o444 or folder_mode == 0o555:
        said = out.splitlines()[-1]
        assert said.startswith(("the reading was not stored", "the records cannot be opened",
                                "cannot read"))  # fmt: skip
        assert "do: " in said
    public_folder.chmod(0o755)
    path.chmod(0o644)
    assert stored(path) == before


def test_an_address_opened_for_reading_only(path: Path, begun: tuple[Dog, Session]) -> None:
    fill(path, begun, 2)
    with open_store(f"sqlite:///file:{path}?mode=ro&uri=true") as store:
        assert len(store.readings()) == 2
        with pytest.raises(RecordError, match="read-only"):
            store.store_reading(begun[0].id, begun[1].id, reading())


@pytest.mark.parametrize("share", [0.9, 0.5, 0.1])
def test_a_file_cut_short(path: Path, begun: tuple[Dog, Session], share: float) -> None:
    fill(path, begun, 200)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    cut = path.read_bytes()
    with pytest.raises(RecordError, match=r"damaged.*restore a backup"):
        open_store(path)
    assert path.read_bytes() == cut  # left for somebody who can still read some of it


def test_a_damaged_page(path: Path, begun: tuple[Dog, Session]) -> None:
    fill(path, begun, 200)
    content = bytearray(path.read_bytes())
    middle = len(content) // 2 // 4096 * 4096
    content[middle : middle + 4096] = b"\xff" * 4096
    path.write_bytes(content)
    with pytest.raises(RecordError, match="damaged"):
        open_store(path)


def test_an_empty_file_is_not_taken_for_new_records(path: Path) -> None:
    path.touch()
    with pytest.raises(RecordError, match=r"is empty.*restore a backup, or delete"):
        open_store(path)
    assert path.read_bytes() == b""


@pytest.mark.parametrize("content", [b"dog,measurement,value\n", b"PK\x03\x04" + bytes(5000)])
def test_a_file_of_another_kind(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(RecordError, match="holds no records"):
        open_store(path)
    assert path.read_bytes() == content


def test_a_database_of_something_else(path: Path) -> None:
    other = sqlite3.connect(path)
    other.execute("create table recipes (name text)")
    other.close()
    with pytest.raises(RecordError, match=r"something other than records.*recipes"):
        open_store(path)


def test_a_missing_folder_and_a_folder_for_a_file(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="there is no folder"):
        open_store(tmp_path / "nowhere" / "records.sqlite3")
    with pytest.raises(RecordError, match="is a folder"):
        open_store(tmp_path)


@pytest.mark.parametrize("address", ["nosuchdatabase://x/y", "sqlite://?%zz=://", "http://"])
def test_an_address_that_is_none(address: str) -> None:
    with pytest.raises(RecordError):
        open_store(address)
