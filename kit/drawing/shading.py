"""How a body is given its roundness: nested translucent strokes, lit from above and in front."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from kit.drawing.layout import Layout
from kit.drawing.scene import Path, Point, Primitive, Segment, Style
from kit.drawing.spline import tapered

Array = NDArray[np.float64]

INK_WIDTH = 2.0  # px
FAINT_DASH = (5.0, 4.0)
# Opacities whose eighth-bit steps round all three colours alike, so thin layers keep their tint.
SHADE_OPACITY = 16 / 255
LIGHT_OPACITY = 26 / 255
SOFT = (1.0, 0.85, 0.7, 0.55, 0.4, 0.22)  # nested widths of one soft stroke
# Shade inside the edge of the body, as strokes of the outline moved towards the light: widths in
# parts of the dog's size, each laid on with this opacity.
RINGS = (0.178, 0.148, 0.121, 0.096, 0.073, 0.052, 0.033)
LIGHT = (0.010, -0.020)  # towards the light, in parts of the dog's size on the picture


def path(segments: Array, layout: Layout, style: Style, *, closed: bool) -> Path:
    """Turn Bézier segments in cm, (segments, 4, 2), into a path of the scene."""
    return placed_path(layout.many(segments), style, closed=closed)


def placed_path(placed: Array, style: Style, *, closed: bool) -> Path:
    """Turn Bézier segments in px, (segments, 4, 2), into a path."""
    pieces = tuple(
        Segment((end[0], end[1]), (first[0], first[1]), (second[0], second[1]))
        for _, first, second, end in placed.tolist()
    )
    return Path(pair(placed[0, 0]), pieces, style, closed)


def pair(point: Array) -> Point:
    """Return a point as plain numbers."""
    return float(point[0]), float(point[1])


def rounded(segments: Array, layout: Layout, size: float, part: float = 1.0) -> Iterator[Primitive]:
    """Shade the inside of a closed outline; clip what this yields to the outline.

    Parameters
    ----------
    segments : array of shape (segments, 4, 2)
        In cm.
    size : float
        Of the dog, in px.
    part : float
        How deep the shade reaches, in parts of what a whole body gets.
    """
    moved = layout.many(segments) + np.array(LIGHT) * size * part
    ring = placed_path(moved, Style(), closed=True)
    for width in RINGS:
        look = Style("", "coat_shade", width * size * part, opacity=SHADE_OPACITY)
        yield Path(ring.start, ring.segments, look, closed=True)


def lit(segments: Array, layout: Layout, width: float) -> Iterator[Primitive]:
    """Lay light along an open line, at most `width` px broad."""
    return _soft(segments, layout, width, "coat_light", LIGHT_OPACITY, SOFT)


def furrow(segments: Array, layout: Layout, width: float) -> Iterator[Primitive]:
    """Lay shade along an open line, at most `width` px broad."""
    return _soft(segments, layout, width, "coat_shade", SHADE_OPACITY, SOFT[::2])


def _soft(
    segments: Array,
    layout: Layout,
    width: float,
    role: str,
    opacity: float,
    parts: tuple[float, ...],
) -> Iterator[Primitive]:
    """Lay on one soft stroke as nested strokes of the same line."""
    line = path(segments, layout, Style(), closed=False)
    for part in parts:
        yield Path(line.start, line.segments, Style("", role, width * part, opacity=opacity))


def brush(segments: Array, layout: Layout, width: float, look: Style) -> Path:
    """Return a stroke of a brush along an open line, at most `width` px broad."""
    points = tapered(layout.many(segments), width)
    return Path.polyline([(x, y) for x, y in points.tolist()], look, closed=True)


def edge(segments: Array, known: Sequence[bool], layout: Layout) -> Iterator[Primitive]:
    """Stroke a closed outline: full between points that are measured, dashed between others.

    Parameters
    ----------
    segments : array of shape (n, 4, 2)
        In cm, from each point to the next.
    known : sequence of bool, length n
        Whether a reading places the point.
    """
    after = [*known[1:], *known[:1]]
    flags = [one and two for one, two in zip(known, after, strict=True)]
    for solid, run in groupby(range(len(segments)), key=lambda number: flags[number]):
        look = Style("", "ink", INK_WIDTH) if solid else Style("", "contour", 1.4, FAINT_DASH)
        yield path(segments[list(run)], layout, look, closed=False)
