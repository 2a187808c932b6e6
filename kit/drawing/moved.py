"""A picture put elsewhere, so that several fit into one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from kit.drawing.scene import Circle, Group, Line, Path, Point, Primitive, Segment, Text


def moved(primitives: Iterable[Primitive], by: Point) -> Iterator[Primitive]:
    """Shift primitives by (x, y) px. What shares its line before shares it afterwards."""
    mover = _Mover(by, {})
    for primitive in primitives:
        yield mover.move(primitive)


class _Mover:
    def __init__(self, by: Point, lines: dict[int, tuple[Segment, ...]]) -> None:
        self.by = by
        self.lines = lines

    def at(self, point: Point) -> Point:
        return point[0] + self.by[0], point[1] + self.by[1]

    def move(self, primitive: Primitive) -> Primitive:
        if isinstance(primitive, Group):
            clip = None if primitive.clip is None else self.path(primitive.clip)
            return Group(tuple(self.move(part) for part in primitive.primitives), clip)
        if isinstance(primitive, Path):
            return self.path(primitive)
        if isinstance(primitive, Circle):
            return replace(primitive, centre=self.at(primitive.centre))
        if isinstance(primitive, Line):
            return replace(primitive, start=self.at(primitive.start), end=self.at(primitive.end))
        assert isinstance(primitive, Text)  # noqa: S101  (the only kind left)
        return replace(primitive, at=self.at(primitive.at))

    def path(self, path: Path) -> Path:
        key = id(path.segments)
        if key not in self.lines:
            self.lines[key] = tuple(self._segment(piece) for piece in path.segments)
        return replace(path, start=self.at(path.start), segments=self.lines[key])

    def _segment(self, piece: Segment) -> Segment:
        if piece.first is None or piece.second is None:
            return Segment(self.at(piece.end))
        return Segment(self.at(piece.end), self.at(piece.first), self.at(piece.second))
