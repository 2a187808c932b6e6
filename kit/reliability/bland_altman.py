"""Two ways to measure one thing: what they differ by, and within which limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from kit.estimation.tables import numbers_in
from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]
Z95 = float(special.ndtri(0.975))


@dataclass(frozen=True)
class Level:
    """A level of the picture with its 95 % confidence band."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Agreement:
    """Agreement of two ways to measure, in the unit of the readings.

    Attributes
    ----------
    means, differences : array, shape (n,)
        Of each dog; first way less second.
    bias : Level
        Mean difference.
    lower, upper : Level
        Limits of agreement of single readings.
    sd : float
        Standard deviation of the differences of single readings.
    slope : Level
        Change of the difference for one unit of the mean: not zero where one way reads more on
        larger dogs.
    concordance : float
        Lin's coefficient (1989, with n as the denominator); nan where all dogs read alike.
    left_out : int
        Dogs that were read one way only.
    """

    means: Array
    differences: Array
    bias: Level
    lower: Level
    upper: Level
    sd: float
    slope: Level
    concordance: float
    left_out: int


def bland_altman(a: ArrayLike, b: ArrayLike, multiplier: float = Z95) -> Agreement:
    """Compare two ways to measure the same dogs.

    Parameters
    ----------
    a, b : arrays, shape (n,) or (n, repeats)
        Readings of the same dogs in the same order; nan where one is missing. Of repeats the
        mean is compared, and the limits are put back to those of single readings.
    multiplier : float
        Limits are the mean ± this many standard deviations: 1.96, or 2 as printed in 1986.

    Raises
    ------
    EstimationError
        If the two are of different dogs, fewer than three dogs are left, or the multiplier is
        not above zero.

    Source: Bland JM, Altman DG 1986, Lancet i:307-310; for repeats their 1999 paper, Stat Methods
    Med Res 8:135-160, section 5 (from memory).
    """
    if not 0.0 < multiplier < math.inf:
        raise EstimationError(
            "no limits of agreement", "a multiplier above zero", f"{multiplier:g}"
        )
    first, second = _rows(a), _rows(b)
    if first.shape[0] != second.shape[0]:
        raise EstimationError("the two ways were not used on the same dogs", "as many rows",
                              f"{first.shape[0]} and {second.shape[0]}")  # fmt: skip
    whole = np.isfinite(first).all(axis=1) & np.isfinite(second).all(axis=1)
    first, second = first[whole], second[whole]
    if first.shape[0] < 3:
        raise EstimationError("too few dogs were measured both ways", "three", str(len(first)))
    differences = first.mean(axis=1) - second.mean(axis=1)
    means = (first.mean(axis=1) + second.mean(axis=1)) / 2.0
    variance = float(differences.var(ddof=1)) + _lost(first) + _lost(second)
    return _agreement(means, differences, math.sqrt(variance), multiplier, int(np.sum(~whole)))


def _rows(values: ArrayLike) -> Array:
    rows = numbers_in(values, "two ways cannot be compared")
    return rows[:, None] if rows.ndim == 1 else rows


def _lost(rows: Array) -> float:
    """Return the variance that averaging the repeats took away from a single reading."""
    repeats: int = rows.shape[1]
    if repeats == 1:
        return 0.0
    within = float(np.mean(np.var(rows, axis=1, ddof=1)))
    return (1.0 - 1.0 / repeats) * within


def _agreement(
    means: Array, differences: Array, sd: float, multiplier: float, left_out: int
) -> Agreement:
    n = differences.size
    factor = float(special.stdtrit(n - 1, 0.975))
    bias = float(differences.mean())
    reach = factor * sd / math.sqrt(n)
    limit_reach = factor * math.sqrt(3.0) * sd / math.sqrt(n)
    low, high = bias - multiplier * sd, bias + multiplier * sd
    return Agreement(
        means, differences,
        Level(bias, bias - reach, bias + reach),
        Level(low, low - limit_reach, low + limit_reach),
        Level(high, high - limit_reach, high + limit_reach),
        sd, _slope(means, differences), _concordance(means, differences), left_out,
    )  # fmt: skip


def _slope(means: Array, differences: Array) -> Level:
    if not np.ptp(means) > 0:
        return Level(0.0, -math.inf, math.inf)
    fit = stats.linregress(means, differences)
    reach = float(special.stdtrit(means.size - 2, 0.975)) * float(fit.stderr)
    return Level(float(fit.slope), float(fit.slope) - reach, float(fit.slope) + reach)


def _concordance(means: Array, differences: Array) -> float:
    a, b = means + differences / 2.0, means - differences / 2.0
    shared = 2.0 * float(np.mean((a - a.mean()) * (b - b.mean())))
    apart = float(a.var() + b.var()) + float(a.mean() - b.mean()) ** 2
    return shared / apart if apart > 0 else math.nan
