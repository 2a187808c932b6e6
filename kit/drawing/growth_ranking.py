"""Puppies in order of size, each with its interval; who cannot be told apart is bracketed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kit.drawing.growth_axes import round_steps
from kit.drawing.lettering import shortened
from kit.drawing.scene import Circle, Line, Path, Primitive, Scene, Style, Text
from kit.growth.ranking import Place, listed
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind

WIDTH, EDGE = 1200.0, 28.0
LEFT, RIGHT, WORDS = 230.0, 690.0, 730.0  # px: the axis, and where the words begin
HEAD, ROW, FOOT = 92.0, 44.0, 40.0
RULE = Style(stroke="hairline", width=1.0)


def ranking(places: Sequence[Place], kind: Kind, title: str, note: str) -> Scene:
    """Draw one row a puppy, the largest first."""
    low = min(place.low for place in places)
    high = max(place.high for place in places)
    room = 0.06 * (high - low)
    scale = _Scale(low - room, high + room)
    bottom = HEAD + ROW * len(places)
    parts: list[Primitive] = [
        Text((EDGE, 38), title, 24, weight="bold"),
        Text((EDGE, 62), note, 13, "quiet_text"),
        *_axis(scale, kind, bottom),
    ]
    for at, place in enumerate(places):
        parts += _row(place, kind, scale, HEAD + ROW * at + ROW / 2, len(places))
    said = "; ".join(f"{place.name}: {_words(place, len(places))}" for place in places)
    return Scene(WIDTH, bottom + FOOT, tuple(parts), title, said, "white")


class _Scale:
    def __init__(self, low: float, high: float) -> None:
        self.low, self.high = low, high

    def x(self, value: float) -> float:
        return LEFT + (RIGHT - LEFT) * (value - self.low) / (self.high - self.low)


def _axis(scale: _Scale, kind: Kind, bottom: float) -> Iterator[Primitive]:
    for value in round_steps(scale.low, scale.high, 5):
        x = scale.x(value)
        yield Line((x, HEAD), (x, bottom), RULE)
        shown = f"{value:.2f}".rstrip("0").rstrip(".") + SUFFIX[kind]
        yield Text((x, bottom + 18), shown, 11.5, "quiet_text", "middle")


def _row(place: Place, kind: Kind, scale: _Scale, y: float, count: int) -> Iterator[Primitive]:
    thin = Style(stroke="inside", width=1.8)
    low, high, middle = (scale.x(value) for value in (place.low, place.high, place.value))
    yield Line((EDGE, y + ROW / 2), (WIDTH - EDGE, y + ROW / 2), RULE)
    yield Text((EDGE, y + 6), _number(place), 15, "quiet_text")
    yield Text((EDGE + 62, y + 6), place.name, 16, weight="bold")
    yield Line((low, y), (high, y), Style(stroke="band", width=12.0))
    yield Line((low, y), (high, y), thin)
    for x in (low, high):
        yield Line((x, y - 6), (x, y + 6), thin)
    yield _diamond(middle, y) if place.like else Circle((middle, y), 5.0, Style("inside"))
    decimals = 2 if kind is Kind.MASS and place.value < 5 else 1
    value = f"{number(place.value, decimals)}{SUFFIX[kind]}"
    yield Text((WORDS, y + 5), value, 14, weight="bold")
    words = shortened(_words(place, count), 12.5, WIDTH - EDGE - WORDS - 86)
    yield Text((WORDS + 86, y + 5), words, 12.5, "quiet_text" if place.like else "text")


def _diamond(x: float, y: float) -> Path:
    corners = [(x, y - 6), (x + 6, y), (x, y + 6), (x - 6, y)]
    return Path.polyline(corners, Style("white", "inside", 1.8), closed=True)


def _number(place: Place) -> str:
    return f"{place.place}" if place.best == place.worst else f"{place.best}–{place.worst}"


def _words(place: Place, count: int) -> str:
    if not place.like:
        return "told apart from all others"
    if len(place.like) == count - 1:
        return "cannot be told apart from any other"
    return f"cannot be told apart from {listed(place.like)}"
