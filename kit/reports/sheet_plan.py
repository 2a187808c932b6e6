"""What the measuring sheet holds: sections, pictures and marks, read from `sheet.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kit.drawing.places import Place, View, places
from kit.protocol.catalogue import Catalogue, Definition, catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml


@dataclass(frozen=True)
class Mark(Place):
    """Where one measurement goes, with its number on the sheet."""

    number: int


@dataclass(frozen=True)
class Picture:
    """One view, the part of it that is shown, its width on paper in mm, and its marks."""

    view: View
    window: tuple[float, float, float, float]
    width: float
    marks: tuple[Mark, ...]

    @property
    def height(self) -> float:
        """Height on paper in mm."""
        left, bottom, right, top = self.window
        return self.width * (top - bottom) / (right - left)


@dataclass(frozen=True)
class Row:
    """One numbered measurement of the sheet."""

    number: int
    definition: Definition
    tool: str


@dataclass(frozen=True)
class Section:
    """Measurements that are taken in one place, with their pictures."""

    title: str
    note: str
    pictures: tuple[Picture, ...]
    rows: tuple[Row, ...]

    @property
    def cautions(self) -> Mapping[str, tuple[int, ...]]:
        """Each caution of the section with the numbers it is for."""
        found: dict[str, tuple[int, ...]] = {}
        for row in self.rows:
            if row.definition.caution:
                text = row.definition.caution
                found[text] = (*found.get(text, ()), row.number)
        return found


@dataclass(frozen=True)
class SheetPlan:
    """The whole sheet."""

    cautions: tuple[str, ...]
    square: tuple[str, ...]
    sections: tuple[Section, ...]


def _picture(table: Table, marks: tuple[Mark, ...]) -> Picture:
    table.only(("view", "window", "width", "directions"))
    views = places().views
    name = table.choice("view", views)
    shown = table.texts("directions")
    window = table.content.get("window")
    if not isinstance(window, list) or len(window) != 4:
        raise table.fault("window", "[left, bottom, right, top]", window)
    left, bottom, right, top = (float(edge) for edge in window)
    chosen = [m for m in marks if m.view == name and (not shown or m.direction in shown)]
    return Picture(views[name], (left, bottom, right, top), table.number("width"), tuple(chosen))


def _rows(known: Catalogue) -> tuple[Row, ...]:
    tools = known.instruments
    return tuple(
        Row(number, definition, tools[definition.instrument].title)
        for number, definition in enumerate(known.measurements.values(), start=1)
    )


def _runs(tables: tuple[Table, ...], rows: tuple[Row, ...]) -> list[tuple[Row, ...]]:
    """Cut the rows at the first measurement of each section."""
    keys = [row.definition.key for row in rows]
    starts = []
    for table in tables:
        first = table.text("first")
        if first not in keys:
            raise table.fault("first", "a measurement of the catalogue", first)
        starts.append(keys.index(first))
    if starts != sorted(starts) or starts[0] != 0:
        raise DataFileError("sheet.toml, [[sections]]", "the order of the measurement catalogue")
    ends = [*starts[1:], len(rows)]
    return [rows[start:end] for start, end in zip(starts, ends, strict=True)]


def _section(table: Table, rows: tuple[Row, ...]) -> Section:
    table.only(("title", "first", "note", "pictures"))
    pictures = table.array("pictures")
    where = places().places
    marks = tuple(
        Mark(**vars(where[row.definition.key]), number=row.number) for row in rows if pictures
    )
    return Section(
        table.text("title"),
        table.text("note", default=""),
        tuple(_picture(picture, marks) for picture in pictures),
        rows,
    )


def read_plan(path: Path, known: Catalogue) -> SheetPlan:
    """Read the plan of the sheet.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(path)
    root.only(("cautions", "square", "sections"))
    tables = root.array("sections")
    return SheetPlan(
        root.texts("cautions"),
        root.texts("square"),
        tuple(
            _section(table, rows)
            for table, rows in zip(tables, _runs(tables, _rows(known)), strict=True)
        ),
    )


@cache
def sheet_plan() -> SheetPlan:
    """Return the plan that ships with the kit."""
    return read_plan(Path(__file__).with_name("sheet.toml"), catalogue())
