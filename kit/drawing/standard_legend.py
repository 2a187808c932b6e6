"""The legend of the picture of a dog against a standard."""

from __future__ import annotations

from kit.drawing.finding_marks import mark
from kit.drawing.lettering import width_of
from kit.drawing.scene import Line, Path, Primitive, Style, Text
from kit.standards.conformity import Outcome

LEGEND_HEIGHT = 84.0
LEFT, RIGHT = 28.0, 1172.0
SIZE = 12.5
_MARKS = (
    ((Outcome.WITHIN,), "within"),
    ((Outcome.PROBABLY_WITHIN,), "probably within"),
    ((Outcome.BELOW, Outcome.ABOVE), "below, above"),
    ((Outcome.PROBABLY_BELOW, Outcome.PROBABLY_ABOVE), "probably below, above"),
    ((Outcome.UNDECIDED,), "undecided"),
    ((Outcome.NOT_MEASURED,), "not measured"),
    ((Outcome.NOT_COMPARABLE,), "not comparable"),
)


def legend(top: float) -> list[Primitive]:
    """Draw what every mark and line means, in two lines."""
    frame = [(LEFT, top), (RIGHT, top), (RIGHT, top + 70), (LEFT, top + 70)]
    parts: list[Primitive] = [Path.polyline(frame, Style("ground"), closed=True)]
    return [*parts, *_marks(top + 22), *_lines(top + 50)]


def _marks(y: float) -> list[Primitive]:
    parts: list[Primitive] = []
    x = LEFT + 20.0
    for outcomes, words in _MARKS:
        for outcome in outcomes:
            parts += mark(outcome, (x, y), 7.0)
            x += 20.0
        parts.append(Text((x - 6.0, y + 4.5), words, SIZE))
        x += width_of(words, SIZE) + 14.0
    return parts


def _lines(y: float) -> list[Primitive]:
    x = LEFT + 13.0
    band = [(x, y - 9), (x + 46, y - 9), (x + 46, y + 9), (x, y + 9)]
    edge, thin = Style(stroke="inside", width=1.4), Style(stroke="quiet_text", width=1.8)
    wedges = [
        Path.polyline([(x + 23, y - way * 3.5), (x + 19, y - way * 9), (x + 27, y - way * 9)],
                      Style("inside"), closed=True)
        for way in (1, -1)
    ]  # fmt: skip
    start, bar = x + 262.0, x + 640.0
    return [
        Path.polyline(band, Style("band"), closed=True),
        Line((x, y - 9), (x, y + 9), edge),
        Line((x + 46, y - 9), (x + 46, y + 9), edge),
        *wedges,
        Text((x + 58, y + 4.5), "range asked, wedges at its target", SIZE),
        Line((start + 36, y), (start + 90, y), thin),
        Line((start + 36, y - 6), (start + 36, y + 6), thin),
        Line((start + 90, y - 6), (start + 90, y + 6), thin),
        Text((start + 102, y + 4.5), "where the true value lies, 95 % sure", SIZE),
        Line((bar, y), (bar + 30, y), Style(stroke="quiet_text", width=7.0)),
        Text((bar + 44, y + 4.5), "one standard uncertainty either way", SIZE),
    ]
