"""One mark for each finding. Shape says which, filling says how sure; colour only repeats it.

A disc is within. An arrowhead is outside and points the way the value lies. Filled is decided, open
is probable. A half-filled diamond is undecided. A broken ring was not measured; a struck square was
measured by another definition.
"""

from __future__ import annotations

from kit.drawing.scene import Circle, Line, Path, Point, Primitive, Style
from kit.standards.conformity import Outcome

PROBABLE = (Outcome.PROBABLY_WITHIN, Outcome.PROBABLY_BELOW, Outcome.PROBABLY_ABOVE)
_INSIDE = (Outcome.WITHIN, Outcome.PROBABLY_WITHIN)
_BELOW = (Outcome.BELOW, Outcome.PROBABLY_BELOW)
_ABOVE = (Outcome.ABOVE, Outcome.PROBABLY_ABOVE)
_NOTHING = (Outcome.NOT_MEASURED, Outcome.NOT_COMPARABLE)


def role_of(outcome: Outcome) -> str:
    """Return the palette role of a finding."""
    if outcome in _INSIDE:
        return "inside"
    if outcome in _BELOW + _ABOVE:
        return "outside"
    return "unsure" if outcome in _NOTHING else "quiet_text"


def mark(outcome: Outcome, centre: Point, radius: float) -> tuple[Primitive, ...]:
    """Draw the mark of a finding about `centre`; `radius` in px."""
    role = role_of(outcome)
    style = Style("white" if outcome in PROBABLE else role, role, radius / 3.2)
    if outcome in _INSIDE:
        return (Circle(centre, radius * 0.92, style),)
    if outcome in _BELOW + _ABOVE:
        return (_arrowhead(centre, radius, -1.0 if outcome in _BELOW else 1.0, style),)
    if outcome is Outcome.UNDECIDED:
        return _diamond(centre, radius * 1.15, Style("white", role, radius / 3.6))
    return _nothing(outcome, centre, radius, Style("white", role, radius / 4.0))


def _arrowhead(centre: Point, radius: float, way: float, style: Style) -> Path:
    x, y = centre
    tip, back = (x + way * radius * 1.1, y), x - way * radius * 0.75
    return Path.polyline([tip, (back, y - radius), (back, y + radius)], style, closed=True)


def _diamond(centre: Point, radius: float, style: Style) -> tuple[Primitive, ...]:
    x, y = centre
    top, right, bottom, left = (x, y - radius), (x + radius, y), (x, y + radius), (x - radius, y)
    half = Style(style.stroke, style.stroke, style.width)
    return (
        Path.polyline([top, right, bottom, left], style, closed=True),
        Path.polyline([top, bottom, left], half, closed=True),
    )


def _nothing(outcome: Outcome, centre: Point, radius: float, style: Style) -> tuple[Primitive, ...]:
    x, y = centre
    if outcome is Outcome.NOT_MEASURED:
        broken = Style(style.fill, style.stroke, style.width, (radius * 0.45, radius * 0.55))
        return (Circle(centre, radius * 0.9, broken),)
    side = radius * 0.8
    left, right, top, bottom = x - side, x + side, y - side, y + side
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    strike = Line((x - side * 1.3, y + side * 1.3), (x + side * 1.3, y - side * 1.3), style)
    return (Path.polyline(corners, style, closed=True), strike)
