"""How many dogs, measurers and repeats a measurer study needs for a wanted precision."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Integral

from scipy import special

from kit.quantities.errors import EstimationError

FEWEST_DOGS = 20
"""Commonly advised least number of subjects of a technical error study."""


@dataclass(frozen=True)
class Design:
    """One design of a measurer study and what it can be expected to give.

    Attributes
    ----------
    readings : int
        Readings of each measurement, all told.
    tem_low, tem_high : float
        95 % interval of the technical error of one measurer, as parts of its true value.
    between_low, between_high : float
        The same of the spread between measurers: few measurers tell little about all others.
    correlation_width : float
        Expected width of the 95 % interval of the intraclass correlation between measurers.
    handlings : int
        How many times one dog is measured through: every one is asked of the dog.
    """

    dogs: int
    measurers: int
    repeats: int
    tem_low: float
    tem_high: float
    between_low: float
    between_high: float
    correlation_width: float

    @property
    def readings(self) -> int:
        """Readings of each measurement."""
        return self.dogs * self.measurers * self.repeats

    @property
    def handlings(self) -> int:
        """How many times one dog is measured through."""
        return self.measurers * self.repeats


def design(dogs: int, measurers: int, repeats: int, expected: float = 0.9) -> Design:
    """Tell what a design can be expected to give.

    Parameters
    ----------
    expected : float
        The intraclass correlation one expects between measurers.

    Raises
    ------
    EstimationError
        For fewer than two dogs, measurers or repeats, or a correlation outside 0 to 1.

    Source: chi-squared interval of a standard deviation; Bonett DG 2002, Stat Med 21:1331-1335
    for the width (from memory, checked by simulation).
    """
    whole = all(isinstance(number, Integral) for number in (dogs, measurers, repeats))
    if not whole or min(dogs, measurers, repeats) < 2 or not 0.0 <= expected < 1.0:
        raise EstimationError("a study needs two of everything",
                              "whole numbers of dogs, measurers and repeats, at least 2; "
                              "a correlation from 0 to below 1",
                              f"{dogs}, {measurers}, {repeats}, {expected}")  # fmt: skip
    within = _interval(dogs * measurers * (repeats - 1))
    between = _interval(measurers - 1)
    return Design(dogs, measurers, repeats, *within, *between,
                  _correlation_width(dogs, measurers, expected))  # fmt: skip


def designs_for(
    tem_precision: float,
    correlation_width: float,
    expected: float = 0.9,
    measurers: Iterable[int] = (2, 3, 4),
    repeats: Iterable[int] = (2, 3),
) -> tuple[Design, ...]:
    """Return for each number of measurers and repeats the fewest dogs that will do.

    Parameters
    ----------
    tem_precision : float
        How far the upper end of the technical error's 95 % interval may lie above it: 0.25 means
        that 0.40 cm may be 0.50 cm.
    correlation_width : float
        Widest interval of the intraclass correlation that will do.

    Returns
    -------
    tuple of Design
        Fewest readings first; never fewer dogs than `FEWEST_DOGS`.
    """
    if not (tem_precision > 0.0 and 0.0 < correlation_width < 1.0):
        raise EstimationError("no such precision", "above zero; a width below one",
                              f"{tem_precision:g}, {correlation_width:g}")  # fmt: skip
    repeats = tuple(repeats)
    found = [
        _fewest(tem_precision, correlation_width, expected, who, times)
        for who in measurers
        for times in repeats
    ]
    return tuple(sorted(found, key=lambda one: (one.readings, one.handlings)))


def _fewest(precision: float, width: float, expected: float, who: int, times: int) -> Design:
    def enough(dogs: int) -> bool:
        one = design(dogs, who, times, expected)
        return one.tem_high - 1.0 <= precision and one.correlation_width <= width

    most = FEWEST_DOGS
    while not enough(most):
        most *= 2
    # Both shrink with every dog, so that halving finds the first that will do.
    dogs = FEWEST_DOGS + bisect_left(range(FEWEST_DOGS, most), True, key=enough)
    return design(dogs, who, times, expected)


def _interval(dof: int) -> tuple[float, float]:
    return (
        math.sqrt(dof / float(special.chdtri(dof, 0.025))),
        math.sqrt(dof / float(special.chdtri(dof, 0.975))),
    )


def _correlation_width(dogs: int, measurers: int, expected: float) -> float:
    z = float(special.ndtri(0.975))
    top = 8.0 * z**2 * (1.0 - expected) ** 2 * (1.0 + (measurers - 1) * expected) ** 2
    return math.sqrt(top / (measurers * (measurers - 1) * (dogs - 1)))
