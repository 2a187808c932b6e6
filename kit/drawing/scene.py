"""What a picture shows, without saying how it is put on paper.

Units are CSS pixels (1/96 inch), x to the right, y downwards, the origin in the upper left corner.
Colours are roles of :mod:`kit.drawing.palette`, never codes.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from kit.drawing.palette import PALETTE

Point = tuple[float, float]
ANCHORS = ("start", "middle", "end")
WEIGHTS = ("normal", "bold")


@dataclass(frozen=True)
class Style:
    """How a shape is filled and stroked.

    Attributes
    ----------
    fill, stroke : str
        Palette roles; empty for none.
    width : float
        Stroke width in px.
    dash : tuple of float
        Lengths of strokes and gaps in px; empty for a full line.
    opacity : float
        Of fill and stroke together, 0 to 1.
    """

    fill: str = ""
    stroke: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()
    opacity: float = 1.0

    def __post_init__(self) -> None:
        for role in (self.fill, self.stroke):
            if role and role not in PALETTE:
                raise ValueError(f"no palette role is called '{role}'")


class Segment(NamedTuple):
    """One piece of a path to `end`: straight, or a cubic Bézier curve with both controls given.

    A tuple, because a drawn dog has two thousand of them.
    """

    end: Point
    first: Point | None = None
    second: Point | None = None


@dataclass(frozen=True)
class Path:
    """A run of segments from `start`, closed back to it or left open."""

    start: Point
    segments: tuple[Segment, ...]
    style: Style
    closed: bool = False

    @classmethod
    def polyline(cls, points: Iterable[Point], style: Style, *, closed: bool = False) -> Path:
        """Join points by straight lines."""
        first, *rest = points
        return cls(first, tuple(Segment(point) for point in rest), style, closed)


@dataclass(frozen=True)
class Circle:
    """A circle."""

    centre: Point
    radius: float
    style: Style


@dataclass(frozen=True)
class Line:
    """A straight line."""

    start: Point
    end: Point
    style: Style


@dataclass(frozen=True)
class Text:
    """One line of text.

    Attributes
    ----------
    at : (float, float)
        Where its baseline starts, is centred or ends, by `anchor`.
    size : float
        Font size in px.
    rotation : float
        Degrees counter-clockwise about `at`.
    halo : str
        Palette role of an outline that keeps the text legible over lines; empty for none.
    """

    at: Point
    content: str
    size: float = 12.0
    role: str = "text"
    anchor: str = "start"
    weight: str = "normal"
    rotation: float = 0.0
    halo: str = ""

    def __post_init__(self) -> None:
        if self.anchor not in ANCHORS or self.weight not in WEIGHTS:
            raise ValueError(f"anchor one of {ANCHORS}, weight one of {WEIGHTS}")
        for role in (self.role, self.halo):
            if role and role not in PALETTE:
                raise ValueError(f"no palette role is called '{role}'")


@dataclass(frozen=True)
class Group:
    """Primitives drawn together, seen only inside `clip` where one is given."""

    primitives: tuple[Primitive, ...]
    clip: Path | None = None


Primitive = Path | Circle | Line | Text | Group


@dataclass(frozen=True)
class Scene:
    """A whole picture.

    Attributes
    ----------
    width, height : float
        In px.
    primitives : tuple
        Painted in order, later ones over earlier ones.
    title, description : str
        Read out by screen readers; the description says what there is to see.
    """

    width: float
    height: float
    primitives: tuple[Primitive, ...]
    title: str = ""
    description: str = ""
    background: str = field(default="paper")
