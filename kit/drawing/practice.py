"""What seeing practice has shown: the curve of one session, and the way over the weeks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from math import log, sqrt

import numpy as np

from kit.drawing.scene import Circle, Line, Path, Primitive, Scene, Style, Text
from kit.teaching.contrasts import Contrast
from kit.teaching.practice import ONE, Result
from kit.teaching.progress import Stage
from kit.teaching.psychometric import Answers
from kit.teaching.words import choices

WIDTH, HEIGHT = 620.0, 400.0
LEFT, RIGHT, TOP, BOTTOM = 74.0, 592.0, 64.0, 330.0
AXIS = Style("", "floor", 1.2)
HAIR = Style("", "hairline", 1.0)
CURVE = Style("", "ink", 2.6)
BAND = Style("band")
POINT = Style("inside", opacity=0.75)
INTERVAL = Style("", "inside", 2.0)


def curve(result: Result, answers: Answers, choice: str = ONE) -> Scene:
    """Draw how often "over" was said at each difference, and the fitted function.

    Parameters
    ----------
    result : Result
    answers : Answers
        What it was fitted to.
    choice : str
        ``one`` or ``two``: what stands on the axes.

    Returns
    -------
    Scene
        The light band is where the learner's own "as asked" lies with 95 % probability.
    """
    one, reach = result.contrast, result.contrast.step
    over = choices(one, choice)[1]
    parts: list[Primitive] = [
        Text((28.0, 34.0), f"How often you said “{over}”", 18.0, weight="bold"),
        *_leaning(result, reach), *_axes(one, reach, choice),
    ]  # fmt: skip
    levels = np.linspace(-reach, reach, 121)
    heights = result.fitted.function(levels)
    line = [(_x(at, reach), _y(p)) for at, p in zip(levels, heights, strict=True)]
    parts.append(Path.polyline(line, CURVE))
    for level, said, shown in zip(answers.levels, answers.over, answers.shown, strict=True):
        size = 2.5 + 2.2 * sqrt(shown)
        parts.append(Circle((_x(level, reach), _y(said / shown)), size, POINT))
    said_all = f"{result.total} answers, {result.right} of them right"
    parts.append(Text((LEFT, HEIGHT - 14.0), f"{said_all}; the larger the dot, the more answers",
                      13.0, "quiet_text"))  # fmt: skip
    return Scene(WIDTH, HEIGHT, tuple(parts), "Practice", said_all)


def _x(level: float, reach: float) -> float:
    return (LEFT + RIGHT) / 2 + level / reach * (RIGHT - LEFT) / 2


def _y(part: float) -> float:
    return BOTTOM - float(part) * (BOTTOM - TOP)


def _leaning(result: Result, reach: float) -> Iterator[Primitive]:
    low, high = (_x(min(max(end, -reach), reach), reach) for end in result.fitted.location95)
    corners = [(low, TOP), (high, TOP), (high, BOTTOM), (low, BOTTOM)]
    yield Path.polyline(corners, BAND, closed=True)


def _axes(one: Contrast, reach: float, choice: str) -> Iterator[Primitive]:
    for part in (0.0, 0.25, 0.5, 0.75, 1.0):
        yield Line((LEFT, _y(part)), (RIGHT, _y(part)), AXIS if part == 0.0 else HAIR)
        yield Text((LEFT - 8.0, _y(part) + 4.5), f"{part:.0%}".replace("%", " %"), 12.0,
                   "quiet_text", "end")  # fmt: skip
    yield Line((_x(0.0, reach), TOP), (_x(0.0, reach), BOTTOM), AXIS)
    middle = "as asked" if choice == ONE else "alike"
    ends = (one.under, one.over) if choice == ONE else ("B has more", "A has more")
    for part, word in ((-1.0, ends[0]), (0.0, middle), (1.0, ends[1])):
        anchor = "start" if part < 0 else "middle" if part == 0 else "end"
        x = LEFT if part < 0 else RIGHT if part > 0 else _x(0.0, reach)
        text = f"{one.amount_text(reach)} {word}" if part and choice == ONE else word
        yield Text((x, BOTTOM + 22.0), text, 13.0, "text", anchor)


def progress(stages: Sequence[Stage], contrast: Contrast) -> Scene:
    """Draw the least difference seen reliably, session by session; below is better."""
    words = f"The least you see reliably in {contrast.title}"
    parts: list[Primitive] = [Text((28.0, 34.0), words, 18.0, weight="bold")]
    if not stages:
        parts.append(Text((28.0, 80.0), "No session yet that can be judged.", 14.0, "quiet_text"))
        return Scene(WIDTH, 120.0, tuple(parts), words, "nothing yet")
    scale = _Logarithmic.of(stages, contrast)
    parts += scale.lines(contrast)
    places = _places(stages)
    points = [(x, scale.y(one.result.fitted.function.reliable))
              for x, one in zip(places, stages, strict=True)]  # fmt: skip
    parts.append(Path.polyline(points, Style("", "ink", 1.6)) if len(points) > 1 else
                 Line(points[0], points[0], HAIR))  # fmt: skip
    for point, one in zip(points, stages, strict=True):
        low, high = one.result.fitted.reliable95
        parts.append(Line((point[0], scale.y(low)), (point[0], scale.y(high)), INTERVAL))
        parts.append(Circle(point, 5.0, Style("white", "ink", 2.2)))
    first, last = (datetime.fromisoformat(one.began) for one in (stages[0], stages[-1]))
    parts.append(Text((places[0], BOTTOM + 24.0), f"{first:%d %b %Y}", 12.5, "quiet_text"))
    if len(stages) > 1:
        parts.append(Text((places[-1], BOTTOM + 24.0), f"{last:%d %b %Y}", 12.5, "quiet_text",
                          "end"))  # fmt: skip
    count = "1 session" if len(stages) == 1 else f"{len(stages)} sessions"
    said = f"{count}; bars are 95 % intervals"
    parts.append(Text((LEFT, HEIGHT - 14.0), said, 13.0, "quiet_text"))
    return Scene(WIDTH, HEIGHT, tuple(parts), words, said)


def _places(stages: Sequence[Stage]) -> list[float]:
    """Return where sessions stand, by their dates."""
    times = [datetime.fromisoformat(one.began).timestamp() for one in stages]
    span = times[-1] - times[0]
    room = RIGHT - LEFT - 40.0
    if span == 0.0:
        return [LEFT + 20.0 + room * n / max(len(times) - 1, 1) for n in range(len(times))]
    return [LEFT + 20.0 + room * (time - times[0]) / span for time in times]


class _Logarithmic:
    """A vertical scale on which twice as much is always as far."""

    def __init__(self, low: float, high: float) -> None:
        self.low, self.high = low, high

    @classmethod
    def of(cls, stages: Sequence[Stage], contrast: Contrast) -> _Logarithmic:
        ends = [end for one in stages for end in one.result.fitted.reliable95]
        least = contrast.step / 40
        high = min(max(max(ends), 2 * least), contrast.step)
        return cls(min(max(min(ends), least), high / 2) / 1.3, high * 1.3)

    def y(self, value: float) -> float:
        """Return where a value stands; what lies off the scale stands at its end."""
        held = min(max(value, self.low), self.high)
        part = log(held / self.low) / log(self.high / self.low)
        return BOTTOM - part * (BOTTOM - TOP)

    def lines(self, contrast: Contrast) -> Iterator[Primitive]:
        value = contrast.step
        while value > self.low:
            if value < self.high:
                yield Line((LEFT, self.y(value)), (RIGHT, self.y(value)), HAIR)
                yield Text((LEFT - 8.0, self.y(value) + 4.5), contrast.amount_text(value), 12.0,
                           "quiet_text", "end")  # fmt: skip
            value /= 2
        yield Line((LEFT, BOTTOM), (RIGHT, BOTTOM), AXIS)
