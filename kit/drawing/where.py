"""Where one measurement is taken: the neutral dog with its points and its line in colour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from math import atan2, cos, degrees, dist, hypot, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from kit.drawing.lettering import width_of
from kit.drawing.outline import Form
from kit.drawing.places import Place, View, places
from kit.drawing.scene import Circle, Line, Path, Primitive, Scene, Segment, Style, Text
from kit.drawing.spline import bezier
from kit.figure.placement import place as placed
from kit.figure.template import Point, template
from kit.protocol.catalogue import Definition, catalogue

Array = NDArray[np.float64]
Window = tuple[float, float, float, float]

WIDTH, HEIGHT = 480.0, 300.0  # px
EDGE = 12.0  # px kept free around the lettering
# What is shown of each view: left, bottom, right, top, in parts of the height at withers.
WINDOWS: dict[str, Window] = {
    "side": (-0.98, -0.06, 0.92, 1.40),
    "front": (-0.40, -0.05, 0.40, 1.37),
    "rear": (-0.40, -0.05, 0.40, 1.05),
    "top": (-0.92, -0.32, 0.90, 0.32),
    "foot": (-0.85, -0.72, 0.95, 0.84),
}
CLOSE = 0.42  # a side-view measurement no larger than this is shown from nearer
NEAR = 1.12  # width of the nearer window
NEARBY = 0.13  # how far from a landmark a drawn end may lie and still be named after it
COAT, FAR = Style("coat", "contour", 1.4), Style("far_coat", "contour", 1.0)
DETAIL = Style("", "contour", 1.4)
MARK, THIN = Style("", "accent", 3.4), Style("", "accent", 1.6, (5.0, 4.0))
UNDERLAY = Style("", "white", 6.4, opacity=0.75)
HEADS = 9.0  # px, length of an arrowhead
SIZE = 18.0  # px, of the names
FROM_WHERE = {
    "front": "from the front",
    "rear": "from behind",
    "top": "from above, head to the right",
    "foot": "left foot from above",
    "side": "",
}


@dataclass(frozen=True)
class Glass:
    """The window through which a view is seen: parts of the height to px."""

    scale: float
    origin: Point

    @classmethod
    def on(cls, window: Window) -> Glass:
        """Fit a window into the picture, centred."""
        left, bottom, right, top = window
        scale = min(WIDTH / (right - left), HEIGHT / (top - bottom))
        across, up = (left + right) / 2, (bottom + top) / 2
        return cls(scale, (WIDTH / 2 - across * scale, HEIGHT / 2 + up * scale))

    def at(self, point: Point) -> Point:
        """Return one point in px."""
        return self.origin[0] + point[0] * self.scale, self.origin[1] - point[1] * self.scale

    def path(self, segments: Array, style: Style, *, closed: bool) -> Path:
        """Return Bézier segments, shape (segments, 4, 2), as a path."""
        pieces = tuple(
            Segment(self.at((e[0], e[1])), self.at((a[0], a[1])), self.at((b[0], b[1])))
            for _, a, b, e in segments.tolist()
        )
        first = segments[0, 0]
        return Path(self.at((float(first[0]), float(first[1]))), pieces, style, closed)


@cache
def where(measurement: str) -> Scene:
    """Draw where one measurement is taken.

    Parameters
    ----------
    measurement : str
        Key of the catalogue.

    Raises
    ------
    DataFileError
        If the catalogue has no such measurement.
    """
    definition = catalogue().measurement(measurement)
    spot = places().places.get(measurement)
    view = spot.view if spot else "side"
    glass = Glass.on(_window(spot))
    parts = [*_ground(glass, view), *_dog(glass, view)]
    parts += _highlight(glass, spot, definition) if spot else _scales(glass)
    if FROM_WHERE[view]:
        parts.append(Text((EDGE, 28.0), FROM_WHERE[view], 16.0, "quiet_text"))
    title = f"Where to take the {definition.title}"
    return Scene(WIDTH, HEIGHT, tuple(parts), title, definition.how, "white")


def _window(spot: Place | None) -> Window:
    """Show the whole view, or a part of the side view where the measurement is small."""
    if spot is None or spot.view != "side" or spot.shape == "height":
        return WINDOWS[spot.view if spot else "side"]
    xs, ys = [x for x, _ in spot.points], [y for _, y in spot.points]
    if max(max(xs) - min(xs), max(ys) - min(ys)) > CLOSE:
        return WINDOWS["side"]
    high = NEAR * HEIGHT / WIDTH
    left, bottom, right, top = WINDOWS["side"]
    x = _held((max(xs) + min(xs) - NEAR) / 2, left, right - NEAR)
    y = _held((max(ys) + min(ys) - high) / 2, bottom, top - high)
    return x, y, x + NEAR, y + high


def _held(value: float, low: float, high: float) -> float:
    return min(max(value, low), high)


def _ground(glass: Glass, view: str) -> Iterator[Primitive]:
    y = glass.at((0.0, 0.0))[1]
    if view in {"side", "front", "rear"} and y < HEIGHT:
        corners = ((0.0, y), (WIDTH, y), (WIDTH, HEIGHT), (0.0, HEIGHT))
        yield Path.polyline(corners, Style("ground"), closed=True)
        yield Line((0.0, y), (WIDTH, y), Style("", "floor", 1.2))


def _dog(glass: Glass, view: str) -> Iterator[Primitive]:
    if view == "side":
        yield from _from_the_side(glass)
        return
    drawn: View = places().views[view]
    for part in drawn.behind:
        yield glass.path(bezier(np.array(part), closed=True), FAR, closed=True)
    yield glass.path(bezier(np.array(drawn.outline), closed=True), COAT, closed=True)
    for part in drawn.detail:
        yield glass.path(bezier(np.array(part), closed=False), DETAIL, closed=False)


def _from_the_side(glass: Glass) -> Iterator[Primitive]:
    form, height = _neutral()
    for name in ("far_fore", "far_hind"):
        yield glass.path(form.shape(name) / height, FAR, closed=True)
    yield glass.path(form.shape("outline") / height, COAT, closed=True)
    for name in ("shoulder", "arm", "thigh", "elbow", "mouth"):
        yield glass.path(form.shape(name) / height, Style("", "faint_line", 1.2), closed=False)
    yield glass.path(form.shape("ear") / height, Style("ear_coat", "contour", 1.2), closed=True)
    yield glass.path(form.shape("nose") / height, Style("nose"), closed=True)
    yield glass.path(form.shape("eye") / height, Style("eye"), closed=True)


@cache
def _neutral() -> tuple[Form, float]:
    figure = placed({})
    return Form.of(figure), figure.height


def _highlight(glass: Glass, spot: Place, definition: Definition) -> list[Primitive]:
    at = [glass.at(point) for point in spot.points]
    shape = {"height": _height, "girth": _girth, "angle": _angle}.get(spot.shape)
    if spot.shape in {"slope", "lean"}:
        parts = _against(at, upright=spot.shape == "lean")
    else:
        parts = shape(glass, at) if shape else _line(glass, at)
    ends = at if spot.shape == "angle" else [at[0], at[-1]]
    if spot.shape == "height":
        ends = at[:1]
    if spot.shape != "girth":
        parts += [dot for point in ends for dot in _dot(point)]
    return [*parts, *(_names(glass, definition, ends) if spot.view == "side" else ())]


def _line(_glass: Glass, at: list[Point]) -> list[Primitive]:
    if len(at) == 2:
        return [Line(at[0], at[1], UNDERLAY), Line(at[0], at[1], MARK)]
    curve = bezier(np.array(at), closed=False)
    plain = Glass(1.0, (0.0, 0.0))
    flipped = curve * np.array([1.0, -1.0])
    return [plain.path(flipped, look, closed=False) for look in (UNDERLAY, MARK)]


def _height(glass: Glass, at: list[Point]) -> list[Primitive]:
    """Draw a line down to the floor with an arrowhead on it, and the arm of the stand."""
    (x, y), floor = at[0], glass.at((0.0, 0.0))[1]
    tip = [(x, floor), (x - HEADS / 2, floor - HEADS), (x + HEADS / 2, floor - HEADS)]
    return [
        Line((x, y), (x, floor), UNDERLAY),
        Line((x, y), (x, floor - HEADS / 2), MARK),
        Path.polyline(tip, Style("accent"), closed=True),
        Line((x - 26, y), (x + 26, y), Style("", "accent", 2.0)),
    ]


def _girth(_glass: Glass, at: list[Point]) -> list[Primitive]:
    """Draw a tape seen nearly edge-on: the near half full, the far half dashed."""
    (x1, y1), (x2, y2) = at
    half, turn = dist(*at) / 2, atan2(y2 - y1, x2 - x1)
    deep = max(min(half * 0.28, 15.0), 5.0)
    centre = ((x1 + x2) / 2, (y1 + y2) / 2)

    def run(start: float) -> list[Point]:
        angles = [start + pi * step / 24 for step in range(25)]
        return [
            (
                centre[0] + half * cos(a) * cos(turn) - deep * sin(a) * sin(turn),
                centre[1] + half * cos(a) * sin(turn) + deep * sin(a) * cos(turn),
            )
            for a in angles
        ]

    return [
        Path.polyline(run(pi), THIN),
        Path.polyline(run(0.0), UNDERLAY),
        Path.polyline(run(0.0), MARK),
    ]


def _angle(_glass: Glass, at: list[Point]) -> list[Primitive]:
    first, corner, second = at
    start, end = _bearing(corner, first), _bearing(corner, second)
    return [
        Path.polyline(at, UNDERLAY),
        Path.polyline(at, MARK),
        _arc(corner, start, end, 0.36 * min(dist(first, corner), dist(second, corner))),
    ]


def _against(at: list[Point], *, upright: bool) -> list[Primitive]:
    """Draw a line and its angle to a dashed level or upright through its first point."""
    start, end = at
    level = 0.0 if end[0] >= start[0] else pi
    bearing = -pi / 2 if upright else level
    reach = hypot(end[0] - start[0], end[1] - start[1])
    tip = (start[0] + reach * cos(bearing), start[1] + reach * sin(bearing))
    return [
        Line(start, tip, THIN),
        Line(start, end, UNDERLAY),
        Line(start, end, MARK),
        _arc(start, bearing, _bearing(start, end), 0.62 * reach),
    ]


def _bearing(start: Point, end: Point) -> float:
    return atan2(end[1] - start[1], end[0] - start[0])


def _arc(centre: Point, start: float, end: float, radius: float) -> Path:
    """Return the arc between two directions the short way round."""
    turn = (degrees(end - start) + 180.0) % 360.0 - 180.0
    angles = [start + radians(turn) * step / 20 for step in range(21)]
    points = [(centre[0] + radius * cos(a), centre[1] + radius * sin(a)) for a in angles]
    return Path.polyline(points, Style("", "accent", 2.2))


def _dot(point: Point) -> tuple[Primitive, ...]:
    return Circle(point, 6.0, Style("white")), Circle(point, 4.6, Style("accent"))


def _scales(glass: Glass) -> list[Primitive]:
    """Draw the platform of the scales under the feet."""
    (left, y), (right, _) = glass.at((-0.86, 0.0)), glass.at((0.5, 0.0))
    plate = [(left, y - 1), (right, y - 1), (right, y + 9), (left, y + 9)]
    return [Path.polyline(plate, Style("accent"), closed=True)]


def _names(glass: Glass, definition: Definition, ends: list[Point]) -> Iterator[Primitive]:
    """Write the names of the landmarks beside the points that lie on or near them."""
    for point in ends:
        near = [
            key
            for key in definition.landmarks
            if dist(glass.at(template().points[key]), point) < NEARBY * glass.scale
        ]
        if near:
            nearest = min(near, key=lambda key: dist(glass.at(template().points[key]), point))
            others = [end for end in ends if end is not point]
            yield _name(catalogue().landmarks[nearest].title, point, others)


def _name(name: str, point: Point, others: list[Point]) -> Text:
    """Place a name on the side of its point away from the other points, inside the picture."""
    x = sum(other[0] for other in others) / len(others) if others else 0.0
    y = sum(other[1] for other in others) / len(others) if others else HEIGHT
    wide = width_of(name, SIZE) * 1.12
    to_right = point[0] >= x
    left = point[0] + 12 if to_right else point[0] - 11 - wide
    left = _held(left, EDGE, WIDTH - EDGE - wide)
    drop = 22.0 if point[1] > y + 4 else -12.0
    level = _held(point[1] + drop, EDGE + SIZE, HEIGHT - EDGE)
    return Text((left, level), name, SIZE, "text", "start", "bold", halo="white")
