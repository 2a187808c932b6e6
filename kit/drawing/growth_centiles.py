"""A centile chart: the nine lines of a club’s own reference, and puppies on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from kit.drawing.growth_axes import Axes, grid, polyline
from kit.drawing.growth_proportions import mark_of
from kit.drawing.lettering import broken
from kit.drawing.scene import Group, Primitive, Scene, Style, Text
from kit.growth.lms import NINE_NAMES, Centiles
from kit.growth.puppies import Series
from kit.quantities.kinds import Kind

WIDTH, HEIGHT, EDGE = 1200.0, 640.0, 28.0
SAMPLES = 80
MIDDLE, OUTER = Style(stroke="inside", width=2.0), Style(stroke="inside", width=1.0)
DASHED = Style(stroke="inside", width=1.0, dash=(6.0, 4.0))


def centile_chart(centiles: Centiles, series: Sequence[Series], kind: Kind) -> Scene:
    """Draw the nine centile lines and the readings of some puppies."""
    first, last = float(centiles.age[0]), float(centiles.age[-1])
    ages = np.linspace(first, last, SAMPLES)
    lines = centiles.lines(ages)
    most = max([float(lines.max()), *(v for one in series for v in one.values)])
    axes = Axes(EDGE + 52, 104, WIDTH - 2 * EDGE - 220, HEIGHT - 160, (0.0, last), (0, most * 1.04))
    said = broken(centiles.source, 13, WIDTH - 2 * EDGE)[:2]
    parts: list[Primitive] = [Text((EDGE, 38), centiles.title, 24, weight="bold")]
    parts += [Text((EDGE, 62 + 17 * at), text, 13, "quiet_text") for at, text in enumerate(said)]
    parts += grid(axes, kind, about=6, weeks=12)
    parts += _lines(axes, ages.tolist(), lines)
    parts += _puppies(axes, series, first)
    parts.append(Text((axes.right, axes.bottom + 33), "Age in weeks", 11, "quiet_text", "end"))
    told = f"Nine centile lines, {len(series)} puppies"
    return Scene(WIDTH, HEIGHT, tuple(parts), centiles.title, told, "white")


def _lines(
    axes: Axes, ages: Sequence[float], lines: np.ndarray[tuple[int, ...], np.dtype[np.float64]]
) -> Iterator[Primitive]:
    for at, (name, line) in enumerate(zip(NINE_NAMES, lines, strict=True)):
        style = MIDDLE if name == "50" else DASHED if at % 2 else OUTER
        yield Group((polyline(axes, ages, line.tolist(), style),), axes.box)
        yield Text((axes.right + 6, axes.y(float(line[-1])) + 4), name, 11, "inside")


def _puppies(axes: Axes, series: Sequence[Series], first: float) -> Iterator[Primitive]:
    for at, one in enumerate(series):
        points = [p for p in one.points if first <= p.age <= axes.ages[1]]
        if len(points) > 1:
            thin = Style(stroke="faint_line", width=1.2)
            yield polyline(axes, [p.age for p in points], [p.value for p in points], thin)
        for point in points:
            yield from mark_of(at, axes.at(point.age, point.value))
        y = axes.top + 12 + at * 24
        yield from mark_of(at, (axes.right + 60, y))
        yield Text((axes.right + 74, y + 4.5), one.dog, 12.5)
