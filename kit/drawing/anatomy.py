"""The drawn dog as data: pins on the neutral template, each tied to lines of the figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.figure.template import Point, template
from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml

THICKNESSES = ("head", "skull", "muzzle", "neck", "trunk", "bone", "thigh", "foot", "size")

RULES = ("under", "over", "clear_heel", "clear_toes")


@dataclass(frozen=True)
class Frame:
    """A line between two points; `thickness` names the scale of distances from it."""

    start: str
    end: str
    thickness: str


@dataclass(frozen=True)
class Pin:
    """A point of the drawing on the neutral template, shared by one or two frames.

    `at` is in parts of the height at withers; `share` is the weight of `second`, 0 to 1. `only`
    is one of RULES for a pin left out where it would spoil the line; else empty.
    """

    at: Point
    first: str
    second: str
    share: float
    only: str = ""


@dataclass(frozen=True)
class Bone:
    """A bone between two points, by half-widths along it.

    Attributes
    ----------
    ends : (str, str)
        The points it runs between.
    profile : tuple of (float, float, float)
        Place along the bone as a part of its length, half-width to the left and to the right of
        the line, in parts of the height at withers.
    ridge : tuple of (float, float)
        A line on it: place along the bone, distance to the left.
    thickness : str
        The scale of its half-widths, one of THICKNESSES.
    """

    ends: tuple[str, str]
    profile: tuple[tuple[float, ...], ...]
    ridge: tuple[tuple[float, ...], ...]
    thickness: str


@dataclass(frozen=True)
class Shape:
    """A named line of the drawing through pins, moved by `shift` in parts of the dog's size."""

    pins: tuple[Pin, ...]
    closed: bool
    shift: Point


@dataclass(frozen=True)
class Anatomy:
    """Everything the drawing knows of a dog's form.

    Attributes
    ----------
    frames : Mapping of str to Frame
    points : Mapping of str to Pin
        Helping points, in the order in which they are placed.
    shapes : Mapping of str to Shape
    bones : Mapping of str to Bone
        In the order they are painted.
    """

    frames: Mapping[str, Frame]
    points: Mapping[str, Pin]
    shapes: Mapping[str, Shape]
    bones: Mapping[str, Bone]


def _frame(table: Table, key: str) -> Frame:
    texts = table.texts(key)
    if len(texts) != 3 or texts[2] not in THICKNESSES:
        raise table.fault(key, "[from, to, one of " + ", ".join(THICKNESSES) + "]", texts)
    return Frame(*texts)


def _pin(table: Table, key: str, row: object, frames: Mapping[str, Frame]) -> Pin:
    only = ""
    if isinstance(row, list) and row and row[-1] in RULES:
        *row, only = row
    if not isinstance(row, list) or len(row) not in (3, 5):
        raise table.fault(key, "rows [x, y, frame] or [x, y, frame, frame, share]", row)
    first, second, share = row[2], row[2], 0.0
    if len(row) == 5:
        second, share = row[3], float(row[4])
    for name in (first, second):
        if name not in frames:
            raise table.fault(key, "names of [frames]", name)
    return Pin((float(row[0]), float(row[1])), first, second, share, only)


def _rows(table: Table, key: str, width: int) -> tuple[tuple[float, ...], ...]:
    rows = table.content.get(key, [])
    if not isinstance(rows, list) or any(len(row) != width for row in rows):
        raise table.fault(key, f"rows of {width} numbers", rows)
    return tuple(tuple(float(number) for number in row) for row in rows)


def _bone(table: Table) -> Bone:
    table.only(("ends", "profile", "ridge", "thickness"))
    ends = table.texts("ends")
    if len(ends) != 2 or not set(ends) <= set(template().points):
        raise table.fault("ends", "two points of the figure", ends)
    return Bone(
        (ends[0], ends[1]),
        _rows(table, "profile", 3),
        _rows(table, "ridge", 2),
        table.choice("thickness", THICKNESSES, "bone"),
    )


def _shape(table: Table, frames: Mapping[str, Frame]) -> Shape:
    table.only(("closed", "shift", "pins"))
    rows = table.content.get("pins", [])
    if not isinstance(rows, list) or len(rows) < 2:
        raise table.fault("pins", "at least two rows", rows)
    pins = tuple(_pin(table, "pins", row, frames) for row in rows)
    shift = table.content.get("shift", [0.0, 0.0])
    return Shape(pins, table.flag("closed"), (float(shift[0]), float(shift[1])))


def _check_frames(anatomy: Anatomy, where: str) -> None:
    known = {**template().points, **anatomy.points}
    for key, frame in anatomy.frames.items():
        for name in (frame.start, frame.end):
            if name not in known:
                raise DataFileError(f"{where}, table [frames], key '{key}'", "known points", name)


def read_anatomy(path: Path) -> Anatomy:
    """Read an anatomy file.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    table = read_toml(path)
    table.only(("frames", "points", "shapes", "bones"))
    lines = table.table("frames")
    frames = {key: _frame(lines, key) for key in lines.content}
    helping = table.table("points")
    points = {key: _pin(helping, key, row, frames) for key, row in helping.content.items()}
    shapes = {key: _shape(part, frames) for key, part in table.tables("shapes").items()}
    bones = {key: _bone(part) for key, part in table.tables("bones").items()}
    anatomy = Anatomy(
        MappingProxyType(frames),
        MappingProxyType(points),
        MappingProxyType(shapes),
        MappingProxyType(bones),
    )
    _check_frames(anatomy, path.name)
    return anatomy


@cache
def anatomy() -> Anatomy:
    """Return the anatomy that ships with the kit."""
    return read_anatomy(Path(__file__).with_name("anatomy.toml"))
