"""Smooth curves through points: centripetal Catmull-Rom splines as cubic Bézier segments.

Centripetal parameters (square roots of the chords) never make a loop or a cusp within a segment:
Yuksel, Schaefer & Keyser, "Parameterization and applications of Catmull-Rom curves",
Computer-Aided Design 43 (2011) 747-755 (from memory).
"""

from __future__ import annotations

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
    chord = np.maximum(np.hypot(*np.diff(around, axis=0).T), 1e-9)
    step = np.sqrt(chord)
    before, after = step[:-1, None], step[1:, None]
    slope = np.diff(around, axis=0) / step[:, None]
    tangent = (slope[:-1] * after + slope[1:] * before) / (before + after)
    start, end = around[1:-2], around[2:-1]
    third = step[1:-1, None] / 3
    return np.stack([start, start + tangent[:-1] * third, end - tangent[1:] * third, end], axis=1)


def _with_neighbours(points: Array, *, closed: bool) -> Array:
    if closed:
        return np.vstack([points[-1:], points, points[:2]])
    first, last = 2 * points[0] - points[1], 2 * points[-1] - points[-2]
    return np.vstack([first[None], points, last[None]])


def flatten(segments: Array, steps: int = 8) -> Array:
    """Return points along Bézier segments: shape (segments * steps, 2), without the last end."""
    t = (np.arange(steps) / steps)[None, :, None]
    a, b, c, d = (segments[:, number, None, :] for number in range(4))
    curve: Array = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return curve.reshape(-1, 2)


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
    curve = np.vstack([flatten(segments, steps), segments[-1:, 3]])
    along = np.gradient(curve, axis=0)
    across = np.column_stack([-along[:, 1], along[:, 0]])
    across /= np.maximum(np.hypot(*across.T), 1e-9)[:, None]
    place = np.linspace(0.0, 1.0, len(curve))
    half = (width / 2 * np.sin(np.pi * place**0.8))[:, None]
    return np.vstack([curve + across * half, (curve - across * half)[-2:0:-1]])
