"""Residuals of readings and ties over the points of a figure, with their analytic Jacobian."""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, copysign, radians

import numpy as np
from numpy.typing import NDArray

from kit.figure.algebra import shortest
from kit.figure.template import Point

Array = NDArray[np.float64]
Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Sight:
    """One reading prepared for adjustment.

    Attributes
    ----------
    kind : str
        ``height``, ``offset``, ``distance``, ``turn`` (a signed angle at the second of three
        points) or ``bearing`` (direction from the first point to the second).
    points : tuple of int
        Numbers of the points it touches.
    value : float
        In cm or radians.
    spread : float
        Standard deviation it is weighted with, in the unit of `value`.
    """

    kind: str
    points: tuple[int, ...]
    value: float
    spread: float

    @classmethod
    def build(
        cls, kind: str, points: tuple[int, ...], value: float, spread: float, along: list[Point]
    ) -> Sight:
        """Turn a reading in cm or degrees into a sight; `along` gives its sense of turning."""
        if kind == "vertical":
            return cls("height", points, value, spread)
        if kind == "horizontal":
            return cls("offset", points, value, spread)
        if kind in ("straight", "skin"):
            return cls("distance", points, value, spread)
        if kind == "angle":
            return cls("turn", points, copysign(radians(value), _turn(*along)), spread)
        return cls("bearing", points, radians(_BEARINGS[kind](value)), spread)


# Bearings in degrees from straight ahead, upwards positive, of a line falling as read.
_BEARINGS = {
    "falls_forward": lambda slope: -slope,
    "falls_backward": lambda slope: slope - 180.0,
    "from_vertical": lambda slope: slope - 90.0,
}


def _turn(first: Point, vertex: Point, last: Point) -> float:
    ax, ay = first[0] - vertex[0], first[1] - vertex[1]
    bx, by = last[0] - vertex[0], last[1] - vertex[1]
    return atan2(ax * by - ay * bx, ax * bx + ay * by)


def _wrapped(angle: Array) -> Array:
    """Bring angles into (-pi, pi]."""
    result: Array = np.pi - np.remainder(np.pi - angle, 2 * np.pi)
    return result


@dataclass(frozen=True)
class _Block:
    """All sights of one kind: point numbers (k, p), values (k,), weights (k,)."""

    points: Indices
    values: Array
    weights: Array

    @classmethod
    def of(cls, kind: str, width: int, sights: list[Sight]) -> _Block:
        mine = [sight for sight in sights if sight.kind == kind]
        points = np.array([sight.points for sight in mine], dtype=np.intp).reshape(-1, width)
        values = np.array([sight.value for sight in mine])
        return cls(points, values, 1 / np.array([sight.spread for sight in mine]))


@dataclass(frozen=True)
class Under:
    """The second of two points stays at least `fall` cm under the first; `spread` in cm."""

    points: tuple[int, int]
    fall: float
    spread: float


@dataclass(frozen=True)
class Residuals:
    """The weighted residuals of a figure.

    Attributes
    ----------
    count : int
        Number of points n; unknowns are x0, y0, x1, y1, … in cm.
    matrix, right : arrays of shape (m, 2n) and (m,)
        The linear rows: ties, floor, heights and offsets.
    unders : tuple of Under
        One-sided rows: nothing where they hold.
    rows : tuple of int
        For each sight given, the row of `values` it stands in.
    """

    count: int
    matrix: Array
    right: Array
    distances: _Block
    turns: _Block
    bearings: _Block
    unders: tuple[Under, ...]
    rows: tuple[int, ...]
    least: float

    @classmethod
    def build(
        cls,
        names: tuple[str, ...],
        sights: list[Sight],
        matrix: Array,
        right: Array,
        size: float,
        unders: tuple[Under, ...] = (),
    ) -> Residuals:
        """Gather ties and sights; `size` in cm guards divisions by a vanishing distance."""
        rows, values = _linear_sights(sights, len(names))
        return cls(
            len(names),
            np.vstack([matrix, rows]),
            np.concatenate([right, values]),
            _Block.of("distance", 2, sights),
            _Block.of("turn", 3, sights),
            _Block.of("bearing", 2, sights),
            unders,
            _rows(sights, len(matrix)),
            1e-6 * size,
        )

    def linear_start(self) -> Array:
        """Solve the ties, heights and offsets alone: a dog of about the right shape."""
        return shortest(self.matrix, self.right)

    def values(self, unknowns: Array) -> Array:
        """Return all residuals, weighted, at the given unknowns of shape (2n,)."""
        at = unknowns.reshape(-1, 2)
        return np.concatenate(
            [
                self.matrix @ unknowns - self.right,
                self._distance_values(at),
                self._turn_values(at),
                self._bearing_values(at),
                self._under_values(at),
            ]
        )

    def jacobian(self, unknowns: Array) -> Array:
        """Return the derivatives of `values`, of shape (rows, 2n)."""
        at = unknowns.reshape(-1, 2)
        blocks = [self.matrix, *self._distance_rows(at), *self._turn_rows(at)]
        return np.vstack([*blocks, *self._bearing_rows(at), self._under_rows(at)])

    def _under_values(self, at: Array) -> Array:
        over = [one.fall + at[one.points[1], 1] - at[one.points[0], 1] for one in self.unders]
        spreads = np.array([one.spread for one in self.unders])
        result: Array = np.maximum(over, 0.0) / spreads
        return result

    def _under_rows(self, at: Array) -> Array:
        rows = np.zeros((len(self.unders), 2 * self.count))
        for row, (one, over) in enumerate(zip(self.unders, self._under_values(at), strict=True)):
            if over > 0:
                upper, lower = one.points
                rows[row, 2 * lower + 1], rows[row, 2 * upper + 1] = 1, -1
                rows[row] /= one.spread
        return rows

    def _distance_values(self, at: Array) -> Array:
        block = self.distances
        arm = at[block.points[:, 1]] - at[block.points[:, 0]]
        result: Array = (np.hypot(arm[:, 0], arm[:, 1]) - block.values) * block.weights
        return result

    def _distance_rows(self, at: Array) -> list[Array]:
        block = self.distances
        arm = at[block.points[:, 1]] - at[block.points[:, 0]]
        length = np.maximum(np.hypot(arm[:, 0], arm[:, 1]), self.least)
        unit = arm / length[:, None] * block.weights[:, None]
        return [self._spread_out([(block.points[:, 1], unit), (block.points[:, 0], -unit)])]

    def _turn_values(self, at: Array) -> Array:
        block = self.turns
        first = at[block.points[:, 0]] - at[block.points[:, 1]]
        last = at[block.points[:, 2]] - at[block.points[:, 1]]
        turned = _bearing(last) - _bearing(first)
        return _wrapped(turned - block.values) * block.weights

    def _turn_rows(self, at: Array) -> list[Array]:
        block = self.turns
        first = self._swing(at[block.points[:, 0]] - at[block.points[:, 1]])
        last = self._swing(at[block.points[:, 2]] - at[block.points[:, 1]])
        first, last = first * block.weights[:, None], last * block.weights[:, None]
        return [
            self._spread_out(
                [
                    (block.points[:, 2], last),
                    (block.points[:, 0], -first),
                    (block.points[:, 1], first - last),
                ]
            )
        ]

    def _bearing_values(self, at: Array) -> Array:
        block = self.bearings
        arm = at[block.points[:, 1]] - at[block.points[:, 0]]
        return _wrapped(_bearing(arm) - block.values) * block.weights

    def _bearing_rows(self, at: Array) -> list[Array]:
        block = self.bearings
        arm = at[block.points[:, 1]] - at[block.points[:, 0]]
        swing = self._swing(arm) * block.weights[:, None]
        return [self._spread_out([(block.points[:, 1], swing), (block.points[:, 0], -swing)])]

    def _swing(self, arm: Array) -> Array:
        """Return the derivative of each arm's bearing by its end, of shape (k, 2)."""
        square = np.maximum((arm**2).sum(axis=1), self.least**2)
        result: Array = np.column_stack([-arm[:, 1], arm[:, 0]]) / square[:, None]
        return result

    def _spread_out(self, parts: list[tuple[Indices, Array]]) -> Array:
        rows = np.zeros((len(parts[0][0]), 2 * self.count))
        numbers = np.arange(len(rows))
        for points, slope in parts:
            rows[numbers, 2 * points] += slope[:, 0]
            rows[numbers, 2 * points + 1] += slope[:, 1]
        return rows


def _rows(sights: list[Sight], first: int) -> tuple[int, ...]:
    groups = (("height", "offset"), ("distance",), ("turn",), ("bearing",))
    order = [n for kinds in groups for n, sight in enumerate(sights) if sight.kind in kinds]
    return tuple(first + order.index(number) for number in range(len(sights)))


def _bearing(arm: Array) -> Array:
    result: Array = np.arctan2(arm[:, 1], arm[:, 0])
    return result


def _linear_sights(sights: list[Sight], count: int) -> tuple[Array, Array]:
    mine = [sight for sight in sights if sight.kind in ("height", "offset")]
    rows, values = np.zeros((len(mine), 2 * count)), np.zeros(len(mine))
    for row, sight in enumerate(mine):
        weight = 1 / sight.spread
        values[row] = sight.value * weight
        if sight.kind == "height":
            rows[row, 2 * sight.points[0] + 1] = weight
        else:
            rows[row, 2 * sight.points[0]] = weight
            rows[row, 2 * sight.points[1]] = -weight
    return rows, values
