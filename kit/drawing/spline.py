"""Smooth curves through points: centripetal Catmull-Rom splines as cubic Bézier segments.

Centripetal parameters (square roots of the chords) never make a loop or a cusp within a segment:
Yuksel, Schaefer & Keyser, "Parameterization and applications of Catmull-Rom curves",
Computer-Aided Design 43 (2011) 747-755 (from memory).
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def bezier(points: Array, *, closed: bool) -> Array:
    """Return the Bézier segments of a smooth curve through points.

    Parameters
    ----------
    points : array of shape (n, 2)
        At least two distinct points, each different from the next.
    closed : bool
        Whether the curve returns to its first point.

    Returns
    -------
    array of shape (segments, 4, 2)
        Start, both controls and end of each; n segments when closed, else n - 1.
    """
    around = _with_neighbours(points, closed=closed)
    way = np.diff(around, axis=0)
    step = np.sqrt(np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9))[:, None]
    before, after = step[:-1], step[1:]
    slope = way / step
    tangent = (slope[:-1] * after + slope[1:] * before) / (before + after)
    third = step[1:-1] / 3
    segments = np.empty((len(third), 4, 2))
    segments[:, 0], segments[:, 3] = around[1:-2], around[2:-1]
    segments[:, 1] = segments[:, 0] + tangent[:-1] * third
    segments[:, 2] = segments[:, 3] - tangent[1:] * third
    return segments


def _with_neighbours(points: Array, *, closed: bool) -> Array:
    if closed:
        return np.concatenate([points[-1:], points, points[:2]])
    first, last = 2 * points[0] - points[1], 2 * points[-1] - points[-2]
    return np.concatenate([[first], points, [last]])


def flatten(segments: Array, steps: int = 8) -> Array:
    """Return points along Bézier segments: shape (segments * steps, 2), without the last end."""
    curve: Array = _bernstein(steps) @ segments
    return curve.reshape(-1, 2)


@cache
def _bernstein(steps: int) -> Array:
    """Return the weights of a segment's four points along it, shape (steps, 4)."""
    t = np.arange(steps)[:, None] / steps
    return np.hstack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3])


def tapered(segments: Array, width: float, steps: int = 8) -> Array:
    """Return the closed outline of a stroke that swells and tapers like one of a brush.

    Parameters
    ----------
    segments : array of shape (segments, 4, 2)
        An open curve.
    width : float
        Greatest width, reached past the middle.
    steps : int
        Points per segment.

    Returns
    -------
    array of shape (n, 2)
    """
    curve = np.concatenate([flatten(segments, steps), segments[-1:, 3]])
    along = np.gradient(curve, axis=0)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    across /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    swell = across * (width * _taper(len(curve)))
    return np.concatenate([curve + swell, (curve - swell)[-2:0:-1]])


@cache
def _taper(count: int) -> Array:
    """Return half the width of a brush's stroke along it, in parts of the greatest: (count, 1)."""
    place = np.linspace(0.0, 1.0, count)[:, None]
    half: Array = np.sin(np.pi * place**0.8) / 2
    return half
