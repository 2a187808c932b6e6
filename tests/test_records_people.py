"""Dogs, numbers and owners on their way from one file of records to another.

ISO 11784: fifteen digits, a number belongs to one animal. 276 is Germany's code (ISO 3166-1).
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest
from records_workers import reading

from kit.cli.main import main
from kit.records.folder import import_folder
from kit.records.merging import merge_store
from kit.records.package import export_package
from kit.records.store import Store, open_store

NUMBER, OTHER = "276098101234567", "276098107654321"


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "here.sqlite3") as opened:
        yield opened


@pytest.fixture
def there(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "there.sqlite3") as opened:
        yield opened


@pytest.fixture
def package(here: Store, tmp_path: Path) -> Path:
    """One dog with a number, a reading and an owner, as a package with owners."""
    dog = here.add_dog("Alder", sex="dog", born="2021-05", transponder=NUMBER)
    here.store_reading(dog.id, here.start_session("barn").id, reading("41.5"))
    owner = here.add_owner("A. Holder", "1 Mill Lane", "holder@example.org")
    here.set_owner(dog.id, owner.id, "2021-07-01")
    export_package(here, tmp_path / "package", with_owners=True)
    return tmp_path / "package"


def rewrite(path: Path, column: str, text: str) -> None:
    """Change one cell of a file with one row, as a hand in a spreadsheet would."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    rows[0][column] = text
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_owners_of_a_package_arrive_once(here: Store, there: Store, package: Path) -> None:
    (_, first), *_ = import_folder(there, package)
    (_, second), *_ = import_folder(there, package)
    assert (first.owners, second.owners, first.untold, second.untold) == (1, 0, (), ())
    assert there.owners() == here.owners()
    assert there.ownership() == here.ownership()
    assert there.dogs() == here.dogs()


def test_a_number_another_dog_carries_is_left_out_and_told(there: Store, package: Path) -> None:
    bramble = there.add_dog("Bramble", transponder=NUMBER)
    (_, done), *_ = import_folder(there, package)
    (problem,) = done.untold
    assert (problem.file, problem.row, problem.column, problem.dog) == (
        "dogs.csv", 2, "transponder", "Alder",
    )  # fmt: skip
    assert NUMBER in problem.message
    assert {dog.name: dog.transponder for dog in there.dogs()} == {"Alder": "", "Bramble": NUMBER}
    assert there.find_dog(NUMBER).id == bramble.id
    assert len(there.readings()) == 1


@pytest.mark.parametrize(
    ("column", "text", "kept"),
    [("transponder", "12345", ("2021-05", "dog", "")), ("born", "May", ("", "dog", NUMBER)),
     ("sex", "male", ("2021-05", "", NUMBER))],
)  # fmt: skip
def test_a_cell_that_cannot_be_costs_neither_dog_nor_readings(
    there: Store, package: Path, column: str, text: str, kept: tuple[str, ...]
) -> None:
    rewrite(package / "dogs.csv", column, text)
    (_, done), *_ = import_folder(there, package)
    assert [(one.file, one.row, one.column) for one in done.untold] == [("dogs.csv", 2, column)]
    (dog,) = there.dogs()
    assert (dog.born, dog.sex, dog.transponder) == kept
    assert [row.dog for row in there.readings()] == [dog.id]


def test_stations_that_share_a_number_are_put_together_all_the_same(
    here: Store, there: Store
) -> None:
    here.add_dog("Alder", transponder=NUMBER)
    other = there.add_dog("Alder", transponder=NUMBER)
    assert merge_store(here, there).numberless == (other.id,)
    assert sorted(dog.transponder for dog in here.dogs()) == ["", NUMBER]


@pytest.mark.parametrize(
    ("file", "told"),
    [("owners.csv", ["owners.csv", "ownership.csv"]), ("dogs.csv", ["dogs.csv"]),
     ("ownership.csv", ["ownership.csv"])],
)  # fmt: skip
def test_a_blank_name_costs_no_reading(
    there: Store, package: Path, file: str, told: list[str]
) -> None:
    rewrite(package / file, "name" if file != "ownership.csv" else "owner_id", "")
    (_, done), *_ = import_folder(there, package)
    assert [one.file for one in done.untold] == told
    assert done.added == len(there.readings()) == 1


def test_a_known_dog_is_told_when_its_number_is_another_s(there: Store, package: Path) -> None:
    rewrite(package / "dogs.csv", "transponder", "")
    import_folder(there, package)
    there.add_dog("Bramble", transponder=NUMBER)
    rewrite(package / "dogs.csv", "transponder", NUMBER)
    (_, done), *_ = import_folder(there, package)
    assert [(one.file, one.row, one.column) for one in done.untold] == [
        ("dogs.csv", 2, "transponder")
    ]


def test_a_number_learnt_later_is_filled_in(here: Store, there: Store, package: Path) -> None:
    import_folder(there, package)
    (known,) = there.dogs()
    rewrite(package / "dogs.csv", "transponder", OTHER)
    import_folder(there, package)
    assert there.dogs() == (known,)  # what is known stays
    with open_store(there.path.with_name("third.sqlite3")) as third:
        rewrite(package / "dogs.csv", "transponder", "")
        import_folder(third, package)
        rewrite(package / "dogs.csv", "transponder", OTHER)
        (_, done), *_ = import_folder(third, package)
        assert done.completed == 1
        assert third.find_dog(OTHER).name == "Alder"


def test_whose_a_dog_is_is_noted_and_shown(here: Store, capsys: pytest.CaptureFixture[str]) -> None:
    here.add_dog("Alder", transponder=NUMBER)
    here.add_dog("Bramble")
    place = f"--database={here.path}"
    told = ["A. Holder", "--address", "1 Mill Lane", "--since", "2021-07-01"]
    assert main(["records", "owner", NUMBER, *told, place]) == 0
    assert main(["records", "owner", "Bramble", *told, place]) == 0
    assert len(here.owners()) == 1
    capsys.readouterr()
    assert main(["records", "owner", "alder", place]) == 0
    assert capsys.readouterr().out == "Alder: A. Holder, 1 Mill Lane, since 2021-07-01\n"
    assert main(["records", "owner", "Alder", "B. Holder", "--since", "soon", place]) == 2
    assert "change of owner" in capsys.readouterr().err
    assert main(["records", "owner", "alder", *told, place]) == 0  # said again, noted once
    assert (len(here.owners()), len(here.ownership())) == (1, 2)
