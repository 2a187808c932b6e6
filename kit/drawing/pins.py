"""Pins of the anatomy carried from the neutral template onto one dog, all at once."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from kit.drawing.anatomy import Pin, anatomy
from kit.figure.template import Point, template

Array = NDArray[np.float64]

_NOWHERE = (math.nan, math.nan)


@dataclass(frozen=True)
class Lines:
    """The frames of one dog, in the anatomy's order.

    Attributes
    ----------
    start, unit : arrays of shape (frames, 2)
        Where each begins, in cm, and its direction.
    length : array of shape (frames,)
        In cm.
    """

    start: Array
    unit: Array
    length: Array

    @classmethod
    def of(cls, points: Mapping[str, Point]) -> Lines:
        """Lay the frames through the points of a dog; a frame that lacks one is all nan."""
        ends = np.array([
            (points.get(frame.start, _NOWHERE), points.get(frame.end, _NOWHERE))
            for frame in anatomy().frames.values()
        ])  # fmt: skip
        way = ends[:, 1] - ends[:, 0]
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
        return cls(ends[:, 0], way / length[:, None], length)


@dataclass(frozen=True)
class Pins:
    """Where pins sit on their two frames of the template; one row a pin, one column a frame.

    Attributes
    ----------
    frames : array of int, shape (n, 2)
        Rows of `Lines`.
    along, aside : arrays of shape (n, 2)
        Place along the frame and distance to its left, in template units.
    share : array of shape (n,)
        Weight of the second frame.
    grounded : array of bool, shape (n,)
        Pins that stand on the floor.
    """

    frames: NDArray[np.intp]
    along: Array
    aside: Array
    share: Array
    grounded: NDArray[np.bool_]

    @classmethod
    def of(cls, pins: Sequence[Pin]) -> Pins:
        """Gather pins."""
        order, lines = list(anatomy().frames), _neutral()
        frames = np.array([[order.index(pin.first), order.index(pin.second)] for pin in pins])
        way = np.array([pin.at for pin in pins])[:, None] - lines.start[frames]
        unit = lines.unit[frames]
        return cls(
            frames,
            (way * unit).sum(axis=2),
            way[..., 1] * unit[..., 0] - way[..., 0] * unit[..., 1],
            np.array([pin.share for pin in pins]),
            np.array([pin.at[1] == 0.0 for pin in pins]),
        )

    def carried(self, lines: Lines, thickness: Array) -> Array:
        """Return where the pins lie on a dog, shape (n, 2) in cm, never under the floor.

        Along a frame a place keeps its proportion; beyond the ends, and beside it, distances
        follow the thickness: centimetres per template unit across each frame, shape (frames,).
        """
        thick = thickness[self.frames]
        old, new = _neutral().length[self.frames], lines.length[self.frames]
        beyond = np.where(self.along < 0, self.along, np.maximum(self.along - old, 0.0))
        reach = np.clip(self.along, 0.0, old) * new / old + beyond * thick
        unit, aside = lines.unit[self.frames], self.aside * thick
        across = np.stack([-unit[..., 1], unit[..., 0]], axis=-1)
        places = lines.start[self.frames] + reach[..., None] * unit + aside[..., None] * across
        share = self.share[:, None]
        carried: Array = (1.0 - share) * places[:, 0] + share * places[:, 1]
        carried[:, 1] = np.where(self.grounded, 0.0, np.maximum(carried[:, 1], 0.0))
        return carried


@cache
def _neutral() -> Lines:
    helping = {key: pin.at for key, pin in anatomy().points.items()}
    return Lines.of({**template().points, **helping})


@cache
def helping_pin(key: str) -> Pins:
    """Return the pin of one helping point."""
    return Pins.of([anatomy().points[key]])


@cache
def shape_pins() -> tuple[Pins, Mapping[str, slice]]:
    """Return the pins of every shape, and which rows belong to which shape."""
    pins: list[Pin] = []
    rows: dict[str, slice] = {}
    for name, shape in anatomy().shapes.items():
        rows[name] = slice(len(pins), len(pins) + len(shape.pins))
        pins += shape.pins
    return Pins.of(pins), rows
