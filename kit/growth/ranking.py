"""Puppies in order of size, and which of them the readings cannot tell apart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

TOLD_APART = 0.95  # probability from which one is said to be larger than another


@dataclass(frozen=True)
class Place:
    """One puppy's place.

    Attributes
    ----------
    value, low, high : float
        Its size with the interval it was given.
    place : int
        1 for the largest.
    best, worst : int
        The places left to it by the puppies it is told apart from.
    like : tuple of str
        Puppies it cannot be told apart from.
    """

    name: str
    value: float
    low: float
    high: float
    place: int
    best: int
    worst: int
    like: tuple[str, ...]


def rank(
    values: Mapping[str, tuple[float, float, float]],
    covariance: NDArray[np.float64],
    told_apart: float = TOLD_APART,
) -> tuple[Place, ...]:
    """Order puppies by size, the largest first.

    Parameters
    ----------
    values : mapping of n names to (value, low, high)
    covariance : array, shape (n, n)
        Of the natural logarithms of the values, in the order of `values`: what siblings share
        does not blur their order.
    told_apart : float
        Probability from which two puppies are told apart.

    Raises
    ------
    EstimationError
        If there is nothing to rank or the covariance does not fit.
    """
    names, size = list(values), len(values)
    if not names or covariance.shape != (size, size):
        raise EstimationError("nothing to rank", "puppies and their covariance", str(size))
    logs = np.log([row[0] for row in values.values()])
    order = sorted(range(size), key=lambda at: -logs[at])
    places = []
    for number, at in enumerate(order, start=1):
        like = [other for other in order if other != at
                and not _apart(logs, covariance, at, other, told_apart)]  # fmt: skip
        above = sum(logs[other] > logs[at] for other in order if other not in like)
        below = sum(logs[other] < logs[at] for other in order if other not in like)
        named = tuple(names[other] for other in like)
        places.append(
            Place(names[at], *values[names[at]], number, 1 + int(above), size - int(below), named)
        )
    return tuple(places)


def _apart(logs: Vector, covariance: Matrix, one: int, other: int, level: float) -> bool:
    variance = covariance[one, one] + covariance[other, other] - 2.0 * covariance[one, other]
    if variance <= 0:
        return bool(logs[one] != logs[other])
    return bool(special.ndtr(abs(logs[one] - logs[other]) / math.sqrt(variance)) >= level)


def in_words(places: Sequence[Place]) -> tuple[str, ...]:
    """Return one sentence for each puppy; a puppy alone has no order."""
    if len(places) == 1:
        return (f"{places[0].name}: there is no other to compare it with.",)
    return tuple(_sentence(place, len(places)) for place in places)


def _sentence(place: Place, count: int) -> str:
    if len(place.like) == count - 1 and count > 1:
        return f"{place.name}: cannot be told apart from any of the others."
    where = f"place {place.place}"
    if place.best != place.worst:
        where += f" (between {place.best} and {place.worst})"
    if not place.like:
        return f"{place.name}: {where}, told apart from all others."
    return f"{place.name}: {where}; cannot be told apart from {listed(place.like)}."


def listed(names: Sequence[str]) -> str:
    """Join names in words."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""
