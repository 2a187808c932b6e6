"""What the panel answers, without a browser, and what it shows; the project's own behaviour."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from kit.drawing.where import HEIGHT, WIDTH, where
from kit.panels.panel import MeasuringPanel
from kit.panels.pictures import where_svg
from kit.panels.state import Target
from kit.panels.table import Entry, Table
from kit.protocol.catalogue import catalogue
from kit.records.store import open_store
from kit.records.values import new_id


class Page:
    """Stands where the browser would: sends orders and keeps what comes back."""

    def __init__(self, records: Path) -> None:
        self.panel = MeasuringPanel(records)
        self.heard: list[dict[str, Any]] = []
        self.panel.send = lambda message, *_: self.heard.append(message)

    def say(self, **message: object) -> list[dict[str, Any]]:
        """Send one order and return what it brought."""
        self.heard.clear()
        self.panel._receive(self.panel, {"id": new_id(), **message}, None)
        return list(self.heard)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    made = Page(tmp_path / "records.sqlite3")
    made.say(op="hello")
    made.say(op="add_dog", name="Alder", sex="dog", born="")
    yield made
    if made.panel.table is not None:
        made.panel.table.store.close()


def test_an_order_sent_twice_is_done_once(page: Page) -> None:
    order = {"op": "enter", "id": new_id(), "text": "12", "key": "weight", "side": ""}
    first, again = page.say(**order), page.say(**order)
    assert first[0]["ok"]
    assert again == first[:1]
    undo = {"op": "undo", "id": new_id()}
    page.say(**undo)
    assert page.say(**undo)[0]["ok"]


def test_of_orders_in_a_row_a_refused_last_one_brings_what_the_others_did(page: Page) -> None:
    kept = page.say(op="enter", text="12", key="weight", side="", more=1)
    refused = page.say(op="enter", text="heavy", key="height_at_withers", side="", more=0)
    assert [message["op"] for message in kept] == ["answer"]
    assert [message["op"] for message in refused] == ["answer", "state"]
    assert not refused[0]["ok"]
    assert list(refused[1]["parts"]["list"]) == ["weight"]
    alone = page.say(op="enter", text="heavy", key="height_at_withers", side="", more=0)
    assert [message["op"] for message in alone] == ["answer"]


def test_only_what_changed_is_sent(page: Page) -> None:
    heard = page.say(op="enter", text="12", key="weight", side="")
    parts = next(message for message in heard if message["op"] == "state")["parts"]
    assert list(parts["list"]) == ["weight"]
    assert "fixed" not in parts


def test_a_fault_nobody_foresaw_reaches_the_person(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr("kit.panels.panel.findings_part", broken)
    heard = page.say(op="enter", text="12", key="weight", side="")
    assert heard[0]["ok"]
    assert heard[1]["op"] == "fault"
    assert "What was entered is stored" in heard[1]["text"]
    assert "on purpose" in heard[1]["text"]


def test_records_that_cannot_be_opened_are_said_and_can_be_tried_again(tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    file.write_bytes(b"no database at all")
    page = Page(file)
    (heard,) = page.say(op="hello")
    assert heard["op"] == "fault"
    assert "records" in heard["text"]
    file.unlink()
    assert any(message["op"] == "state" for message in page.say(op="hello"))
    assert page.panel.table is not None
    page.panel.table.store.close()


@pytest.mark.parametrize("key", list(catalogue().measurements))
def test_every_measurement_is_shown_where_it_is_taken(key: str) -> None:
    scene = where(key)
    drawing = ElementTree.fromstring(where_svg(key))  # noqa: S314  (made by the kit)
    accent = drawing.findall(".//*[@stroke='#a63d1f']") + drawing.findall(".//*[@fill='#a63d1f']")
    assert accent
    assert scene.description == catalogue().measurements[key].how
    for text in drawing.iter("{http://www.w3.org/2000/svg}text"):
        assert 0 <= float(text.attrib["x"]) <= WIDTH
        assert 0 <= float(text.attrib["y"]) <= HEIGHT


def test_the_next_reading_completes_most_findings_and_then_decides(tmp_path: Path) -> None:
    """Neck against head is one clause of two readings: after the neck, the head completes it."""
    from kit.panels.next_reading import next_reading

    with open_store(tmp_path / "records.sqlite3") as store:
        table = Table(store)
        table.add_dog("Alder", "dog")
        first = next_reading(table.assessment, table.catalogue)
        assert first.measurement in catalogue().measurements
        table.enter(Entry("16.5", Target("neck_length")))
        proposed = next_reading(table.assessment, table.catalogue)
        assert proposed.text.startswith(catalogue().measurement(proposed.measurement).title)
        assert "completes" in proposed.text
        skipped = next_reading(table.assessment, table.catalogue, [proposed.measurement])
        assert skipped.measurement != proposed.measurement
