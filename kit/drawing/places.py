"""Where each measurement goes on the neutral dog: one geometry for every picture that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.figure.template import Point, template
from kit.protocol.catalogue import Catalogue, Definition, catalogue
from kit.quantities.toml_table import Table, read_toml

ARC_RADIUS = 5.5  # mm on paper
SHAPES = ("line", "height", "angle", "slope", "lean", "girth")
_SHAPE_OF_DIRECTION = {"vertical": "height", "angle": "angle"}


@dataclass(frozen=True)
class Place:
    """Where one measurement goes in one view; points in parts of the height at withers.

    Attributes
    ----------
    radius : float
        Of the arc of an angle, in mm on paper.
    label : (float, float) or None
        Where its number stands; None puts the number of an angle on its arc.
    """

    key: str
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
class Places:
    """Where every measurement goes, and the views it goes in."""

    places: Mapping[str, Place]
    views: Mapping[str, View]


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


def _place(definition: Definition, table: Table, views: Mapping[str, View]) -> Place:
    table.only(("view", "shape", "points", "label", "radius"))
    given = table.content.get("points", list(definition.landmarks))
    points = _run(table, "points", given)
    shape = _SHAPE_OF_DIRECTION.get(definition.direction, "line")
    if not points:
        raise table.fault("points", f"where '{definition.key}' is taken", "nothing")
    label = table.content.get("label")
    return Place(
        key=definition.key,
        direction=definition.direction,
        view=table.choice("view", views, default="side"),
        shape=table.choice("shape", SHAPES, default=shape),
        points=points,
        label=None if label is None else _pair(table, "label", label),
        radius=table.optional_number("radius") or ARC_RADIUS,
    )


def read_places(path: Path, known: Catalogue) -> Places:
    """Read where the measurements of a catalogue go; only masses go nowhere.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(path)
    root.only(("marks", "views"))
    marks = root.table("marks")
    marks.only(known.measurements)
    views = {name: _view(view) for name, view in root.tables("views").items()}
    placed = {
        key: _place(definition, marks.table(key), views)
        for key, definition in known.measurements.items()
        if definition.direction != "mass"
    }
    return Places(MappingProxyType(placed), MappingProxyType(views))


@cache
def places() -> Places:
    """Return the places that ship with the kit."""
    return read_places(Path(__file__).with_name("places.toml"), catalogue())
