"""Draw the small pictures of the measuring sheet: outline, numbered lines, arcs and girths."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from kit.figure.template import Point
from kit.reports.fonts import BOLD
from kit.reports.sheet_plan import Mark, Picture

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

MM = 72 / 25.4
BODY, FAR, EDGE, LINE = "#efe9df", "#ddd6ca", "#8a8175", "#1d2b3a"
LABEL_RADIUS = 2.0 * MM
CLEARANCE = 2.4 * MM  # from an arc to the number on it


class Pen:
    """Draws in parts of the dog's height at a place on the paper.

    Parameters
    ----------
    canvas : reportlab Canvas
    origin : (float, float)
        Where the lower left corner of the window lies, in points of 1/72 inch.
    """

    def __init__(self, canvas: Canvas, picture: Picture, origin: Point) -> None:
        left, bottom, right, _top = picture.window
        self.canvas = canvas
        self.scale = picture.width * MM / (right - left)
        self.x0, self.y0 = origin[0] - left * self.scale, origin[1] - bottom * self.scale

    def at(self, point: Point) -> Point:
        """Return the place of a point on the paper."""
        return self.x0 + point[0] * self.scale, self.y0 + point[1] * self.scale

    def line(self, points: Sequence[Point]) -> None:
        """Draw straight from point to point."""
        path = self.canvas.beginPath()
        path.moveTo(*self.at(points[0]))
        for point in points[1:]:
            path.lineTo(*self.at(point))
        self.canvas.drawPath(path)

    def smooth(self, points: Sequence[Point], *, fill: bool) -> None:
        """Draw a curve through the points (Catmull-Rom); filled ones are closed."""
        path = self.canvas.beginPath()
        path.moveTo(*self.at(points[0]))
        for start, end, after, before in _neighbours(points, closed=fill):
            first = _towards(start, before, end)
            second = _towards(end, after, start)
            path.curveTo(*self.at(first), *self.at(second), *self.at(end))
        self.canvas.drawPath(path, fill=int(fill), stroke=1)


def _neighbours(
    points: Sequence[Point], *, closed: bool
) -> list[tuple[Point, Point, Point, Point]]:
    """Return (start, end, the one after, the one before) of every stretch."""
    count = len(points)
    if closed:
        return [
            (points[i], points[(i + 1) % count], points[(i + 2) % count], points[i - 1])
            for i in range(count)
        ]
    last = count - 1
    return [
        (points[i], points[i + 1], points[min(i + 2, last)], points[max(i - 1, 0)])
        for i in range(last)
    ]


def _towards(start: Point, before: Point, after: Point) -> Point:
    """Return the control point that leaves `start` along the chord of its neighbours."""
    return start[0] + (after[0] - before[0]) / 6, start[1] + (after[1] - before[1]) / 6


def draw_picture(canvas: Canvas, picture: Picture, x: float, y: float) -> None:
    """Draw one picture with its lower left corner at (x, y), in points of 1/72 inch."""
    pen = Pen(canvas, picture, (x, y))
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(x, y, picture.width * MM, picture.height * MM)
    canvas.clipPath(window, stroke=0, fill=0)
    _outline(pen, picture)
    _marks(pen, picture.marks)
    canvas.restoreState()


def _outline(pen: Pen, picture: Picture) -> None:
    canvas, view = pen.canvas, picture.view
    canvas.setLineWidth(0.6)
    canvas.setStrokeColor(EDGE)
    canvas.setFillColor(FAR)
    for part in view.behind:
        pen.smooth(part, fill=True)
    canvas.setFillColor(BODY)
    pen.smooth(view.outline, fill=True)
    for part in view.detail:
        pen.smooth(part, fill=False)
    if picture.window[1] < 0 <= picture.window[1] + 0.06:
        pen.line([(picture.window[0], 0.0), (picture.window[2], 0.0)])


def _marks(pen: Pen, marks: Sequence[Mark]) -> None:
    canvas = pen.canvas
    canvas.setStrokeColor(LINE)
    canvas.setFillColor(LINE)
    places = []
    for mark in marks:
        canvas.setLineWidth(0.7)
        canvas.setDash()
        places.append(_SHAPES[mark.shape](pen, mark))
    for mark, place in zip(marks, places, strict=True):
        _number(pen, mark.number, place)


def _number(pen: Pen, number: int, place: Point) -> None:
    canvas, (x, y) = pen.canvas, place
    canvas.setDash()
    canvas.setLineWidth(0.5)
    canvas.setFillColor("#ffffff")
    canvas.circle(x, y, LABEL_RADIUS, fill=1)
    canvas.setFillColor(LINE)
    canvas.setFont(BOLD, 6)
    canvas.drawCentredString(x, y - 2.1, str(number))


def _beside(pen: Pen, mark: Mark, target: Point) -> Point:
    """Tie a number that stands aside to its point; return where it goes on the paper."""
    label = mark.label or target
    pen.canvas.setLineWidth(0.35)
    pen.line([target, label])
    return pen.at(label)


def _dot(pen: Pen, point: Point) -> None:
    x, y = pen.at(point)
    pen.canvas.circle(x, y, 1.3, stroke=0, fill=1)


def _line(pen: Pen, mark: Mark) -> Point:
    pen.line(mark.points)
    _dot(pen, mark.points[0])
    _dot(pen, mark.points[-1])
    if len(mark.points) == 2 or mark.label is None:
        return _beside(pen, mark, _nearest(mark))
    return pen.at(mark.label)


def _nearest(mark: Mark) -> Point:
    """Return the point of a line that is nearest to its number, else its middle."""
    (ax, ay), (bx, by) = mark.points[0], mark.points[-1]
    length = (bx - ax) ** 2 + (by - ay) ** 2
    x, y = mark.label or ((ax + bx) / 2, (ay + by) / 2)
    part = min(max(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length, 0.0), 1.0)
    return ax + part * (bx - ax), ay + part * (by - ay)


def _height(pen: Pen, mark: Mark) -> Point:
    top = mark.points[0]
    pen.canvas.setLineWidth(0.45)
    pen.canvas.setDash(1, 1.5)
    pen.line([top, (top[0], 0.0)])
    pen.canvas.setDash()
    _dot(pen, top)
    return _beside(pen, mark, top)


def _arc(pen: Pen, mark: Mark, corner: Point, first: float, second: float) -> Point:
    """Draw the arc between two directions (degrees) the short way round; return its number's place.

    The number stands on the bisector just outside the arc, or at its own place with a leader.
    """
    x, y = pen.at(corner)
    turn = (second - first + 180) % 360 - 180
    r = mark.radius * MM
    pen.canvas.arc(x - r, y - r, x + r, y + r, first, turn)
    middle = math.radians(first + turn / 2)
    across, up = math.cos(middle), math.sin(middle)
    if mark.label is None:
        return x + (r + CLEARANCE) * across, y + (r + CLEARANCE) * up
    place = pen.at(mark.label)
    pen.canvas.setLineWidth(0.35)
    pen.canvas.line(x + r * across, y + r * up, *place)
    return place


def _bearing(start: Point, end: Point) -> float:
    return math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))


def _angle(pen: Pen, mark: Mark) -> Point:
    first, corner, second = mark.points
    pen.line(mark.points)
    for point in mark.points:
        _dot(pen, point)
    return _arc(pen, mark, corner, _bearing(corner, first), _bearing(corner, second))


def _against(pen: Pen, mark: Mark, bearing: float) -> Point:
    """Draw a line and its angle to a dashed one that runs in a fixed direction."""
    start, end = mark.points
    pen.line(mark.points)
    _dot(pen, start)
    _dot(pen, end)
    pen.canvas.setDash(2, 1.5)
    reach = math.dist(start, end)
    direction = math.radians(bearing)
    tip = start[0] + reach * math.cos(direction), start[1] + reach * math.sin(direction)
    pen.line([start, tip])
    pen.canvas.setDash()
    return _arc(pen, mark, start, _bearing(start, end), bearing)


def _slope(pen: Pen, mark: Mark) -> Point:
    start, end = mark.points
    return _against(pen, mark, 0.0 if end[0] >= start[0] else 180.0)


def _lean(pen: Pen, mark: Mark) -> Point:
    return _against(pen, mark, 90.0)


def _girth(pen: Pen, mark: Mark) -> Point:
    """Draw a tape round the body: an ellipse seen nearly edge-on, its far half dashed."""
    start, end = (pen.at(point) for point in mark.points)
    half = math.dist(start, end) / 2
    depth = min(half * 0.3, 2.2 * MM)
    centre = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    canvas = pen.canvas
    canvas.saveState()
    canvas.translate(*centre)
    canvas.rotate(_bearing(start, end))
    canvas.arc(-half, -depth, half, depth, 180, 180)
    canvas.setDash(1, 1.5)
    canvas.arc(-half, -depth, half, depth, 0, 180)
    canvas.restoreState()
    return pen.at(mark.label) if mark.label else centre


_SHAPES = {
    "line": _line,
    "height": _height,
    "angle": _angle,
    "slope": _slope,
    "lean": _lean,
    "girth": _girth,
}
