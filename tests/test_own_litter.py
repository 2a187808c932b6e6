"""The notebook's own litter: read from the records at every press, never drawn out of thin air."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest

from kit.drawing.scene import Scene
from kit.panels.lessons.page import as_html
from kit.panels.own_litter import NONE_YET, OwnLitter
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.quantities.errors import KitError
from kit.records.store import open_store


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "records.sqlite3"


def weigh(file: Path, born: str, names: tuple[str, ...], grams: dict[str, list[int]]) -> None:
    """Store a puppy's weights, a day each from its whelping on."""
    with open_store(file) as store:
        session = store.start_session()
        for name in names:
            dog = store.add_dog(name, born=born)
            for day, weight in enumerate(grams.get(name, [])):
                time = f"{born[:8]}{int(born[8:]) + day:02d}"
                reading = make_reading(catalogue(), name, "weight", str(weight), "g", time=time)
                store.store_reading(dog.id, session.id, reading)


def test_empty_records_say_what_to_do(file: Path) -> None:
    own = OwnLitter(file)
    assert NONE_YET in as_html(own.shown())
    assert NONE_YET in as_html(own.sheet())


def test_the_youngest_litter_is_shown_and_its_fall_told(file: Path) -> None:
    weigh(file, "2025-03-01", ("Old",), {"Old": [250, 260]})
    weigh(file, "2026-03-01", ("Ash", "Birch"), {"Ash": [250, 240], "Birch": [255, 270]})
    own = OwnLitter(file)
    shown = own.shown()
    assert list(own.litter.options) == ["2026-03-01", "2025-03-01"]
    html = as_html(shown)
    assert "weight 240 g is 10 g below the previous day. Weigh again, then call your vet." in html
    assert "Old" not in html
    first = next(piece for piece in shown if isinstance(piece, Scene))
    assert first.title.startswith("The first three weeks")
    own.litter.value = "2025-03-01"
    assert "Nothing to look at again in what was measured of Old" in as_html(own.shown())


def test_a_later_weighing_is_there_at_the_next_press(file: Path) -> None:
    weigh(file, "2026-03-01", ("Ash",), {})
    own = OwnLitter(file)
    with pytest.raises(KitError, match="nothing was read of this litter yet"):
        own.shown()
    weigh(file, "2026-04-01", ("Elm",), {"Elm": [250, 260]})
    with pytest.raises(KitError, match="nothing was read"):  # the choice is kept
        own.shown()
    own.litter.value = "2026-04-01"
    assert "Elm" in as_html(own.shown())


@pytest.mark.slow
def test_the_sheet_is_handed_over_as_it_lies_in_the_page(file: Path) -> None:
    weigh(file, "2026-03-01", ("Ash",), {"Ash": [250, 260]})
    links = as_html(OwnLitter(file).sheet())
    found = dict(re.findall(r'download="([^"]+)".*?base64,([A-Za-z0-9+/=]+)"', links))
    assert set(found) == {"litter-of-2026-03-01.pdf", "litter-of-2026-03-01.html"}
    assert base64.b64decode(found["litter-of-2026-03-01.pdf"]).startswith(b"%PDF")
    assert b"Litter of 2026-03-01" in base64.b64decode(found["litter-of-2026-03-01.html"])
