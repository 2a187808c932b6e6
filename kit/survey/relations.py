"""How figures go together: growth of parts with size, ratios that share a base, trends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]
FEWEST = 8


@dataclass(frozen=True)
class Allometry:
    """How a part grows with size among adult dogs: part = factor × size ** exponent.

    Attributes
    ----------
    exponent, low, high : float
        Reduced major axis of the logarithms with its 95 % interval; 1 keeps the proportion.
    correlation : float
        Of the logarithms.
    """

    count: int
    exponent: float
    low: float
    high: float
    factor: float
    correlation: float

    @property
    def keeps_proportion(self) -> bool:
        """True where the interval holds one: larger dogs are not seen to be built differently."""
        return self.low <= 1.0 <= self.high


def allometry(part: ArrayLike, size: ArrayLike) -> Allometry:
    """Fit the reduced major axis of two lengths, both measured with error.

    Raises
    ------
    EstimationError
        If fewer than `FEWEST` dogs have both, or one is not above zero.

    Source: Warton DI, Wright IJ, Falster DS, Westoby M 2006, Biol Rev 81:259-291, interval of
    Pitman (from memory; coverage checked by simulation).
    """
    y, x = _both(part, size)
    if np.any(y <= 0) or np.any(x <= 0):
        raise EstimationError("no allometry of figures that are not above zero")
    y, x = np.log(y), np.log(x)
    r = float(np.corrcoef(x, y)[0, 1])
    slope = math.copysign(float(y.std() / x.std()), r)
    reach = float(special.stdtrit(y.size - 2, 0.975)) ** 2 * (1.0 - r**2) / (y.size - 2)
    low, high = sorted(
        slope * (math.sqrt(reach + 1.0) + sign * math.sqrt(reach)) for sign in (-1, 1)
    )
    factor = math.exp(float(y.mean() - slope * x.mean()))
    return Allometry(y.size, slope, low, high, factor, r)


def _both(one: ArrayLike, other: ArrayLike, *more: ArrayLike) -> tuple[Array, ...]:
    columns = [np.asarray(column, dtype=np.float64) for column in (one, other, *more)]
    whole = np.all([np.isfinite(column) for column in columns], axis=0)
    if int(whole.sum()) < FEWEST:
        raise EstimationError(
            "too few dogs have both figures", f"at least {FEWEST}", str(whole.sum())
        )
    return tuple(column[whole] for column in columns)


@dataclass(frozen=True)
class SharedCorrelation:
    """Correlation of two ratios over one base, and what is left without the base.

    Attributes
    ----------
    correlation : float
        Of the two ratios as they stand.
    by_sharing : float
        What would be seen if numerators and base had nothing to do with one another.
    corrected, low, high : float
        Partial correlation of the logarithms of the numerators, the base held, with its 95 %
        interval (Fisher).
    """

    count: int
    correlation: float
    by_sharing: float
    corrected: float
    low: float
    high: float


def shared_correlation(first: ArrayLike, second: ArrayLike, base: ArrayLike) -> SharedCorrelation:
    """Correlate first / base with second / base, and say what the shared base makes of it.

    Parameters
    ----------
    first, second, base : arrays, shape (n,)
        The measurements, not the ratios.

    Source: Pearson K 1897, Proc R Soc Lond 60:489-498 (spurious correlation of indices).
    """
    x, y, z = _both(first, second, base)
    cx, cy, cz = (float(column.std() / column.mean()) for column in (x, y, z))
    sharing = cz**2 / math.sqrt((cx**2 + cz**2) * (cy**2 + cz**2))
    logs = np.corrcoef(np.log(np.abs([x, y, z])))
    xy, xz, yz = float(logs[0, 1]), float(logs[0, 2]), float(logs[1, 2])
    partial = (xy - xz * yz) / math.sqrt((1.0 - xz**2) * (1.0 - yz**2))
    half = 1.96 / math.sqrt(max(x.size - 4, 1))
    ends = (
        math.tanh(math.atanh(max(-1 + 1e-12, min(1 - 1e-12, partial))) + s * half) for s in (-1, 1)
    )
    return SharedCorrelation(
        x.size, float(np.corrcoef(x / z, y / z)[0, 1]), sharing, partial, *ends
    )


def shared_pairs(
    columns: Mapping[str, Array], base: str
) -> dict[tuple[str, str], SharedCorrelation]:
    """Return the correlations of all pairs of figures over one base that enough dogs have."""
    names = [name for name in columns if name != base]
    found = {}
    for one, other in combinations(names, 2):
        try:
            found[one, other] = shared_correlation(columns[one], columns[other], columns[base])
        except EstimationError:  # too few dogs have all three
            continue
    return found


@dataclass(frozen=True)
class Trend:
    """A straight line through a figure over the years.

    Attributes
    ----------
    slope, low, high : float
        Change a year, with its 95 % interval.
    intercept : float
        At year zero of the scale given.
    slope_error, intercept_error : float
        Standard errors.
    """

    count: int
    slope: float
    low: float
    high: float
    intercept: float
    slope_error: float
    intercept_error: float
    p_value: float


def trend(years: ArrayLike, values: ArrayLike) -> Trend:
    """Fit a straight line by least squares.

    Raises
    ------
    EstimationError
        If all dogs are of one year.
    """
    x, y = _both(years, values)
    if not np.ptp(x) > 0:
        raise EstimationError("no trend", "dogs of at least two years", "one year")
    middle = float(x.mean())
    fit = stats.linregress(x - middle, y)
    half = float(special.stdtrit(x.size - 2, 0.975)) * float(fit.stderr)
    slope = float(fit.slope)
    at_zero = math.hypot(float(fit.intercept_stderr), middle * float(fit.stderr))
    return Trend(x.size, slope, slope - half, slope + half, float(fit.intercept) - slope * middle,
                 float(fit.stderr), at_zero, float(fit.pvalue))  # fmt: skip
