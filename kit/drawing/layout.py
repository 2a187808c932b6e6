"""Where centimetres of the dog fall on the picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kit.drawing.outline import Form
from kit.figure.template import Point

Array = NDArray[np.float64]

SIDE_MARGIN = 120.0  # px, room for the names of the angles
TOP_MARGIN = 64.0
FLOOR_MARGIN = 58.0


@dataclass(frozen=True)
class Layout:
    """The scale and origin of a picture.

    Attributes
    ----------
    width, height : float
        Of the scene, in px.
    scale : float
        Pixels per cm.
    origin : (float, float)
        Where x = 0 on the floor falls, in px.
    reach : (float, float)
        Least and greatest x of the drawn dog, in cm.
    top : float
        Greatest height of the drawn dog, in cm.
    left : float
        Where headings start, in px.
    """

    width: float
    height: float
    scale: float
    origin: Point
    reach: tuple[float, float]
    top: float
    left: float = 28.0

    @classmethod
    def fit(cls, form: Form, width: float, height: float) -> Layout:
        """Choose the largest scale at which the dog fits."""
        return cls.around([form.drawn()], width, height)

    @classmethod
    def around(cls, outlines: Sequence[Array], width: float, height: float) -> Layout:
        """Choose the largest scale at which all these outlines, (n, 2) in cm, fit as they lie."""
        drawn = np.vstack(outlines)
        (low, _), (high, top) = drawn.min(axis=0), drawn.max(axis=0)
        scale = min(
            (width - 2 * SIDE_MARGIN) / (high - low), (height - TOP_MARGIN - FLOOR_MARGIN) / top
        )
        middle = (width - (low + high) * scale) / 2
        origin = (float(middle), height - FLOOR_MARGIN)
        return cls(width, height, float(scale), origin, (float(low), float(high)), float(top))

    def many(self, points: Array) -> Array:
        """Return points (..., 2) in cm as px."""
        result: Array = points * self._scales
        result += self.origin
        return result

    @cached_property
    def _scales(self) -> Array:
        return np.array([self.scale, -self.scale])

    def at(self, point: Point) -> Point:
        """Return one point in cm as px."""
        return (
            self.origin[0] + point[0] * self.scale,
            self.origin[1] - point[1] * self.scale,
        )
