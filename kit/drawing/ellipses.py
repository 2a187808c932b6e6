"""Error ellipses: where a fitted point may lie, drawn true to scale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import log, pi, sqrt, tan

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.drawing.layout import Layout
from kit.drawing.lettering import width_of
from kit.drawing.scene import Circle, Path, Point, Primitive, Segment, Style, Text
from kit.figure.template import Point as Place
from kit.quantities.errors import GeometryError

Array = NDArray[np.float64]

COVERAGE = 0.95
# Semi-axes in standard deviations: the quantile of chi-square with two degrees of freedom is
# -2 ln(1 - p), so 2.448 for 95 %.
FACTOR = sqrt(-2 * log(1 - COVERAGE))
PIECES = 8
LEAST = 1.2  # px; a smaller ellipse would not be seen
LOOK = Style("accent", opacity=0.22)
EDGE = Style("", "accent", 1.3)
LABEL = f"ellipse: the point lies inside with {COVERAGE:.0%} probability"
LABEL_SIZE = 12.0


def ellipses(
    points: Mapping[str, Place], covariances: Mapping[str, ArrayLike], layout: Layout
) -> Iterator[Primitive]:
    """Yield the 95 % ellipse of each point that has a covariance.

    Parameters
    ----------
    points : mapping of str to (float, float)
        In cm.
    covariances : mapping of str to array-like of shape (2, 2)
        Of x and y, in cm².

    Raises
    ------
    GeometryError
        For an unknown point, or what is no covariance.
    """
    for key, given in covariances.items():
        if key not in points:
            raise GeometryError(f"no ellipse for '{key}'", "a point of the figure", key)
        axes = _axes(key, given) * layout.scale
        yield from _ellipse(layout.at(points[key]), axes)


def semi_axes(covariance: ArrayLike) -> tuple[float, float]:
    """Return the longer and the shorter semi-axis of the 95 % ellipse, in cm."""
    long, short = sorted(np.hypot(*_axes("point", covariance)), reverse=True)
    return float(long), float(short)


def _axes(key: str, given: ArrayLike) -> Array:
    """Return the two semi-axes as columns of a (2, 2) array, in cm."""
    matrix = np.asarray(given, np.float64)
    fit = matrix.shape == (2, 2) and bool(np.isfinite(matrix).all())
    if not fit or not np.allclose(matrix, matrix.T, atol=1e-9 * (1 + np.abs(matrix).max())):
        raise GeometryError(f"no ellipse for '{key}'", "a symmetric 2 x 2 covariance", f"{given!r}")
    values, vectors = np.linalg.eigh(matrix)
    if values[0] < -1e-9 * max(values[1], 1e-12):
        raise GeometryError(f"no ellipse for '{key}'", "variances of at least zero", f"{given!r}")
    result: Array = vectors * np.sqrt(np.maximum(values, 0.0)) * FACTOR
    return result


def _ellipse(at: Point, axes: Array) -> Iterator[Primitive]:
    lengths = np.maximum(np.hypot(*axes), 1e-9)
    axes = axes / lengths * np.maximum(lengths, LEAST)
    start, segments = _around(at, axes)
    yield Path(start, segments, LOOK, closed=True)
    yield Path(start, segments, EDGE, closed=True)
    yield Circle(at, 1.6, Style("accent"))


def _around(at: Point, axes: Array) -> tuple[Point, tuple[Segment, ...]]:
    """Return a closed run of Bézier segments; y turns downwards on the picture."""
    turn = 2 * pi / PIECES
    reach = 4 / 3 * tan(turn / 4)

    def place(angle: float, ahead: float) -> Point:
        c, s = np.cos(angle), np.sin(angle)
        x, y = axes @ np.array([c - ahead * s, s + ahead * c])
        return float(at[0] + x), float(at[1] - y)

    segments = tuple(
        Segment(place(turn * n + turn, 0.0), place(turn * n, reach), place(turn * n + turn, -reach))
        for n in range(PIECES)
    )
    return place(0.0, 0.0), segments


def legend(at: Point) -> tuple[tuple[Primitive, ...], float]:
    """Return the line that says what the ellipses are, and its width in px."""
    axes = np.array([[11.0, 0.0], [0.0, 5.0]])
    text = Text((at[0] + 30, at[1]), LABEL, LABEL_SIZE, "quiet_text")
    sample = tuple(_ellipse((at[0] + 12, at[1] - 4), axes))
    return (*sample, text), 30 + width_of(LABEL, LABEL_SIZE)
