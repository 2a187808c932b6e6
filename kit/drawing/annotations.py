"""What is drawn about the dog: floor and scale, plumb lines, angles with their limits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, ceil, cos, hypot, pi, sin

from kit.drawing.layout import Layout
from kit.drawing.outline import Form
from kit.drawing.scene import Circle, Line, Path, Primitive, Segment, Style, Text
from kit.figure.template import Point

COVERAGE = 1.96  # 95 % of a normal distribution
HAIR = Style("", "hairline", 0.8)
STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)  # cm between numbers on the scales
LEAST_STEP = 34.0  # px


@dataclass(frozen=True)
class AngleMark:
    """How one angle is shown.

    Attributes
    ----------
    title : str
    points : tuple of str
        Three points (vertex second), or two for a slope: vertex, then the other end.
    spot : (float, float)
        Where the label stands from the vertex, in parts of the dog's size.
    """

    title: str
    points: tuple[str, ...]
    spot: Point


ANGLES = {
    "shoulder_angle": AngleMark(
        "shoulder", ("blade_top", "point_of_shoulder", "elbow"), (0.22, -0.03)
    ),
    "elbow_angle": AngleMark("elbow", ("point_of_shoulder", "elbow", "wrist"), (0.27, -0.10)),
    "hip_angle": AngleMark("hip", ("point_of_hip", "hip_joint", "stifle"), (-0.30, -0.32)),
    "stifle_angle": AngleMark("stifle", ("hip_joint", "stifle", "hock_joint"), (0.13, -0.13)),
    "hock_angle": AngleMark(
        "hock", ("stifle", "hock_joint", "rear_pastern_bottom"), (-0.17, -0.05)
    ),
    "blade_slope": AngleMark("blade slope", ("point_of_shoulder", "blade_top"), (0.22, 0.14)),
    "upper_arm_slope": AngleMark("upper arm slope", ("elbow", "point_of_shoulder"), (0.34, 0.02)),
    "croup_slope": AngleMark("croup slope", ("point_of_buttock", "point_of_hip"), (-0.10, 0.27)),
}


def floor(layout: Layout) -> Iterator[Primitive]:
    """Yield the ground, faint height lines and a scale in cm that starts at the hindmost point."""
    y, bottom = layout.origin[1], layout.height
    ground = ((0.0, y), (layout.width, y), (layout.width, bottom), (0.0, bottom))
    yield Path.polyline(ground, Style("ground"), closed=True)
    yield from _heights(layout, step_of(layout))
    yield Line((0.0, y), (layout.width, y), Style("", "floor", 1.4))
    yield from ruler(layout)


def step_of(layout: Layout) -> float:
    """Return the cm between two numbers on the scales."""
    return next((step for step in STEPS if step * layout.scale >= LEAST_STEP), STEPS[-1])


def ruler(layout: Layout, *, beyond: bool = True) -> Iterator[Primitive]:
    """Yield the scale in cm under one dog, from its hindmost point to its foremost or beyond."""
    y, step = layout.origin[1], step_of(layout)
    first, last = layout.reach
    steps = (last - first) / step
    for number in range(ceil(steps) * 5 + 1 if beyond else int(steps * 5) + 1):
        x = layout.origin[0] + (first + number * step / 5) * layout.scale
        tall = 8.0 if number % 5 == 0 else 4.0
        yield Line((x, y), (x, y + tall), Style("", "floor", 1.0))
        if number % 5 == 0:
            yield Text((x, y + 21.0), f"{number // 5 * step:g}", 10.5, "quiet_text", "middle")


def _heights(layout: Layout, step: float) -> Iterator[Primitive]:
    for number in range(1, int(layout.top / step) + 1):
        y = layout.origin[1] - number * step * layout.scale
        yield Line((44.0, y), (layout.width - 20.0, y), HAIR)
        yield Text((38.0, y + 3.5), f"{number * step:g}", 10.0, "quiet_text", "end")
    yield Text((38.0, layout.origin[1] - 4.0), "cm", 10.0, "quiet_text", "end")


def plumb_lines(form: Form, layout: Layout) -> Iterator[Primitive]:
    """Yield the plumb line from the point of buttock, and one down through the withers."""
    bottom = layout.origin[1]
    for key in ("point_of_buttock", "withers"):
        x, y = layout.at(form.points[key])
        yield Line((x, y), (x, bottom - 9.0), Style("", "plumb", 1.2, (7.0, 3.0, 1.5, 3.0)))
        bob = ((x - 3.5, bottom - 10.0), (x + 3.5, bottom - 10.0), (x, bottom - 0.5))
        yield Path.polyline(bob, Style("plumb"), closed=True)
        yield Circle((x, y), 2.6, Style("plumb"))


def angle_marks(
    form: Form, layout: Layout, angles: Mapping[str, tuple[float, float]]
) -> Iterator[Primitive]:
    """Yield an arc, a leader and a label for each angle that has a place on the dog."""
    for key, mark in ANGLES.items():
        if key in angles:
            yield from _angle(form, layout, mark, *angles[key])


def _angle(
    form: Form, layout: Layout, mark: AngleMark, value: float, spread: float
) -> Iterator[Primitive]:
    at = [layout.at(form.points[name]) for name in mark.points]
    size = form.figure.size * layout.scale
    vertex, arms = _opened(at, size)
    dash = (3.0, 3.0) if len(at) == 2 else ()
    for arm, reach in zip(arms, (0.16 * size, size), strict=True):
        long = 0.62 * hypot(arm[0] - vertex[0], arm[1] - vertex[1])
        yield _ray(vertex, arm, min(long, reach) if dash else long, dash)
    yield _arc(vertex, arms, 0.07 * size)
    yield from _label(vertex, mark, size, f"{value:.0f}° ± {COVERAGE * spread:.0f}°")


def _opened(at: list[Point], size: float) -> tuple[Point, tuple[Point, Point]]:
    """Return vertex and arms; a slope opens from the level through its vertex."""
    if len(at) == 3:
        return at[1], (at[0], at[2])
    vertex, end = at
    side = size if end[0] > vertex[0] else -size
    return vertex, ((vertex[0] + side, vertex[1]), end)


def _ray(start: Point, towards: Point, length: float, dash: tuple[float, ...] = ()) -> Line:
    angle = atan2(towards[1] - start[1], towards[0] - start[0])
    end = (start[0] + length * cos(angle), start[1] + length * sin(angle))
    return Line(start, end, Style("", "accent", 1.0, dash))


def _arc(vertex: Point, arms: tuple[Point, Point], radius: float) -> Path:
    """Return the arc between two arms the short way round, as cubic Bézier segments."""
    first, last = (atan2(y - vertex[1], x - vertex[0]) for x, y in arms)
    turn = (last - first + pi) % (2 * pi) - pi
    pieces = max(1, ceil(abs(turn) / (pi / 4)))
    step = turn / pieces
    reach = 4 / 3 * sin(step / 4) / cos(step / 4)
    points = [first + number * step for number in range(pieces + 1)]
    curves = tuple(
        Segment(
            _around(vertex, radius, end),
            _around(vertex, radius, start, reach),
            _around(vertex, radius, end, -reach),
        )
        for start, end in pairwise(points)
    )
    return Path(_around(vertex, radius, first), curves, Style("", "accent", 2.0))


def _around(vertex: Point, radius: float, angle: float, tangent: float = 0.0) -> Point:
    return (
        vertex[0] + radius * (cos(angle) - tangent * sin(angle)),
        vertex[1] + radius * (sin(angle) + tangent * cos(angle)),
    )


def _label(vertex: Point, mark: AngleMark, size: float, text: str) -> Iterator[Primitive]:
    x, y = vertex[0] + mark.spot[0] * size, vertex[1] - mark.spot[1] * size
    anchor = "start" if mark.spot[0] > 0 else "end"
    shift = 5.0 if mark.spot[0] > 0 else -5.0
    yield Line(vertex, (x, y), Style("", "accent", 0.9))
    yield Circle(vertex, 3.2, Style("accent"))
    yield Text((x + shift, y - 3.0), mark.title, 11.5, "quiet_text", anchor, halo="paper")
    yield Text((x + shift, y + 12.0), text, 14.0, "accent", anchor, "bold", halo="paper")
