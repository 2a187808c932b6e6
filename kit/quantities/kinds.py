"""The kinds of quantity the kit knows, each with the one unit it is held in."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """A kind of quantity. Values are the words used in data files."""

    LENGTH = "length"
    ANGLE = "angle"
    MASS = "mass"
    RATIO = "ratio"

    @property
    def unit(self) -> str:
        """The unit every value of this kind is held in."""
        return _UNITS[self]


_UNITS = {Kind.LENGTH: "cm", Kind.ANGLE: "deg", Kind.MASS: "kg", Kind.RATIO: "1"}
