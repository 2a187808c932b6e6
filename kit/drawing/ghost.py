"""A second dog laid over the first as a ghost: what differs is seen, not read.

It passes through the same machinery as the dog itself. Blue dashes over a pale halo stay apart from
the warm, full lines of the dog in colour and in grey.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from kit.drawing.layout import Layout
from kit.drawing.lettering import shortened, width_of
from kit.drawing.outline import Form
from kit.drawing.scene import Circle, Line, Point, Primitive, Style, Text
from kit.drawing.shading import path
from kit.quantities.errors import GeometryError

ALIGNED = ("withers", "elbow", "point_of_buttock")
# Joint to joint, as the angles are taken.
CHAINS = (
    ("blade_top", "point_of_shoulder", "elbow", "wrist", "front_pastern_bottom", "front_toe"),
    ("point_of_hip", "point_of_buttock"),
    (
        "point_of_hip", "hip_joint", "stifle", "hock_joint", "rear_pastern_bottom", "rear_toe",
    ),
)  # fmt: skip
DASH = (9.0, 5.0)
OUTLINE = Style("", "plumb", 2.2, DASH)
BONE = Style("", "plumb", 1.5, (4.0, 3.0))
HALO = Style("", "white", 4.4, opacity=0.75)
VEIL = Style("inside", opacity=0.16)
LABEL_SIZE, SAMPLE = 12.0, 34.0  # px


def aligned(form: Form, ghost: Form, layout: Layout, align: str = "withers") -> Layout:
    """Return where the ghost stands: both dogs' points `align` above each other, feet on one floor.

    Raises
    ------
    GeometryError
        If `align` is none of ALIGNED.
    """
    if align not in ALIGNED:
        raise GeometryError("the ghost cannot be aligned", "one of " + ", ".join(ALIGNED), align)
    shift = (form.points[align][0] - ghost.points[align][0]) * layout.scale
    return replace(layout, origin=(layout.origin[0] + shift, layout.origin[1]))


def veil(ghost: Form, layout: Layout) -> Iterator[Primitive]:
    """Yield the ghost's body, to be painted behind the dog."""
    yield path(ghost.shape("outline"), layout, VEIL, closed=True)


def over(ghost: Form, layout: Layout, *, bones: bool = True) -> Iterator[Primitive]:
    """Yield the ghost's outline and joints, to be painted over the dog."""
    line = path(ghost.shape("outline"), layout, HALO, closed=True)
    yield line
    yield replace(line, style=OUTLINE)
    for chain in CHAINS if bones else ():
        yield from _chain([layout.at(ghost.points[name]) for name in chain])


def _chain(places: list[Point]) -> Iterator[Primitive]:
    for start, end in pairwise(places):
        yield Line(start, end, replace(HALO, width=3.0))
        yield Line(start, end, BONE)
    for place in places:
        yield Circle(place, 2.8, Style("white", "plumb", 1.3))


def legend(label: str, at: Point, room: float) -> tuple[tuple[Primitive, ...], float]:
    """Return the line that says what the dashes are, and its width in px."""
    said = shortened(label, LABEL_SIZE, room - SAMPLE - 8)
    sample = Line((at[0], at[1] - 4), (at[0] + SAMPLE, at[1] - 4), OUTLINE)
    text = Text((at[0] + SAMPLE + 8, at[1]), said, LABEL_SIZE, "plumb")
    return (sample, text), SAMPLE + 8 + width_of(said, LABEL_SIZE)
