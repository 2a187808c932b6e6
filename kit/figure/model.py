"""The figure of one dog: every point of the median plane, in centimetres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kit.figure.template import Point


@dataclass(frozen=True)
class Figure:
    """One dog in its median plane: x forward, y up, floor at 0.

    Attributes
    ----------
    points : Mapping of str to (float, float)
        Every landmark and auxiliary point, in cm.
    measured : frozenset of str
        Points the readings place; the others lie where the neutral template puts them.
    height : float
        Height of the withers, in cm.
    size : float
        What limbs, feet and head of an unmeasured dog would be scaled by, in cm: equal to the
        height for a dog of the template's length, more for a long one.
    readings : Mapping of str to float
        Every reading the figure was made from, also those that place no point (breadths, girths);
        cm, degrees or kg.
    set_aside : tuple of str
        Measurements read but left out, because no dog, or not this one, could have them so.
    """

    points: Mapping[str, Point]
    measured: frozenset[str]
    height: float
    size: float
    readings: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    set_aside: tuple[str, ...] = ()

    def __getitem__(self, key: str) -> Point:
        return self.points[key]

    def has_measured(self, *keys: str) -> bool:
        """Tell whether all these points are placed by readings."""
        return all(key in self.measured for key in keys)
