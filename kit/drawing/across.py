"""The breadth of the drawn dog as data: half lines from the front, from behind and from above."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.figure.breadths import neutral_breadths
from kit.figure.template import template
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml

THICKNESSES = ("muzzle", "bone")  # what widens a row besides the breadths
VIEWS = ("front", "rear", "above")


@dataclass(frozen=True)
class Row:
    """A point of a half line.

    Attributes
    ----------
    half, place : float
        Distance from the middle, and height or place along the body, in parts of the height.
    first, second : str
        Breadths it widens with, the second by `share`.
    """

    half: float
    place: float
    first: str
    second: str
    share: float


@dataclass(frozen=True)
class HalfLine:
    """A half line; `one_side` for a closed shape that has a twin on the other side."""

    rows: tuple[Row, ...]
    one_side: bool = False


@dataclass(frozen=True)
class Foot:
    """Which readings place a pair of feet."""

    spread: str
    turnout: str


@dataclass(frozen=True)
class Crotch:
    """Where the legs meet: [part of the way to the middle, rise above a point of the figure]."""

    point: str
    rows: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class View:
    """One direction of looking.

    Attributes
    ----------
    stations : tuple of str
        Points whose coordinates carry the places, in rising order.
    outer, inner : HalfLine
        The silhouette, and the breadth of the leg inwards from it.
    shapes, lines, lit, behind : Mapping of str to HalfLine
        Closed shapes, creases, lit masses, and what is seen behind.
    """

    stations: tuple[str, ...]
    outer: HalfLine
    inner: HalfLine
    crotch: Crotch
    foot: Foot
    shapes: Mapping[str, HalfLine]
    lines: Mapping[str, HalfLine]
    lit: Mapping[str, HalfLine]
    behind: Mapping[str, HalfLine]
    eye: HalfLine


def _row(table: Table, row: object) -> Row:
    if not isinstance(row, list) or len(row) not in (3, 5):
        raise table.fault(
            "rows", "[half, place, breadth] or [half, place, two breadths, share]", row
        )
    names = [str(name) for name in row[2:4]]
    known = (*neutral_breadths().lengths, *THICKNESSES)
    for name in names:
        if name not in known:
            raise table.fault("rows", "breadths of kit/figure/breadths.toml", name)
    share = float(row[4]) if len(row) == 5 else 0.0
    return Row(float(row[0]), float(row[1]), names[0], names[-1], share)


def _line(table: Table) -> HalfLine:
    table.only(("rows", "one_side"))
    rows = table.content.get("rows", [])
    if not isinstance(rows, list):
        raise table.fault("rows", "a list of rows", rows)
    return HalfLine(tuple(_row(table, row) for row in rows), table.flag("one_side"))


def _lines(table: Table, key: str) -> Mapping[str, HalfLine]:
    return MappingProxyType({name: _line(one) for name, one in table.tables(key).items()})


def _crotch(table: Table) -> Crotch:
    table.only(("point", "rows"))
    rows = table.content.get("rows", [])
    return Crotch(table.text("point", ""), tuple((float(a), float(b)) for a, b in rows))


def _foot(table: Table) -> Foot:
    table.only(("spread", "turnout"))
    return Foot(table.text("spread", ""), table.text("turnout", ""))


def _view(table: Table) -> View:
    table.only(("stations", "outer", "inner", "crotch", "foot", "shapes", "lines", "lit", "behind",
                "eye"))  # fmt: skip
    stations = table.texts("stations")
    for name in stations:
        if name not in template().points:
            raise table.fault("stations", "points of the figure", name)
    return View(
        stations,
        _line(table.table("outer")),
        _line(table.table("inner")),
        _crotch(table.table("crotch")),
        _foot(table.table("foot")),
        _lines(table, "shapes"),
        _lines(table, "lines"),
        _lines(table, "lit"),
        _lines(table, "behind"),
        _line(table.table("eye")),
    )


def read_views(path: Path) -> Mapping[str, View]:
    """Read the views ``front``, ``rear``, ``above`` and the ``head`` seen from the front.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(path)
    root.only((*VIEWS, "head"))
    found = {key: _view(root.table(key)) for key in (*VIEWS, "head")}
    for key in VIEWS:
        if len(found[key].outer.rows) < 3:
            raise DataFileError(f"{path.name}, table [{key}.outer], key 'rows'", "an outline")
    return MappingProxyType(found)


@cache
def views() -> Mapping[str, View]:
    """Return the views that ship with the kit."""
    return read_views(Path(__file__).with_name("across.toml"))
