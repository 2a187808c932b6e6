"""The table behind the panel, without a browser. Each check reads the records file itself.

Expected values: 1 in = 2.54 cm exactly (international yard and pound agreement of 1959); the
behaviour is the project's own.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kit.panels.pictures import SideView, drawn_angles, drawn_values
from kit.panels.snapshot import setup_part, words_noted
from kit.panels.state import Target
from kit.panels.table import Entry, Table
from kit.protocol.catalogue import catalogue
from kit.protocol.reading_files import by_dog, read_csv
from kit.quantities.errors import EntryError, KitError
from kit.records.store import open_store
from kit.records.values import new_id

HEIGHT, WEIGHT = Target("height_at_withers"), Target("weight")
LENGTH = Target("body_length_from_point_of_shoulder")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


@pytest.fixture
def table(file: Path) -> Iterator[Table]:
    store = open_store(file)
    made = Table(store)
    made.add_dog("Alder", "dog", "2021-05-17")
    yield made
    store.close()


def rows_in(file: Path) -> list[tuple[str, float, str | None, int]]:
    """What the file holds, read without the kit."""
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as connection:
        query = "select raw, value, supersedes, withdrawn from readings order by number"
        return list(connection.execute(query))


def type_all(table: Table, *entries: tuple[Target, str]) -> None:
    for target, text in entries:
        table.enter(Entry(text, target))


def test_an_entry_is_in_the_file_when_it_is_answered_and_the_table_moves_on(
    table: Table, file: Path
) -> None:
    answer = table.enter(Entry("56,5", HEIGHT))
    assert rows_in(file) == [("56,5", 56.5, None, 0)]
    assert answer.echo == "56,5 cm = 56.5 cm"
    assert answer.question == ""
    keys = list(catalogue().measurements)
    assert table.state.at.measurement == keys[keys.index("height_at_withers") + 1]


@pytest.mark.parametrize(
    ("written", "units", "value"),
    [("22 1/2 in", "cm", 57.15), ("22 1/2", "in", 57.15), ("56.5", "cm", 56.5),
     ("565 mm", "in", 56.5), ("22½″", "cm", 57.15)],
)  # fmt: skip
def test_a_bare_number_takes_the_unit_of_the_table(
    table: Table, written: str, units: str, value: float
) -> None:
    table.set_units(units)
    assert table.enter(Entry(written, HEIGHT)).stored.reading.value == pytest.approx(
        value, abs=1e-9
    )


def test_what_cannot_be_read_is_refused_and_not_stored(table: Table, file: Path) -> None:
    with pytest.raises(EntryError, match="not understood"):
        table.enter(Entry("fifty", HEIGHT))
    with pytest.raises(EntryError, match="thousands or decimals"):
        table.enter(Entry("1,234", HEIGHT))
    assert rows_in(file) == []


def test_the_same_entry_sent_twice_is_stored_once(table: Table, file: Path) -> None:
    entry = Entry("56.5", HEIGHT, identity=new_id(), time="2026-11-25T09:30:11.123+01:00")
    first = table.enter(entry)
    assert table.enter(entry).stored.id == first.stored.id
    assert len(rows_in(file)) == 1


def test_inches_written_as_centimetres_are_stored_and_questioned(table: Table, file: Path) -> None:
    table.enter(Entry("56.5", HEIGHT))
    answer = table.enter(Entry("22.8", LENGTH))
    assert "inches written as centimetres" in answer.question
    assert rows_in(file)[-1][:2] == ("22.8", 22.8)
    assert [asked.reading for asked in table.questions] == [answer.stored.id]


def test_a_confirmed_reading_is_not_asked_about_again(table: Table, file: Path) -> None:
    table.enter(Entry("56.5", HEIGHT))
    table.confirm(table.enter(Entry("22.8", LENGTH)).stored.id)
    assert table.questions == ()
    again = Table(open_store(file))
    assert again.questions == ()
    assert again.state.rows[-1].reading.note == "confirmed"
    again.store.close()


def test_a_note_is_kept_with_its_reading_and_can_be_taken_back(table: Table, file: Path) -> None:
    row = table.enter(Entry("56.5", HEIGHT)).stored
    said = table.add_note(row.id, "  shifted;  thick coat ")
    assert said == "Noted on height at withers 56.5: shifted, thick coat"
    noted = table.state.rows[-1]
    assert (words_noted(noted), noted.reading.raw) == ("shifted, thick coat", "56.5")
    again = Table(open_store(file))
    assert words_noted(again.state.rows[-1]) == "shifted, thick coat"
    again.store.close()
    assert table.undo() == "Taken back: what was noted on height at withers 56.5"
    assert words_noted(table.state.rows[-1]) == ""
    assert len(rows_in(file)) == 3
    with pytest.raises(KitError, match="the note is empty"):
        table.add_note(table.state.rows[-1].id, "  ")


def test_reading_again_supersedes_the_questioned_reading(table: Table, file: Path) -> None:
    table.enter(Entry("56.5", HEIGHT))
    asked = table.enter(Entry("22.8", LENGTH)).stored
    entry = Entry("22.8 in", LENGTH, instead=asked.id, time="2026-11-25T09:31:00+01:00")
    table.enter(entry)
    table.enter(entry)
    assert table.questions == ()
    assert [row[2] for row in rows_in(file)] == [None, None, asked.id]
    assert [row.reading.raw for row in table.repeats_of(LENGTH)] == ["22.8 in"]


def test_repeats_that_disagree_are_questioned(table: Table) -> None:
    table.enter(Entry("56.5", HEIGHT, stay=True))
    answer = table.enter(Entry("66.5", HEIGHT))
    assert "further apart than repeating explains" in answer.question
    table.enter(Entry("56.0", HEIGHT))
    odd = [asked for asked in table.questions if asked.target == HEIGHT]
    assert [asked.raw for asked in odd] == ["66.5"]
    assert "ten centimetres" in odd[0].text


def test_a_triangle_that_cannot_close_is_questioned(table: Table) -> None:
    """20 and 15 cm cannot span 40 cm (triangle inequality)."""
    type_all(table, (HEIGHT, "60"), (Target("blade_length", "left"), "20"),
             (Target("upper_arm_length", "left"), "15"))  # fmt: skip
    assert table.questions == ()
    answer = table.enter(Entry("40", Target("blade_top_to_elbow", "left")))
    assert "cannot close a triangle" in answer.question


def test_undo_and_redo_keep_every_row(table: Table, file: Path) -> None:
    type_all(table, (WEIGHT, "12"), (HEIGHT, "56.5"))
    assert table.undo() == "Taken back: height at withers 56.5"
    assert table.state.at == HEIGHT
    table.undo()
    assert table.state.rows == ()
    table.redo()
    table.redo()
    assert [row.reading.raw for row in table.state.rows] == ["12", "56.5"]
    assert len(rows_in(file)) == 6
    with pytest.raises(KitError, match="nothing to bring back"):
        table.redo()


def test_all_steps_on_one_reading_come_back(table: Table) -> None:
    row = table.enter(Entry("41.5", HEIGHT)).stored
    table.add_note(row.id, "shifted")
    table.enter(Entry("42.5", HEIGHT, instead=table.state.rows[-1].id))
    for _ in range(3):
        table.undo()
    assert table.state.rows == ()
    seen = []
    for _ in range(3):
        table.redo()
        seen.append((table.state.rows[-1].reading.raw, words_noted(table.state.rows[-1])))
    assert seen == [("41.5", ""), ("41.5", "shifted"), ("42.5", "")]
    for _ in range(3):
        table.undo()
    assert table.state.rows == ()


def test_a_note_finds_its_reading_though_it_was_confirmed_meanwhile(table: Table) -> None:
    row = table.enter(Entry("5.65", HEIGHT)).stored
    assert table.confirm(row.id) == "Confirmed: Height at withers 5.65 cm"
    assert table.add_note(row.id, "a toy") == "Noted on height at withers 5.65: a toy"
    assert table.state.rows[-1].reading.note == "confirmed; a toy"
    with pytest.raises(KitError, match="changed meanwhile"):
        table.confirm(row.id)


def test_dogs_of_one_name_can_be_told_apart(table: Table) -> None:
    table.add_dog("Heather", "bitch", "17.5.2023")
    table.add_dog("Heather", "dog")
    table.add_dog("Heather", "dog")
    names = [name for _, name in setup_part(table)["dogs"]]
    assert "Heather, bitch, born 2023-05-17" in names
    assert len(set(names)) == len(names)


def test_undo_of_a_correction_brings_the_earlier_reading_back(table: Table) -> None:
    first = table.enter(Entry("65.5", HEIGHT)).stored
    table.enter(Entry("56.5", HEIGHT, instead=first.id))
    table.undo()
    assert [row.reading.raw for row in table.state.rows] == ["65.5"]
    table.redo()
    assert [row.reading.raw for row in table.state.rows] == ["56.5"]
    table.undo()
    table.undo()
    assert table.state.rows == ()
    with pytest.raises(KitError, match="nothing to take back"):
        table.undo()


def test_a_new_table_takes_up_where_the_last_one_was(table: Table, file: Path) -> None:
    table.set_hands("K.T.", "M.O.")
    table.stand_anew()
    type_all(table, (WEIGHT, "12"), (HEIGHT, "56.5"))
    table.stand_anew()
    table.enter(Entry("12.1", WEIGHT))
    again = Table(open_store(file))
    assert again.state.dog == table.state.dog
    assert again.state.session == table.state.session
    assert again.state.rows == table.state.rows
    assert (again.state.stand, again.state.measurer, again.state.writer) == ("2", "K.T.", "M.O.")
    assert again.state.at == HEIGHT
    again.store.close()


def test_another_panel_on_the_same_file_is_seen(table: Table, file: Path) -> None:
    other = Table(open_store(file))
    other.choose_dog(table.state.dog.id if table.state.dog else "")
    table.enter(Entry("56.5", HEIGHT))
    assert other.refresh()
    other.choose_session(table.state.session.id if table.state.session else "")
    assert [row.reading.raw for row in other.state.rows] == ["56.5"]
    other.enter(Entry("12", WEIGHT))
    assert table.refresh()
    assert not table.refresh()
    assert len(table.state.rows) == 2
    other.store.close()


def test_thirty_entries_from_many_threads_are_all_kept(table: Table, file: Path) -> None:
    keys = [key for key, d in catalogue().measurements.items() if d.kind == "length"][:30]
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda key: table.keep(Entry("30.5", Target(key, ""))), keys))
    assert len(rows_in(file)) == 30
    assert len(table.state.rows) == 30


def test_skipping_standing_anew_and_sides(table: Table) -> None:
    table.skip(WEIGHT)
    assert table.state.at == HEIGHT
    table.set_repeats(2)
    table.enter(Entry("56.5", HEIGHT))
    assert table.state.at == HEIGHT
    table.enter(Entry("56.0", HEIGHT))
    assert table.state.at != HEIGHT
    table.choose_side("right")
    table.go_to(Target("height_at_elbow", "right"))
    assert table.enter(Entry("30", table.state.at)).stored.reading.side == "right"
    table.stand_anew()
    assert (table.state.stand, table.state.at, table.state.skipped) == ("2", WEIGHT, frozenset())


def test_instruments_are_remembered_for_what_is_usually_taken_with_them(table: Table) -> None:
    table.set_instrument("blade_length", "tape")
    assert table.instrument_for("upper_arm_length") == "tape"
    assert table.instrument_for("height_at_withers") == "measuring_stand"
    with pytest.raises(KitError, match="no such instrument"):
        table.set_instrument("blade_length", "scales")


def test_an_entry_for_another_dog_or_none_is_refused(table: Table, file: Path) -> None:
    alder = table.state.dog
    assert alder is not None
    table.add_dog("Bryony", "bitch")
    with pytest.raises(KitError, match="another dog"):
        table.enter(Entry("56.5", HEIGHT, dog=alder.id))
    empty = Table(open_store(file.with_name("empty.sqlite3")))
    with pytest.raises(KitError, match="no dog is on the table"):
        empty.enter(Entry("56.5", HEIGHT))
    assert rows_in(file) == []
    empty.store.close()


def test_what_is_known_of_a_dog_is_put_right_and_its_readings_stay(table: Table) -> None:
    table.enter(Entry("41.5", HEIGHT))
    raw = [row.reading.raw for row in table.state.rows]
    # ISO 11784: fifteen digits, written here as a reader shows them.
    assert table.state.dog is not None
    own = table.state.dog.id
    said = table.change_dog(own, " Alder of Mere ", "dog", "17.5.2021", "276 098 101 234 567")
    assert said == "Put right: Alder of Mere"
    setup = setup_part(table)
    assert (setup["dogName"], setup["born"]) == ("Alder of Mere", "2021-05-17")
    assert setup["transponder"] == "276098101234567"
    assert [row.reading.raw for row in table.state.rows] == raw
    with pytest.raises(KitError, match="not a transponder number"):
        table.change_dog(own, "Alder", "dog", "", "12345")
    with pytest.raises(KitError, match="another dog"):
        table.add_dog("Bryony", transponder="276098101234567")
    assert setup_part(table) == setup
    table.add_dog("Clover", "bitch")
    with pytest.raises(KitError, match="of another dog"):
        table.change_dog(own, "Alder")
    assert setup_part(table)["dogName"] == "Clover"


def test_the_picture_is_that_of_the_readings_however_they_came(table: Table) -> None:
    """Drawn from the dog before or from nothing: least squares has one answer (mathematics)."""
    live = SideView()
    for count, (target, text) in enumerate(demo_entries("Alder"), start=1):
        table.keep(Entry(text, target))
        if count % 12 == 0:
            asked = drawn_values(table.assessment.estimates), drawn_angles(table.assessment)
            drawn, alone = live.svg(*asked), SideView().svg(*asked)
            assert places_in(drawn) == pytest.approx(places_in(alone), abs=0.11)  # px, one digit


def places_in(svg: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?[0-9]+\.[0-9]", svg)]


def demo_entries(dog: str) -> list[tuple[Target, str]]:
    """Return the first reading of every measurement and side of a demo dog."""
    demo = read_csv(Path(__file__).parents[1] / "data" / "demo_readings.csv", catalogue())
    first: dict[Target, str] = {}
    for reading in dict(by_dog(demo.readings))[dog]:
        unit = "" if reading.unit == "deg" else f" {reading.unit}"
        first.setdefault(Target(reading.measurement, reading.side), f"{reading.raw}{unit}")
    return list(first.items())
