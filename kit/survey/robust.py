"""Middles, spreads and centiles that one misread tape does not move, and how sure they are.

Every dog counts in them; a value far from all others counts less, so that a population can be
described before its misread readings are taken again.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]
DRAWS = 400
"""Bootstrap draws: the ends of a 95 % interval stand to about a twentieth of its width."""
AT_ONCE = 2_000_000
"""Drawn values held at once."""
ROUNDING = 1e-9
REACH = 9.0
"""Median absolute deviations from the median beyond which a value counts no more."""


def biweight(rows: Array) -> tuple[Array, Array]:
    """Return biweight middle and variance of each row of values.

    Parameters
    ----------
    rows : array, shape (m, n)
        m samples of n values.

    Returns
    -------
    middle, variance : arrays, shape (m,)
        A row that hardly differs gives the mean and variance as they are.

    Source: Mosteller F, Tukey JW 1977, Data Analysis and Regression, p. 205-208 (from memory).
    """
    median = np.median(rows, axis=1, keepdims=True)
    off = rows - median
    spread = np.median(np.abs(off), axis=1, keepdims=True)
    flat = ~(spread[:, 0] > 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        far = (off / (REACH * spread)) ** 2
        left = np.where(far < 1.0, 1.0 - far, 0.0)
        weights = left**2
        middle = median[:, 0] + (off * weights).sum(axis=1) / weights.sum(axis=1)
        steep = (left * (1.0 - 5.0 * far)).sum(axis=1)
        variance = rows.shape[1] * (off**2 * weights**2).sum(axis=1) / steep**2
    return (
        np.where(flat, rows.mean(axis=1), middle),
        np.where(flat, rows.var(axis=1, ddof=1), variance),
    )


def redrawn(count: int, name: str, draws: int = DRAWS) -> Iterator[NDArray[np.intp]]:
    """Draw places of dogs with replacement, some rows of `count` at a time; seeded by a name."""
    generator = np.random.default_rng(zlib.crc32(name.encode()))
    rows = max(1, AT_ONCE // max(count, 1))
    for start in range(0, draws, rows):
        yield generator.integers(count, size=(min(rows, draws - start), count))


GROUPS = 400
"""Groups of dogs that are redrawn whole where only sums are asked; so few dogs are groups alone."""


def in_groups(count: int) -> list[NDArray[np.intp]]:
    """Divide so many dogs at random into groups, at most `GROUPS`; return the places of each."""
    mixed = np.random.default_rng(count).permutation(count)
    return np.array_split(mixed, min(GROUPS, count))


def group_weights(groups: int, draws: int = DRAWS) -> Array:
    """Return how often each group is drawn, shape (draws, groups); the same for the same count."""
    even = np.full(groups, 1.0 / groups)
    drawn = np.random.default_rng(groups).multinomial(groups, even, size=draws)
    return np.asarray(drawn, dtype=np.float64)


def centile_with_interval(ordered: Array, percent: float) -> tuple[float, float, float]:
    """Return a centile and the 95 % percentile-bootstrap interval it has without drawing.

    How often an order statistic of a redrawn sample is at most the k-th value is a binomial tail,
    so that the ends of the bootstrap's interval are known exactly.

    Parameters
    ----------
    ordered : array, shape (n,)
        Sorted, no nan.

    Source: centiles by definition 8 of Hyndman RJ, Fan Y 1996, Am Stat 50:361-365; exact
    bootstrap of order statistics, Hutson AD, Ernst MD 2000, J R Stat Soc B 62:89-94 (from memory).
    """
    part, count = percent / 100.0, ordered.size
    place = min(max(count * part + (part + 1.0) / 3.0, 1.0), float(count))
    lower = min(int(place), count - 1)
    ranks = np.array([lower, lower + 1])
    weights = np.array([lower + 1 - place, place - lower])
    drawn = [
        np.ceil(count * special.betaincinv(ranks, count - ranks + 1, tail) - ROUNDING)
        for tail in (0.025, 0.975)
    ]
    value, low, high = (
        float(ordered[np.clip(at.astype(np.intp), 1, count) - 1] @ weights)
        for at in (ranks, *drawn)
    )
    return value, low, high
