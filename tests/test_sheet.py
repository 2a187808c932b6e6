"""The measuring sheet. Paper size: ISO 216. What it must hold: the project's own protocol."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pypdf import PageObject, PdfReader

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import UnitError
from kit.reports.sheet import write_sheet
from kit.reports.sheet_plan import read_plan, sheet_plan

POINTS_PER_MM = 72 / 25.4


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> list[PageObject]:
    path = tmp_path_factory.mktemp("sheet") / "sheet.pdf"
    write_sheet(path, dog="Žofka ½")
    return list(PdfReader(path).pages)


def text_of(pages: list[PageObject]) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def test_every_measurement_is_on_the_sheet_in_the_order_of_the_catalogue(
    pages: list[PageObject],
) -> None:
    text = text_of(pages)
    places = []
    for number, definition in enumerate(catalogue().measurements.values(), start=1):
        found = re.search(rf"\b{number} {re.escape(definition.title)}", text)
        assert found, definition.key
        places.append(found.start())
        assert re.sub(r"\s+", " ", definition.how) in text
    assert places == sorted(places)


def test_pages_are_a4_and_numbered(pages: list[PageObject]) -> None:
    for number, page in enumerate(pages, start=1):
        assert float(page.mediabox.width) == pytest.approx(210 * POINTS_PER_MM, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(297 * POINTS_PER_MM, abs=0.1)
        assert f"page {number} of {len(pages)}" in page.extract_text()


def test_the_letters_travel_with_the_file(pages: list[PageObject]) -> None:
    for page in pages:
        used = re.findall(rb"/(F\S+) [\d.]+ Tf", page.get_contents().get_data())
        fonts = page["/Resources"]["/Font"]
        for name in {"/" + found.decode() for found in used}:
            assert "/FontFile2" in fonts[name].get_object()["/FontDescriptor"].get_object()


def test_cautions_and_the_head_of_the_form_come_first(pages: list[PageObject]) -> None:
    first = text_of(pages[:1])
    for caution in sheet_plan().cautions:
        assert caution in first
    for field in ("Date and time", "Measurer", "Instruments", "bitch", "stand 1:", "stand 2:"):
        assert field in first
    assert "Žofka ½" in first


def test_cautions_of_a_measurement_stand_beside_its_section(pages: list[PageObject]) -> None:
    text = text_of(pages)
    for definition in catalogue().measurements.values():
        assert definition.caution in text


def test_every_measurement_but_the_weight_is_marked_in_one_picture() -> None:
    marked = [
        mark.key
        for section in sheet_plan().sections
        for picture in section.pictures
        for mark in picture.marks
    ]
    assert sorted(marked) == sorted(set(catalogue().measurements) - {"weight"})


def test_marks_lie_inside_their_picture() -> None:
    for section in sheet_plan().sections:
        for picture in section.pictures:
            left, bottom, right, top = picture.window
            for mark in picture.marks:
                for x, y in (*mark.points, *([mark.label] if mark.label else [])):
                    assert left <= x <= right, mark.key
                    assert bottom <= y <= top, mark.key


def test_inches_and_pounds_on_request(tmp_path: Path) -> None:
    write_sheet(tmp_path / "inches.pdf", units="in")
    text = text_of(list(PdfReader(tmp_path / "inches.pdf").pages))
    assert "in measuring stand" in text
    assert "lb scales" in text
    assert "cm measuring stand" not in text


def test_an_unknown_unit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UnitError, match="cm or in"):
        write_sheet(tmp_path / "hands.pdf", units="hands")


def test_a_fault_in_the_plan_names_table_and_key(tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text('[[sections]]\ntitle = "x"\nfirst = "wingspan"\n', encoding="utf-8")
    with pytest.raises(Exception, match=r"sheet\.toml, \[\[sections\]\] number 1, key 'first'"):
        read_plan(path, catalogue())
