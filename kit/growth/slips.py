"""Slips of unit and decimal point, found by a reading's neighbours in time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kit.quantities.kinds import Kind

# Exact: international yard and pound agreement of 1959, and the SI prefixes.
_MASS = (
    (1000.0, "g typed as kg"), (0.001, "kg typed as g"),
    (1.0 / 0.45359237, "lb typed as kg"), (0.45359237, "kg typed as lb"),
    (10.0, "decimal point one place too far right"),
    (0.1, "decimal point one place too far left"),
    (100.0, "decimal point two places too far right"),
    (0.01, "decimal point two places too far left"),
)  # fmt: skip
_LENGTH = (
    (10.0, "mm typed as cm"), (0.1, "cm typed as mm"),
    (2.54, "cm typed as inches"), (1.0 / 2.54, "inches typed as cm"),
)  # fmt: skip
_SLIPS = {Kind.MASS: _MASS, Kind.LENGTH: _LENGTH}
_NEAR = {Kind.MASS: math.log(1.25), Kind.LENGTH: math.log(1.15)}
# Between two neighbours a puppy lies near the straight line of the logarithms. After the last
# it may have grown as fast as Alves 2020 (doi 10.1002/vms3.322) found at most, later more slowly.
_FAR = math.log(1.6)
_FASTEST_YOUNG, _FASTEST_LATER, _YOUNG = 0.131, 0.03, 28  # a day, a day, days
_LENGTH_EXPONENT = 1.0 / 3.0  # a length grows as the cube root of a weight (geometry)


@dataclass(frozen=True)
class SlipFound:
    """A point that a slip explains: its place, what was expected, by what factor, and its name."""

    place: int
    expected: float
    factor: float
    name: str


def slip_at(
    ages: Sequence[int], values: Sequence[float], place: int, kind: Kind
) -> SlipFound | None:
    """Return the slip that explains one point, or None where none is needed or none fits.

    Parameters
    ----------
    ages, values : sequences of n numbers
        In order of age, in days and the unit of `kind`; all values above zero.
    """
    if len(values) < 3 or min(values) <= 0:
        return None
    low, high = _limits(ages, values, place, kind)
    written = math.log(values[place])
    if low <= written <= high:
        return None
    middle = (low + high) / 2.0
    for factor, name in _SLIPS[kind]:
        meant = written - math.log(factor)
        if low - _NEAR[kind] / 2 <= meant <= high + _NEAR[kind] / 2 and abs(meant - middle) < abs(
            written - middle
        ):
            return SlipFound(place, math.exp(middle), factor, name)
    return None


def _limits(
    ages: Sequence[int], values: Sequence[float], place: int, kind: Kind
) -> tuple[float, float]:
    """Return the logarithms between which the point may lie, from its neighbours."""
    inside = 0 < place < len(ages) - 1
    if inside:
        (a, b), (u, v) = _pair(ages, place), _pair(values, place)
        part = (ages[place] - a) / (b - a)
        line = (1.0 - part) * math.log(u) + part * math.log(v)
        return line - _FAR, line + _FAR
    other = 1 if place == 0 else place - 1
    gap = abs(ages[place] - ages[other])
    fastest = _FASTEST_YOUNG if min(ages[place], ages[other]) < _YOUNG else _FASTEST_LATER
    growth = gap * fastest * (1.0 if kind is Kind.MASS else _LENGTH_EXPONENT)
    near = math.log(values[other])
    if place == 0:
        return near - growth - _FAR, near + _FAR
    return near - _FAR, near + growth + _FAR


def _pair(row: Sequence[float], place: int) -> tuple[float, float]:
    return row[place - 1], row[place + 1]
