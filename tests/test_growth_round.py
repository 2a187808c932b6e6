"""A round of the litter: the pure round, and the table that stores it. The rules are our own.

What is stored is read from the records file without the kit.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.growth.round import COLLARS, Cell, RoundPuppy, new_round, next_mark, worn
from kit.panels.litter import LitterPanel
from kit.panels.litter_table import LitterTable, Turn
from kit.quantities.errors import DataFileError, EntryError, KitError
from kit.records.puppies import mark_of
from kit.records.store import open_store
from kit.records.values import new_id

SIX = tuple(RoundPuppy(str(i), name, COLLARS[i]) for i, name in enumerate("ABCDEF"))
KEYS = ("height_at_withers", "weight")


def test_one_measurement_goes_round_the_litter_then_the_next_and_weight_is_first() -> None:
    going = new_round(SIX, KEYS)
    seen = []
    while going.now is not None:
        seen.append((going.now.measurement, going.now.puppy))
        going = going.stored(f"r{len(seen)}")
    expected = [(key, str(i)) for key in ("weight", "height_at_withers") for i in range(6)]
    assert seen == expected


def test_both_sides_are_taken_while_the_puppy_is_in_hand() -> None:
    going = new_round(SIX[:2], ("forearm_length", "weight"), {"forearm_length": ("left", "right")})
    cells = [(cell.measurement, cell.puppy, cell.side) for cell in going.cells]
    assert cells == [
        ("weight", "0", ""), ("weight", "1", ""),
        ("forearm_length", "0", "left"), ("forearm_length", "0", "right"),
        ("forearm_length", "1", "left"), ("forearm_length", "1", "right"),
    ]  # fmt: skip


def test_a_mark_of_ones_own_is_no_collar() -> None:
    assert (worn("light blue"), worn("a nick in the ear"), worn("")) == (
        "light blue collar", "a nick in the ear", "",
    )  # fmt: skip


def test_a_skipped_puppy_is_passed_and_can_be_taken_later() -> None:
    going = new_round(SIX[:2], ("weight",)).skipped().stored("r1")
    assert going.now is None
    later = going.go_to(Cell("0", "weight"))
    assert later.now == Cell("0", "weight")
    assert later.stored("r2").readings_at(Cell("0", "weight")) == ("r2",)


def test_undo_goes_back_to_the_puppy_it_was() -> None:
    going = new_round(SIX, ("weight",)).stored("r1").stored("r2")
    back, step = going.undone()
    assert step.reading == "r2"
    assert back.now == Cell("1", "weight")
    assert back.stored("r3").now == Cell("2", "weight")
    with pytest.raises(DataFileError, match="nothing to take back"):
        new_round(SIX, ("weight",)).undone()


@given(st.lists(st.sampled_from(["store", "skip", "undo"]), max_size=40))
def test_every_turn_is_settled_once_or_open(actions: list[str]) -> None:
    going = new_round(SIX[:3], KEYS)
    for number, action in enumerate(actions):
        if action == "undo" and going.done:
            going, _ = going.undone()
        elif action != "undo" and going.now is not None:
            going = going.stored(f"r{number}") if action == "store" else going.skipped()
    settled = [done.cell for done in going.done]
    assert len(settled) == len(set(settled))
    open_ones = [cell for cell in going.cells if cell not in settled]
    assert (going.now in open_ones) if open_ones else going.now is None


def test_puppies_that_share_a_collar_are_refused() -> None:
    with pytest.raises(DataFileError, match="share the mark red"):
        new_round((RoundPuppy("1", "A", "red"), RoundPuppy("2", "B", "Red")), ("weight",))
    assert next_mark(["red", "Blue"]) == "green"
    assert next_mark(COLLARS) == str(len(COLLARS) + 1)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


@pytest.fixture
def table(file: Path) -> Iterator[LitterTable]:
    store = open_store(file)
    made = LitterTable(store)
    for name in ("Ash", "Birch"):
        made.add_puppy(name, "bitch", "2026-03-01", "")
    made.begin([dog.id for dog in made.litters()["2026-03-01"]], ("weight", "chest_girth"))
    yield made
    store.close()


def rows_in(file: Path) -> list[tuple[str, str, float, int]]:
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as connection:
        query = """select dogs.name, raw, value, withdrawn from readings
                   join dogs on dogs.id = readings.dog_id order by readings.number"""
        return list(connection.execute(query))


def type_all(table: LitterTable, *texts: str, day: int = 2) -> list[str]:
    asked = []
    for text in texts:
        assert table.round is not None
        assert table.round.now is not None
        time = f"2026-03-{day:02d}T08:00:00"
        asked.append(table.asked(table.keep(Turn(text, table.round.now, time=time))))
    return asked


def test_entries_go_round_the_litter_into_the_file(table: LitterTable, file: Path) -> None:
    type_all(table, "255", "0,248 kg", "17", "16.5")
    assert [row[:2] for row in rows_in(file)] == [
        ("Ash", "255"), ("Birch", "0,248 kg"), ("Ash", "17"), ("Birch", "16.5"),
    ]  # fmt: skip
    assert [row[2] for row in rows_in(file)] == pytest.approx([0.255, 0.248, 17.0, 16.5])
    assert table.round is not None
    assert table.round.now is None


def test_the_next_collar_is_given(table: LitterTable) -> None:
    assert [mark_of(dog) for dog in table.litters()["2026-03-01"]] == ["red", "blue"]
    (ash, _) = table.litters()["2026-03-01"]
    table.set_mark(ash.id, "a nick; in the ear")
    assert mark_of(table.store.find_dog(ash.id)) == "a nick in the ear"


def test_what_cannot_be_read_is_refused_and_the_turn_stays(table: LitterTable, file: Path) -> None:
    with pytest.raises(EntryError, match="not understood"):
        type_all(table, "heavy")
    assert rows_in(file) == []
    assert table.round is not None
    assert table.round.now == table.round.cells[0]


def test_the_same_entry_sent_twice_is_stored_and_counted_once(
    table: LitterTable, file: Path
) -> None:
    assert table.round is not None
    turn = Turn("255", table.round.cells[0], new_id(), "2026-03-02T08:00:00")
    table.keep(turn)
    table.keep(turn)
    assert len(rows_in(file)) == 1
    assert len(table.round.done) == 1


def test_undo_withdraws_what_was_stored(table: LitterTable, file: Path) -> None:
    type_all(table, "255")
    assert "Ash, weight 255" in table.undo()
    assert [row[3] for row in rows_in(file)] == [0, 1]
    type_all(table, "265")
    assert table.round is not None
    assert table.round.now == table.round.cells[1]


def test_a_fall_is_told_at_once(table: LitterTable) -> None:
    type_all(table, "255", "248")
    table.begin([dog.id for dog in table.litters()["2026-03-01"]], ("weight",))
    fallen, grown = type_all(table, "249", "260", day=3)
    assert "6 g below the previous day. Weigh again, then call your vet." in fallen
    assert grown == ""


def test_a_puppy_left_behind_is_told_though_it_loses_nothing(table: LitterTable) -> None:
    table.add_puppy("Cedar", "dog", "2026-03-01", "")
    ids = [dog.id for dog in table.litters()["2026-03-01"]]
    for day, texts in ((2, ("255", "250", "252")), (9, ("500", "490", "300"))):
        table.begin(ids, ("weight",))
        asked = type_all(table, *texts, day=day)
    assert asked[:2] == ["", ""]
    assert "of the litter’s middle" in asked[2]
    assert "Weigh again, then call your vet." in asked[2]


def test_a_slip_is_asked_about_at_once(table: LitterTable) -> None:
    ash = table.litters()["2026-03-01"][0].id
    for day, text in ((2, "255"), (3, "270"), (4, "0.29")):
        table.begin([ash], ("weight",))
        (asked,) = type_all(table, text, day=day)
    assert "kg typed as g? It is set aside until somebody reads it again." in asked


def test_sides_that_grow_apart_are_told_at_the_table(table: LitterTable, file: Path) -> None:
    ash = table.litters()["2026-03-01"][0].id
    for day, sides in ((3, ("4.5", "4.5")), (24, ("5", "9"))):
        table.begin([ash], ("forearm_length",))
        asked = type_all(table, *sides, day=day)
    assert "grows less on the left" in asked[1]
    assert "Measure both sides again, then call your vet." in asked[1]
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as connection:
        sides = [row[0] for row in connection.execute("select side from readings order by number")]
    assert sides == ["left", "right"] * 2
    table.begin([ash], ("forearm_length",), "right")
    assert table.round is not None
    assert [cell.side for cell in table.round.cells] == ["right"]
    with pytest.raises(EntryError, match="no such side"):
        table.begin([ash], ("forearm_length",), "front")


def test_a_death_is_noted_and_taken_back(table: LitterTable, file: Path) -> None:
    ash, birch = table.litters()["2026-03-01"]
    type_all(table, "255", "248", day=5)

    def change(died: str) -> str:
        return table.change_puppy(birch.id, "Birch", "bitch", "2026-03-01", died)

    said = change("2026-03-04")
    assert said.startswith("Noted: Birch died on 2026-03-04. Its record is kept.")
    assert "The reading after that day is kept and not used." in said
    with sqlite3.connect(f"file:{file}?mode=ro", uri=True) as connection:
        assert list(connection.execute("select name, died from dogs order by number")) == [
            ("Ash", ""), ("Birch", "2026-03-04"),
        ]  # fmt: skip
    table.begin([birch.id], ("weight",))
    (asked,) = type_all(table, "251", day=6)
    assert "after Birch died (2026-03-04); was another puppy measured?" in asked
    assert "Birch lives" in table.undo_death(birch.id)
    assert table.store.find_dog(birch.id) == birch
    for text in ("2026-02-27", "soon", "2999-01-01"):
        with pytest.raises(KitError):
            change(text)
    with pytest.raises(KitError, match="no day of death is noted"):
        table.undo_death(ash.id)
    assert table.store.find_dog(birch.id) == birch


def test_what_was_written_wrong_of_a_puppy_is_put_right(table: LitterTable) -> None:
    ash = table.litters()["2026-03-01"][0]
    assert table.change_puppy(ash.id, "Aspen", "dog", "2026-02-28", "") == "Changed: Aspen"
    now = table.store.find_dog(ash.id)
    assert (now.name, now.sex, now.born, mark_of(now)) == ("Aspen", "dog", "2026-02-28", "red")
    assert "Nothing" in table.change_puppy(ash.id, "Aspen", "dog", "2026-02-28", "")
    with pytest.raises(KitError, match="whelping date"):
        table.change_puppy(ash.id, "Aspen", "dog", "2026", "")


def test_the_panel_answers_and_says_what_is_wrong(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel = LitterPanel(file)
    heard: list[dict[str, object]] = []
    monkeypatch.setattr(panel, "send", heard.append)

    def say(**message: object) -> list[dict[str, object]]:
        heard.clear()
        panel._receive(panel, message, None)
        return list(heard)

    assert say(op="hello")[-1]["screen"] == "choose"
    for number, name in enumerate(("Ash", "Birch", "Birch")):
        identity = str(min(number, 1))  # the last one is sent again, as after a lost answer
        say(op="add", id=identity, name=name, sex="", born="2026-03-01", mark="")
    assert panel.table is not None
    ids = [dog.id for dog in panel.table.litters()["2026-03-01"]]
    answer, state = say(op="begin", id="2", puppies=ids, measurements=["weight"])
    assert answer["ok"] is True
    assert state["now"] == {"puppy": ids[0], "key": "weight", "side": ""}
    entry = {"puppy": ids[0], "key": "weight", "time": "2026-03-02T08:00:00"}
    (refused,) = say(op="enter", id=new_id(), text="heavy", **entry)
    assert refused["ok"] is False
    assert "not understood" in str(refused["text"])
    answer, state = say(op="enter", id=new_id(), text="255", **entry)
    assert answer["echo"] == "255 g = 0.255 kg"
    assert state["now"] == {"puppy": ids[1], "key": "weight", "side": ""}
    gone = {"puppy": ids[1], "name": "Birch", "sex": "", "born": "2026-03-01"}
    answer, _ = say(op="change", id="3", died="2026-03-02", **gone)
    assert "Noted: Birch died" in str(answer["text"])
    _, state = say(op="leave", id="4")
    (litter,) = state["litters"]
    assert [[dog["name"] for dog in litter[part]] for part in ("puppies", "lost")] == [
        ["Ash"], ["Birch"],
    ]  # fmt: skip
    _, state = say(op="lives", id="5", puppy=ids[1])
    assert state["litters"][0]["lost"] == []
    (fault,) = say(op="fly")
    assert "does not know" in str(fault["text"])
    assert (
        say(op="enter", id=new_id(), text="1", puppy="none", key="weight", time="")[0]["ok"]
        is False
    )
    panel.table.store.close()


def test_a_round_must_be_begun(file: Path) -> None:
    with open_store(file) as store, pytest.raises(KitError, match="no round has begun"):
        LitterTable(store).skip()
