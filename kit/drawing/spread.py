"""What a set of tapes allows: the straight-line rule beside drawing every error, one axis."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from kit.drawing.scene import Line, Path, Point, Primitive, Scene, Style, Text
from kit.quantities.formatting import number
from kit.traits.three_tapes import TwoWays

WIDTH, ROW, HEAD, FOOT = 760.0, 150.0, 54.0, 46.0
LEFT, RIGHT = 24.0, 736.0  # px, ends of the axis
LOW, HIGH = 40.0, 220.0  # degrees, ends of the axis
STRAIGHT = 180.0
BIN = 2.0  # degrees
EDGES = tuple(LOW + BIN * step for step in range(int((HIGH - LOW) / BIN)))
TALL = 92.0  # px of the highest bar or bell of a row
TICK = 20.0  # degrees
BELL = Style("", "accent", 2.2)
BAR = Style("band", "inside", 0.6)


def spread(rows: Sequence[TwoWays]) -> Scene:
    """Draw, for each angle, what drawing every error gives (bars) and the straight-line rule.

    Every row has its own height and all share one axis, so a wider heap is a worse angle.
    """
    height = HEAD + ROW * len(rows) + FOOT
    parts: list[Primitive] = [*_legend(), *_axis(HEAD + ROW * len(rows))]
    for index, row in enumerate(rows):
        parts += _row(row, HEAD + ROW * (index + 1) - 8.0)
    said = "; ".join(_said(row) for row in rows)
    return Scene(WIDTH, height, tuple(parts), "Two ways to the uncertainty of an angle", said)


def _x(angle: float) -> float:
    return LEFT + (RIGHT - LEFT) * (angle - LOW) / (HIGH - LOW)


def _legend() -> list[Primitive]:
    box = [(LEFT, 16.0), (LEFT + 22.0, 16.0), (LEFT + 22.0, 30.0), (LEFT, 30.0)]
    return [
        Path.polyline(box, BAR, closed=True),
        Text((LEFT + 30.0, 28.0), "every error drawn 20 000 times", 13.0),
        Line((LEFT + 268.0, 23.0), (LEFT + 292.0, 23.0), BELL),
        Text((LEFT + 300.0, 28.0), "the straight-line rule", 13.0),
    ]


def _axis(y: float) -> list[Primitive]:
    drawn: list[Primitive] = [
        Line((_x(STRAIGHT), HEAD), (_x(STRAIGHT), y), Style("", "ink", 1.4, (5.0, 4.0))),
        Text((_x(STRAIGHT) + 7.0, HEAD + 8.0), "straight: no joint", 12.0, "quiet_text"),
        Text((_x(STRAIGHT) + 7.0, HEAD + 23.0), "opens further", 12.0, "quiet_text"),
    ]
    for tick in np.arange(LOW, HIGH + 1.0, TICK):
        x = _x(float(tick))
        drawn.append(Line((x, y), (x, y + 5.0), Style("", "floor", 1.0)))
        drawn.append(Text((x, y + 22.0), f"{tick:.0f}°", 12.0, "quiet_text", "middle"))
    return drawn


def _row(row: TwoWays, base: float) -> list[Primitive]:
    density = _density(row)
    peak = 1.0 / (row.uncertainty * math.sqrt(2.0 * math.pi))
    tall = TALL / max(peak, *density)
    return [
        Line((LEFT, base), (RIGHT, base), Style("", "faint_line", 1.0)),
        *(_bar(edge, part * tall, base) for edge, part in zip(EDGES, density, strict=True) if part),
        Path.polyline(_bell(row, tall, base), BELL),
        Text((LEFT, base - 84.0), f"{number(row.value, 0)}°", 20.0, weight="bold"),
        Text((LEFT, base - 62.0), f"straight-line rule: ± {number(row.uncertainty, 1)}°", 13.0,
             "accent"),
        *_drawn(row, base),
    ]  # fmt: skip


def _density(row: TwoWays) -> list[float]:
    """Return the part of all draws in each bin, per degree; shape (bins,)."""
    if row.drawn is None:
        return [0.0] * len(EDGES)
    counts, _ = np.histogram(row.drawn.draws, [*EDGES, EDGES[-1] + BIN])
    every = row.drawn.draws.size / (1.0 - row.drawn.impossible)
    density: list[float] = (counts / every / BIN).tolist()
    return density


def _drawn(row: TwoWays, base: float) -> list[Primitive]:
    if row.drawn is None:
        lines = ["drawn: most draws close no triangle,", "so nothing can be said"]
    else:
        low, high = row.drawn.interval()
        lines = [f"drawn: ± {number(row.drawn.uncertainty, 1)}°, 95 % between",
                 f"{number(low, 0)}° and {number(high, 0)}°"]  # fmt: skip
    first, second = (Text((LEFT, base - 43.0 + 17.0 * at), line, 13.0, "inside")
                     for at, line in enumerate(lines))  # fmt: skip
    return [first, second, *_impossible(row, base)]


def _bar(edge: float, height: float, base: float) -> Path:
    left, right = _x(edge), _x(edge + BIN)
    corners = [(left, base), (right, base), (right, base - height), (left, base - height)]
    return Path.polyline(corners, BAR, closed=True)


def _bell(row: TwoWays, tall: float, base: float) -> list[Point]:
    reach = 3.2 * row.uncertainty
    angles = np.linspace(max(LOW, row.value - reach), min(HIGH, row.value + reach), 120)
    density = np.exp(-0.5 * ((angles - row.value) / row.uncertainty) ** 2) / (
        row.uncertainty * math.sqrt(2.0 * math.pi)
    )
    return [
        (_x(float(angle)), base - float(part) * tall)
        for angle, part in zip(angles, density, strict=True)
    ]


def _impossible(row: TwoWays, base: float) -> list[Primitive]:
    if row.drawn is None or row.drawn.impossible < 0.01:
        return []
    part = f"{row.drawn.impossible:.0%}".replace("%", " %")
    x = _x(STRAIGHT) + 7.0
    return [
        Text((x, base - 84.0), f"{part} of the draws", 12.0, "quiet_text"),
        Text((x, base - 69.0), "close no triangle", 12.0, "quiet_text"),
    ]


def _said(row: TwoWays) -> str:
    straight = f"{row.value:.0f} degrees: plus or minus {row.uncertainty:.1f} by the rule"
    if row.drawn is None:
        return f"{straight}, nothing certain when drawn"
    low, high = row.drawn.interval()
    return f"{straight}, between {low:.0f} and {high:.0f} when drawn"
