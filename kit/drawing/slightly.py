"""How long is "slightly"? What a reading may truly be, laid over the words."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from scipy.stats import norm

from kit.drawing.scene import Line, Path, Primitive, Scene, Style, Text
from kit.drawing.wording import percent
from kit.quantities.formatting import number
from kit.standards.conformity import probabilities

WIDTH, HEIGHT = 900.0, 400.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 860.0, 96.0, 300.0
LOW, HIGH = 0.90, 1.20  # ends of the scale, length over height
SPREAD = 3.5  # standard uncertainties of the bell that are drawn
LOOKS = (Style("hairline", opacity=0.6), Style("band"), Style("hairline", opacity=0.6))


def slightly(value: float, uncertainty: float, low: float, high: float) -> Scene:
    """Draw a ratio's possible true values over the ranges of three words.

    Parameters
    ----------
    value, uncertainty : float
        Length over height, and its standard uncertainty.
    low, high : float
        Where "slightly longer than tall" begins and ends.

    Returns
    -------
    Scene
    """
    chance = probabilities(value, uncertainty, low, high)
    said = (f"“Square” {percent(chance.below)}, “slightly long” {percent(chance.within)}, "
            f"“clearly long” {percent(chance.above)}")  # fmt: skip
    head = f"Measured {number(value, 3)} ± {number(2 * uncertainty, 3)} (95 %)"
    parts: list[Primitive] = [
        Text((LEFT, 38.0), head, 22.0, weight="bold"),
        Text((LEFT, 66.0), said, 15.0, "quiet_text"),
        *_words((LOW, low, high, HIGH)),
        *_bell(value, uncertainty),
        *_scale(),
    ]
    return Scene(WIDTH, HEIGHT, tuple(parts), "How long is slightly?", f"{head}. {said}.")


def _x(ratio: float) -> float:
    return LEFT + (min(max(ratio, LOW), HIGH) - LOW) / (HIGH - LOW) * (RIGHT - LEFT)


def _words(ends: tuple[float, float, float, float]) -> Iterator[Primitive]:
    names = ("square or short", "slightly long", "clearly long")
    for name, (start, end), look in zip(names, pairwise(ends), LOOKS, strict=True):
        left, right = _x(start), _x(end)
        corners = [(left, TOP), (right, TOP), (right, BOTTOM), (left, BOTTOM)]
        yield Path.polyline(corners, look, closed=True)
        yield Text(((left + right) / 2, BOTTOM + 62.0), name, 15.0, "text", "middle", "bold")


def _bell(value: float, uncertainty: float) -> Iterator[Primitive]:
    at = np.linspace(value - SPREAD * uncertainty, value + SPREAD * uncertainty, 121)
    tall = norm.pdf(at, value, uncertainty) / norm.pdf(0.0, 0.0, uncertainty)
    line = [(_x(float(x)), BOTTOM - float(y) * (BOTTOM - TOP - 14.0))
            for x, y in zip(at, tall, strict=True) if LOW <= x <= HIGH]  # fmt: skip
    if len(line) > 1:
        yield Path.polyline([(line[0][0], BOTTOM), *line, (line[-1][0], BOTTOM)],
                            Style("accent", opacity=0.2), closed=True)  # fmt: skip
        yield Path.polyline(line, Style("", "accent", 2.4))
    yield Line((_x(value), TOP + 14.0), (_x(value), BOTTOM), Style("", "accent", 1.4, (5.0, 4.0)))


def _scale() -> Iterator[Primitive]:
    yield Line((LEFT, BOTTOM), (RIGHT, BOTTOM), Style("", "floor", 1.4))
    for step in range(round((HIGH - LOW) / 0.05) + 1):
        ratio = LOW + 0.05 * step
        yield Line((_x(ratio), BOTTOM), (_x(ratio), BOTTOM + 8.0), Style("", "floor", 1.2))
        yield Text((_x(ratio), BOTTOM + 26.0), number(ratio, 2), 13.0, "quiet_text", "middle")
