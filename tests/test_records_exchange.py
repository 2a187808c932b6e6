"""CSV out and in, to the last character; the Data Package; and what leaves only when asked."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records_workers import reading

from kit.cli.main import main
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import protect, read_csv, unprotect
from kit.protocol.readings import Reading
from kit.records.errors import RecordError
from kit.records.exchange import export_csv, import_csv, readings_as_csv
from kit.records.package import export_package
from kit.records.store import Store, open_store
from kit.records.values import new_id
from kit.standards.points import Grade, points

FEET = points()["feet"].scale
DEMO = Path(__file__).parents[1] / "data" / "demo_readings.csv"
# What a text column of PostgreSQL and a UTF-8 file can both hold.
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30)
AWKWARD = TEXT | st.sampled_from(
    ["", " ", "'", "''=1", "'=1+1", "=1+1", "+1", "-5", "-5,5", "@x", "\t", "\r", "\n", "\r\n",
     'say "no"', "a,b;c\td", "\ufeff", "x\u2028y", "－1", "  both ends  "]
)  # fmt: skip
WRITTEN = st.sampled_from([("41.5", "cm"), (" 16 1/4 in ", ""), ("41,5cm", ""), ("415", " mm"),
                           ("1 ft 4 in", ""), ("16½″", "")])  # fmt: skip
TIMES = st.sampled_from(["", "2025-05-17", "2025-05-17T09:30", "2025-05-17T09:30:11,5+02:00"])


@st.composite
def readings_written(draw: st.DrawFn) -> Reading:
    written, unit = draw(WRITTEN)
    plain = reading(written, unit)
    return replace(plain, stand=draw(AWKWARD), measurer=draw(AWKWARD), instrument=draw(AWKWARD),
                   time=draw(TIMES), note=draw(AWKWARD))  # fmt: skip


@pytest.fixture
def store(tmp_path: Path):
    with open_store(tmp_path / "records.sqlite3") as opened:
        yield opened


def a_day(store: Store) -> str:
    """Store two dogs, one session and every kind of row; return the identity of the first dog."""
    dog = store.add_dog("Alder", sex="dog", born="2021-05", transponder="276098101234567",
                        breed="Slate Terrier", note="=SUM(A1)")  # fmt: skip
    other = store.add_dog("Bramble")
    session = store.start_session("the barn, left", 'light "poor"\nnoisy')
    first = store.store_reading(dog.id, session.id, reading("14.5", note="+1, or so"))
    second = store.correct(first.id, reading("41.5"))
    gone = store.store_reading(dog.id, session.id, reading("9½ in", "", "chest_depth"))
    store.withdraw(gone.id)
    store.restore(store.withdraw(second.id).id)
    store.store_reading(other.id, session.id, reading("-5 deg", "", "front_foot_turnout"))
    owner = store.add_owner("A. Holder", "1 Mill Lane", "holder@example.org")
    store.set_owner(dog.id, owner.id)
    return dog.id


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    st.lists(readings_written(), min_size=1, max_size=6),
    AWKWARD.filter(lambda name: bool(name.strip())),
    AWKWARD,
)
def test_out_and_in_again_is_exact(written: list[Reading], name: str, place: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        room = Path(folder)
        with open_store(room / "a.sqlite3") as here, open_store(room / "b.sqlite3") as there:
            dog, session = here.add_dog(name), here.start_session(place, place)
            for one in written:
                here.store_reading(dog.id, session.id, one)
            export_csv(here, room / "a.csv")
            done = import_csv(there, room / "a.csv")
            assert (done.added, done.problems) == (len(written), ())
            assert there.readings(history=True) == here.readings(history=True)
            assert there.sessions() == here.sessions()
            assert readings_as_csv(there) == readings_as_csv(here)


def test_the_whole_history_travels_and_a_second_time_adds_nothing(
    store: Store, tmp_path: Path
) -> None:
    a_day(store)
    export_csv(store, tmp_path / "out.csv")
    again = import_csv(store, tmp_path / "out.csv")
    assert (again.added, again.present, again.problems) == (0, 7, ())
    with open_store(tmp_path / "other.sqlite3") as other:
        import_csv(other, tmp_path / "out.csv")
        assert other.readings(history=True) == store.readings(history=True)
        assert other.readings() == store.readings()
        assert [row.reading.raw for row in other.readings()] == ["41.5", "-5 deg"]


def test_rows_in_reverse_order_come_in_as_well(store: Store, tmp_path: Path) -> None:
    """A correction may come before what it corrects."""
    a_day(store)
    export_csv(store, tmp_path / "out.csv")
    with (tmp_path / "out.csv").open(encoding="utf-8", newline="") as file:
        heading, *rows = list(csv.reader(file))
    with (tmp_path / "reversed.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([heading, *reversed(rows)])
    with open_store(tmp_path / "other.sqlite3") as other:
        assert import_csv(other, tmp_path / "reversed.csv").added == 7
        assert set(other.readings()) == set(store.readings())


def test_an_assessment_counts_only_what_counts_now(store: Store, tmp_path: Path) -> None:
    a_day(store)
    export_csv(store, tmp_path / "out.csv")
    file = read_csv(tmp_path / "out.csv", catalogue())
    assert [row.raw for row in file.readings] == ["41.5", "-5 deg"]
    assert file.problems == ()


@given(AWKWARD | st.text("'=+-@\t1,. ", max_size=6))
def test_no_text_is_left_a_formula_and_all_come_back(cell: str) -> None:
    """First characters as listed by OWASP, "CSV Injection": = + - @, tab, carriage return."""
    written = protect(cell)
    assert unprotect(written) == cell
    is_number = re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)?", written)
    assert is_number or written[:1] not in {"=", "+", "-", "@", "\t", "\r", "\n"}


def test_no_exported_cell_is_a_formula(store: Store, tmp_path: Path) -> None:
    a_day(store)
    files = export_package(store, tmp_path / "package", with_owners=True)
    cells = [
        cell
        for path in files
        if path.suffix == ".csv"
        for row in csv.reader(io.StringIO(path.read_bytes().decode(), newline=""))
        for cell in row
    ]
    assert {"'=SUM(A1)", "'-5 deg"} <= set(cells)
    assert [cell for cell in cells if cell[:1] in set("=+-@\t\r")] == ["-5.0"]  # a plain number


def test_a_file_from_elsewhere_adds_nothing_the_second_time(store: Store, tmp_path: Path) -> None:
    first = import_csv(store, DEMO)
    assert first.problems == ()
    assert [row.reading for row in store.readings()] == list(read_csv(DEMO, catalogue()).readings)
    second = import_csv(store, DEMO)
    assert (second.added, second.present, second.dogs, second.sessions) == (0, first.added, 0, 0)
    longer = tmp_path / "longer.csv"
    line = "Cob,height_at_withers,41,cm,,9,K.T.,measuring_stand,2025-05-18T09:30,\n"
    longer.write_text(DEMO.read_text(encoding="utf-8") + line + line, encoding="utf-8")
    third = import_csv(store, longer)
    assert (third.added, third.present, third.sessions) == (2, first.added, 1)


BAD = [
    ("Alder,chest_depth,24,kg,", "unit"),
    ("Alder,chest_depth,24,cm,soon", "time"),
    ("Alder,nonsense,24,cm,", "measurement"),
    (",chest_depth,24,cm,", "dog"),
]


@pytest.mark.parametrize(("row", "column"), BAD)
def test_a_bad_row_is_named_and_the_rest_comes_in(
    store: Store, tmp_path: Path, row: str, column: str
) -> None:
    path = tmp_path / "rows.csv"
    lines = ["dog,measurement,value,unit,time", '"Al\nder",chest_depth,20,cm,', row,
             "Alder,chest_depth,21,cm,"]  # fmt: skip
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = import_csv(store, path)
    assert done.added == 2
    assert [(problem.row, problem.column) for problem in done.problems] == [(3, column)]


def test_a_changed_row_under_an_old_identity_is_refused(store: Store, tmp_path: Path) -> None:
    a_day(store)
    text = readings_as_csv(store)
    edited = text.replace(",14.5,", ",15.4,")
    (tmp_path / "edited.csv").write_text(edited, encoding="utf-8", newline="")
    before = store.readings(history=True)
    done = import_csv(store, tmp_path / "edited.csv")
    assert (done.added, done.present) == (0, 6)
    assert "hold another reading" in done.problems[0].message
    assert store.readings(history=True) == before


def test_a_correction_of_nothing_and_a_doubled_identity(store: Store, tmp_path: Path) -> None:
    a_day(store)
    lines = readings_as_csv(store).split("\r\n")
    rows = list(csv.reader([lines[0], *lines[1:]]))
    corrected = next(row for row in rows[1:] if row[16])
    path = tmp_path / "rows.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([rows[0], corrected, corrected])
    with open_store(tmp_path / "other.sqlite3") as other:
        done = import_csv(other, path)
        assert done.added == 0
        assert {problem.row for problem in done.problems} == {2, 3}


def test_two_dogs_of_one_name_need_their_identity(store: Store, tmp_path: Path) -> None:
    first, _ = store.add_dog("Cob"), store.add_dog("Cob")
    path = tmp_path / "rows.csv"
    rows = ["dog,measurement,value,unit,dog_id", "Cob,chest_depth,20,cm,",
            f"Cob,chest_depth,21,cm,{first.id}", f"New,chest_depth,22,cm,{new_id()}"]  # fmt: skip
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    done = import_csv(store, path)
    assert (done.added, done.dogs, [problem.row for problem in done.problems]) == (2, 1, [2])


# Data Package and Table Schema specifications, version 1: what a descriptor must hold, which
# characters a name may have, and which types a field may be of.
NAME = r"[-a-z0-9._/]+"
FIELD_TYPES = {
    *("string", "number", "integer", "boolean", "object", "array", "date", "time", "datetime"),
    *("year", "yearmonth", "duration", "geopoint", "geojson", "any"),
}


def test_the_package_is_what_the_specification_asks(store: Store, tmp_path: Path) -> None:
    dog = a_day(store)
    last = store.start_session("ring")  # a session of grades alone has to be in the package, too
    first = store.grades.add(dog, Grade("Alder", "feet", FEET[1]), last.id)
    store.grades.correct(first.id, Grade("Alder", "feet", FEET[0]))
    folder = tmp_path / "package"
    export_package(store, folder, dog, with_owners=True)
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    assert package["profile"] == "tabular-data-package"
    assert re.fullmatch(NAME, package["name"])
    columns: dict[str, dict[str, list[str]]] = {}
    for resource in package["resources"]:
        content = (folder / resource["path"]).read_bytes()
        assert resource["profile"] == "tabular-data-resource"
        assert re.fullmatch(NAME, resource["name"])
        assert len(content) == resource["bytes"]
        assert resource["hash"] == "sha256:" + hashlib.sha256(content).hexdigest()
        heading, *rows = csv.reader(io.StringIO(content.decode("utf-8"), newline=""))
        fields = resource["schema"]["fields"]
        assert [field["name"] for field in fields] == heading
        assert {field["type"] for field in fields} <= FIELD_TYPES
        turned = list(map(list, zip(*rows, strict=True))) or [[] for _ in heading]
        columns[resource["name"]] = dict(zip(heading, turned, strict=True))
        for key in resource["schema"].get("primaryKey", []):
            values = columns[resource["name"]][key]
            assert len(set(values)) == len(values)
    for resource in package["resources"]:
        for link in resource["schema"].get("foreignKeys", []):
            target = columns[link["reference"]["resource"] or resource["name"]]
            (here,), (there,) = link["fields"], link["reference"]["fields"]
            assert set(columns[resource["name"]][here]) - {""} <= set(target[there])
    assert "cm" in columns["readings"]["number_ucum"]
    assert columns["grades"]["status"] == ["superseded", "current"]


# UCUM, case-sensitive codes (tables of base, derived and international customary units).
@pytest.mark.parametrize(
    ("measurement", "written", "code", "kept"),
    [("height_at_withers", "41.5 cm", "cm", "cm"), ("height_at_withers", "415 mm", "mm", "cm"),
     ("height_at_withers", "0.5 m", "m", "cm"), ("height_at_withers", "16 in", "[in_i]", "cm"),
     ("height_at_withers", "1 ft 4 in", "[ft_i]", "cm"), ("weight", "12 kg", "kg", "kg"),
     ("weight", "900 g", "g", "kg"), ("weight", "26 lb", "[lb_av]", "kg"),
     ("weight", "30 oz", "[oz_av]", "kg"), ("front_foot_turnout", "5°", "deg", "deg")],
)  # fmt: skip
def test_units_carry_their_ucum_codes(
    store: Store, measurement: str, written: str, code: str, kept: str
) -> None:
    dog, session = store.add_dog("Alder"), store.start_session()
    store.store_reading(dog.id, session.id, reading(written, "", measurement))
    (row,) = csv.DictReader(readings_as_csv(store).splitlines())
    assert (row["written_ucum"], row["number_ucum"]) == (code, kept)


def test_owners_leave_only_when_asked(store: Store, tmp_path: Path) -> None:
    a_day(store)
    address = f"--database={store.path}"
    assert main(["records", address, "export", str(tmp_path / "all.csv")]) == 0
    assert main(["records", address, "export", "--package", str(tmp_path / "plain")]) == 0
    assert main(["records", "export", "--package", "--with-owners", str(tmp_path / "full"),
                 address]) == 0  # fmt: skip
    quiet = b"".join(path.read_bytes() for path in (tmp_path / "plain").iterdir())
    for secret in (b"Holder", b"Mill Lane", b"holder@example.org"):
        assert secret not in quiet + (tmp_path / "all.csv").read_bytes()
        assert secret in (tmp_path / "full" / "owners.csv").read_bytes()


def test_one_dog_alone(store: Store, tmp_path: Path) -> None:
    dog = a_day(store)
    export_package(store, tmp_path / "package", dog, with_owners=True)
    for name in ("readings", "dogs", "owners"):
        assert "Bramble" not in (tmp_path / "package" / f"{name}.csv").read_text(encoding="utf-8")


def test_an_export_overwrites_nothing_unasked(store: Store, tmp_path: Path) -> None:
    a_day(store)
    path = tmp_path / "out.csv"
    path.write_text("mine")
    with pytest.raises(RecordError, match="exists"):
        export_csv(store, path)
    assert path.read_text() == "mine"
    export_csv(store, path, force=True)
    assert path.read_text().startswith("dog,measurement")
    with pytest.raises(RecordError, match="cannot write"):
        export_csv(store, tmp_path / "nowhere" / "out.csv")
