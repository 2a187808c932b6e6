"""Which measurements place a point of the figure, and what each of them sees there."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from math import atan2, degrees, hypot
from types import MappingProxyType

from kit.figure.template import Observation, Point, template
from kit.protocol.catalogue import catalogue

_POINTS_NEEDED = {"vertical": 1, "straight": 2, "horizontal": 2, "angle": 3}


@cache
def observations() -> Mapping[str, Observation]:
    """Return every measurement that bears on the median plane, by key, in catalogue order."""
    special = template().observations
    found = {}
    for key, definition in catalogue().measurements.items():
        needed = _POINTS_NEEDED.get(definition.direction)
        if key in special:
            found[key] = special[key]
        elif needed is not None and len(definition.landmarks) == needed:
            found[key] = Observation(definition.direction, definition.landmarks)
    return MappingProxyType(found)


def reading_at(observation: Observation, points: Mapping[str, Point]) -> float:
    """Return what the observation would read on these points.

    Parameters
    ----------
    observation : Observation
    points : Mapping of str to (float, float)
        Positions in cm.

    Returns
    -------
    float
        In cm, or in degrees for angles and slopes. A horizontal reading is positive when the
        second point lies behind the first.
    """
    at = [points[name] for name in observation.points]
    if observation.kind == "vertical":
        return at[0][1]
    if observation.kind == "horizontal":
        return at[0][0] - at[1][0]
    if observation.kind in ("straight", "skin"):
        return hypot(at[0][0] - at[1][0], at[0][1] - at[1][1])
    if observation.kind == "angle":
        return _angle(at[0], at[1], at[2])
    return _slope(observation.kind, at[0], at[1])


def _angle(first: Point, vertex: Point, last: Point) -> float:
    ax, ay = first[0] - vertex[0], first[1] - vertex[1]
    bx, by = last[0] - vertex[0], last[1] - vertex[1]
    return degrees(abs(atan2(ax * by - ay * bx, ax * bx + ay * by)))


def _slope(kind: str, first: Point, second: Point) -> float:
    fall, forward = first[1] - second[1], second[0] - first[0]
    if kind == "from_vertical":
        return degrees(atan2(forward, fall))
    return degrees(atan2(fall, forward if kind == "falls_forward" else -forward))
