"""What the measuring sheet holds: sections, pictures and marks, read from `sheet.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kit.figure.template import Point, template
from kit.protocol.catalogue import Catalogue, Definition, catalogue
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml

ARC_RADIUS = 5.5  # mm on paper
SHAPES = ("line", "height", "angle", "slope", "lean", "girth")
_SHAPE_OF_DIRECTION = {"vertical": "height", "angle": "angle"}


@dataclass(frozen=True)
class Mark:
    """Where one measurement goes in one view; points in parts of the height at withers.

    Attributes
    ----------
    radius : float
        Of the arc of an angle, in mm on paper.
    label : (float, float) or None
        Where the number stands; None puts the number of an angle on its arc.
    """

    key: str
    number: int
    direction: str
    view: str
    shape: str
    points: tuple[Point, ...]
    label: Point | None
    radius: float


@dataclass(frozen=True)
class View:
    """Outlines of the dog from one direction, each a run of points to be drawn smooth."""

    outline: tuple[Point, ...]
    behind: tuple[tuple[Point, ...], ...]
    detail: tuple[tuple[Point, ...], ...]


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


def _pair(table: Table, key: str, value: object) -> Point:
    if isinstance(value, str) and value in template().points:
        return template().points[value]
    if isinstance(value, list) and len(value) == 2:
        return float(value[0]), float(value[1])
    raise table.fault(key, "a landmark or [x, y]", value)


def _run(table: Table, key: str, value: object) -> tuple[Point, ...]:
    if not isinstance(value, list):
        raise table.fault(key, "a list of points", value)
    return tuple(_pair(table, key, item) for item in value)


def _view(table: Table) -> View:
    table.only(("outline", "behind", "detail", "mirrored"))
    outline = _run(table, "outline", table.content.get("outline"))
    if table.flag("mirrored"):
        outline += tuple((_mirror(table, point)) for point in reversed(outline[1:-1]))
    return View(
        outline,
        tuple(_run(table, "behind", item) for item in table.content.get("behind", [])),
        tuple(_run(table, "detail", item) for item in table.content.get("detail", [])),
    )


def _mirror(table: Table, point: Point) -> Point:
    """Mirror across the midline, which lies along x in the view from above, else along y."""
    from_above = table.where.endswith("[top]")
    return (point[0], -point[1]) if from_above else (-point[0], point[1])


def _mark(definition: Definition, number: int, table: Table) -> Mark:
    table.only(("view", "shape", "points", "label", "radius"))
    given = table.content.get("points", list(definition.landmarks))
    points = _run(table, "points", given)
    shape = table.choice(
        "shape", SHAPES, default=_SHAPE_OF_DIRECTION.get(definition.direction, "line")
    )
    if not points:
        raise table.fault("points", f"where '{definition.key}' is taken", "nothing")
    label = table.content.get("label")
    return Mark(
        key=definition.key,
        number=number,
        direction=definition.direction,
        view=table.text("view", default="side"),
        shape=shape,
        points=points,
        label=None if label is None else _pair(table, "label", label),
        radius=table.optional_number("radius") or ARC_RADIUS,
    )


def _picture(table: Table, views: Mapping[str, View], marks: tuple[Mark, ...]) -> Picture:
    table.only(("view", "window", "width", "directions"))
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


def _section(table: Table, rows: tuple[Row, ...], root: Table) -> Section:
    table.only(("title", "first", "note", "pictures"))
    views = {name: _view(view) for name, view in root.tables("views").items()}
    pictures = table.array("pictures")
    places = root.table("marks")
    marks = tuple(
        _mark(row.definition, row.number, places.table(row.definition.key))
        for row in rows
        if pictures
    )
    return Section(
        table.text("title"),
        table.text("note", default=""),
        tuple(_picture(picture, views, marks) for picture in pictures),
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
    root.only(("cautions", "square", "sections", "marks", "views"))
    root.table("marks").only(known.measurements)
    tables = root.array("sections")
    return SheetPlan(
        root.texts("cautions"),
        root.texts("square"),
        tuple(
            _section(table, rows, root)
            for table, rows in zip(tables, _runs(tables, _rows(known)), strict=True)
        ),
    )


@cache
def sheet_plan() -> SheetPlan:
    """Return the plan that ships with the kit."""
    return read_plan(Path(__file__).with_name("sheet.toml"), catalogue())
