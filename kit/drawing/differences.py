"""Pairs of dogs in one trait: how far apart they are, and whether that is more than error."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing.scene import Circle, Line, Primitive, Scene, Style, Text
from kit.quantities.formatting import SUFFIX, decimals_for, number
from kit.standards.comparison import Difference

WIDTH, ROW, HEAD, FOOT = 1000.0, 38.0, 66.0, 20.0
EDGE = 24.0
LEFT, RIGHT = 250.0, 610.0  # px, ends of the axis
FIGURE, WORD = 640.0, 800.0  # px, where the columns on the right begin
TOLD, NOT_TOLD = "told apart", "cannot be told apart"


def differences(pairs: Sequence[Difference]) -> Scene:
    """Draw every pair with its 95 % interval on one axis; the dog named first has more."""
    reach = max((max(abs(pair.low95), abs(pair.high95)) for pair in pairs), default=1.0) or 1.0
    height = HEAD + ROW * len(pairs) + FOOT
    parts: list[Primitive] = [*_head(pairs), *_zero(reach, len(pairs))]
    for index, pair in enumerate(pairs):
        parts += _row(pair, reach, HEAD + ROW * index)
    said = "; ".join(f"{p.first} and {p.second} {_word(p)}" for p in pairs)
    return Scene(WIDTH, height, tuple(parts), "Pairs of dogs", said)


def _head(pairs: Sequence[Difference]) -> list[Primitive]:
    if not pairs:
        return [Text((EDGE, 34.0), "Choose two dogs or more.", 16.0)]
    title = pairs[0].trait.title
    told = sum(pair.can_be_told for pair in pairs)
    return [
        Text((EDGE, 30.0), title[:1].upper() + title[1:], 18.0, weight="bold"),
        Text((EDGE, 52.0), f"{told} of {len(pairs)} pairs can be told apart", 13.5, "quiet_text"),
        Text(((LEFT + RIGHT) / 2, 52.0), "no difference", 12.0, "quiet_text", "middle"),
    ]


def _zero(reach: float, rows: int) -> list[Primitive]:
    x = _x(0.0, reach)
    return [Line((x, HEAD - 6.0), (x, HEAD + ROW * rows), Style("", "ink", 1.4))] if rows else []


def _x(value: float, reach: float) -> float:
    return (LEFT + RIGHT) / 2.0 + (RIGHT - LEFT) / 2.0 * value / reach


def _row(pair: Difference, reach: float, top: float) -> list[Primitive]:
    y = top + ROW / 2.0
    role = "outside" if pair.can_be_told else "unsure"
    low, high = _x(pair.low95, reach), _x(pair.high95, reach)
    return [
        Line((EDGE, top + ROW), (WIDTH - EDGE, top + ROW), Style("", "hairline", 0.8)),
        Text((EDGE, y + 5.0), f"{pair.first} and {pair.second}", 15.0),
        Line((low, y), (high, y), Style("", role, 4.0)),
        Circle((_x(pair.value, reach), y), 5.0, Style("white", role, 2.2)),
        Text((FIGURE, y + 5.0), _figure(pair), 14.0, weight="bold"),
        Text((WORD, y + 5.0), _word(pair), 14.0, role if pair.can_be_told else "quiet_text"),
    ]


def _word(pair: Difference) -> str:
    return TOLD if pair.can_be_told else NOT_TOLD


def _figure(pair: Difference) -> str:
    kind = pair.trait.kind
    half = (pair.high95 - pair.low95) / 2.0
    decimals = decimals_for(pair.uncertainty, kind)
    unit = SUFFIX[kind]
    return f"{number(pair.value, decimals)}{unit} ± {number(half, decimals)}{unit}"
