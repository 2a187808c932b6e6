"""How proportions change with age, the grown dog's range faded in towards adult age."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from statistics import median

from kit.drawing.growth_axes import DAYS_PER_WEEK, Axes, grid
from kit.drawing.lettering import broken, width_of
from kit.drawing.scene import Circle, Group, Line, Path, Primitive, Scene, Style, Text
from kit.growth.proportions import ADULT_ONLY, AdultRange, ProportionPoint
from kit.quantities.formatting import number
from kit.quantities.kinds import Kind
from kit.traits.declarations import trait

WIDTH, EDGE = 1200.0, 28.0
PANEL, HEAD, GAP, TITLE, FOOT = 210.0, 104.0, 34.0, 34.0, 36.0
NAMES = 150.0  # px kept at the right for the puppies' names
FADES = 24
MARKS = ("circle", "square", "diamond", "triangle", "ring", "cross", "dot", "plus", "open diamond",
         "open triangle", "full square", "bar")  # fmt: skip
_SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
_DIAMOND = ((0.0, -1.4), (1.4, 0.0), (0.0, 1.4), (-1.4, 0.0))
_TRIANGLE = ((0.0, -1.3), (1.25, 1.0), (-1.25, 1.0))
_HOLLOW = Style("white", "text", 1.5)
CORNERS: Mapping[str, tuple[Sequence[tuple[float, float]], Style]] = {
    "square": (_SQUARE, _HOLLOW), "diamond": (_DIAMOND, Style("inside")),
    "triangle": (_TRIANGLE, Style("outside")), "open diamond": (_DIAMOND, _HOLLOW),
    "open triangle": (_TRIANGLE, _HOLLOW), "full square": (_SQUARE, Style("quiet_text")),
}  # fmt: skip
STROKES: Mapping[str, Sequence[tuple[float, float, float, float]]] = {
    "cross": ((-1.0, -1.0, 1.0, 1.0), (-1.0, 1.0, 1.0, -1.0)),
    "plus": ((-1.2, 0.0, 1.2, 0.0), (0.0, -1.2, 0.0, 1.2)),
    "bar": ((-1.2, 0.0, 1.2, 0.0),),
}
ROOM = 0.12  # part of the range of values kept free above and below


def proportions_with_age(
    points: Sequence[ProportionPoint], ranges: Mapping[str, AdultRange]
) -> Scene:
    """Draw one panel a proportion, every puppy with its own mark."""
    shown = list(dict.fromkeys(point.trait for point in points))
    dogs = list(dict.fromkeys(point.dog for point in points))
    last = max(point.age for point in points)
    end = max([last * 1.04, *(one.from_days * 1.04 for one in ranges.values() if shown)])
    lines = broken(ADULT_ONLY, 13, WIDTH - 2 * EDGE)
    parts: list[Primitive] = [Text((EDGE, 38), "Proportions as they grow", 24, weight="bold")]
    parts += [Text((EDGE, 62 + 17 * at), line, 13, "quiet_text") for at, line in enumerate(lines)]
    top = HEAD
    for key in shown:
        own = [point for point in points if point.trait == key]
        parts += _panel(key, own, dogs, ranges.get(key), top, end)
        top += TITLE + PANEL + FOOT + GAP
    said = f"{len(shown)} proportions of {len(dogs)} puppies, to day {last}"
    return Scene(WIDTH, top, tuple(parts), "Proportions as they grow", said, "white")


def _panel(
    key: str,
    points: Sequence[ProportionPoint],
    dogs: Sequence[str],
    adult: AdultRange | None,
    top: float,
    end: float,
) -> Iterator[Primitive]:
    axes = Axes(EDGE + 52, top + TITLE, WIDTH - 2 * EDGE - 52 - NAMES, PANEL, (0.0, end),
                _sizes(points, adult))  # fmt: skip
    title = trait(key).title
    yield Text((EDGE, top + 20), f"{title[:1].upper()}{title[1:]}", 16, weight="bold")
    if adult is not None:
        yield Group(tuple(_faded(axes, adult)), axes.box)
    yield from grid(axes, Kind.RATIO, weeks=12)
    yield Text((axes.right, axes.bottom + 32), "Age in weeks", 11, "quiet_text", "end")
    for at, dog in enumerate(dogs):
        own = [point for point in points if point.dog == dog]
        yield from _dog(axes, own, at)
    yield from _middle(axes, points)
    unsure = median((point.high - point.low) / 2 for point in points)
    heading = f"{title[:1].upper()}{title[1:]}"
    told = (
        f"one day’s measuring carries about ± {number(unsure, 2)} (95 %); line: the litter’s middle"
    )
    left = EDGE + width_of(heading, 16, "bold") + 14
    yield Text((left, top + 20), told, 12.5, "quiet_text")
    yield from _legend(dogs, axes)
    if adult is not None:
        yield from _asked(axes, adult)


def _sizes(points: Sequence[ProportionPoint], adult: AdultRange | None) -> tuple[float, float]:
    values = [point.value for point in points]
    if adult is not None:
        values += [limit for limit in (adult.low, adult.high) if limit is not None]
    room = ROOM * (max(values) - min(values) or 0.1)
    return min(values) - room, max(values) + room


def _faded(axes: Axes, adult: AdultRange) -> Iterator[Primitive]:
    """Draw the adult range, from nothing at birth to full at the age the clauses begin."""
    low = axes.y(adult.low) if adult.low is not None else axes.bottom
    high = axes.y(adult.high) if adult.high is not None else axes.top
    full = axes.x(min(adult.from_days, axes.ages[1]))
    step = (full - axes.left) / FADES
    for at in range(FADES):
        left = axes.left + at * step
        opacity = ((at + 1) / FADES) ** 2
        yield _block(left, left + step, high, low, opacity)
    yield _block(full, axes.right, high, low, 1.0)


def _block(left: float, right: float, top: float, bottom: float, opacity: float) -> Path:
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    return Path.polyline(corners, Style("band", opacity=opacity), closed=True)


def _asked(axes: Axes, adult: AdultRange) -> Iterator[Primitive]:
    x = axes.x(adult.from_days)
    if x > axes.right:
        return
    yield Line((x, axes.top), (x, axes.bottom), Style(stroke="inside", width=1.2, dash=(4, 4)))
    weeks = adult.from_days / DAYS_PER_WEEK
    yield Text((x - 6, axes.top + 14), f"grown dog, from {weeks:.0f} weeks", 11.5, "inside",
               "end", halo="white")  # fmt: skip


def _dog(axes: Axes, points: Sequence[ProportionPoint], at: int) -> Iterator[Primitive]:
    thin = Style(stroke="hairline", width=1.2)
    if len(points) > 1:
        yield Path.polyline([axes.at(point.age, point.value) for point in points], thin)
    for point in points:
        yield from mark_of(at, axes.at(point.age, point.value))


def _middle(axes: Axes, points: Sequence[ProportionPoint]) -> Iterator[Primitive]:
    """Draw the litter's middle on each day at least half of it was measured."""
    by_age: dict[int, list[float]] = {}
    for point in points:
        by_age.setdefault(point.age, []).append(point.value)
    enough = max(len(values) for values in by_age.values()) / 2
    middle = [axes.at(age, median(values)) for age, values in sorted(by_age.items())
              if len(values) >= enough]  # fmt: skip
    if len(middle) > 1:
        yield Path.polyline(middle, Style(stroke="inside", width=2.6, opacity=0.85))


def mark_of(at: int, centre: tuple[float, float], radius: float = 4.2) -> Iterator[Primitive]:
    """Draw the mark of the puppy at this place: shapes, so that grey print tells them apart."""
    x, y = centre
    name = MARKS[at % len(MARKS)]
    if name == "circle":
        yield Circle(centre, radius, Style("text"))
    elif name == "ring":
        yield Circle(centre, radius, _HOLLOW)
    elif name == "dot":
        yield Circle(centre, radius * 0.6, Style("text"))
    elif name in STROKES:
        for a, b, c, d in STROKES[name]:
            start, end = (x + radius * a, y + radius * b), (x + radius * c, y + radius * d)
            yield Line(start, end, Style(stroke="text", width=2.0))
    else:
        places, style = CORNERS[name]
        corners = [(x + radius * a, y + radius * b) for a, b in places]
        yield Path.polyline(corners, style, closed=True)


def _legend(dogs: Sequence[str], axes: Axes) -> Iterator[Primitive]:
    step = min(24.0, (axes.height + FOOT) / len(dogs))
    for at, dog in enumerate(dogs):
        y = axes.top + 12 + at * step
        yield from mark_of(at, (axes.right + 26, y))
        yield Text((axes.right + 40, y + 4.5), dog, 12.5)
