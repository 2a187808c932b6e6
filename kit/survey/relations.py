"""How figures go together: growth of parts with size, ratios that share a base, trends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from kit.quantities.errors import EstimationError
from kit.survey.clauses import ERROR_TOO_LARGE
from kit.survey.robust import group_weights, in_groups
from kit.survey.summary import holm

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
        Of the logarithms; without the errors where these were given.
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


def allometry(
    part: ArrayLike,
    size: ArrayLike,
    part_error: ArrayLike | None = None,
    size_error: ArrayLike | None = None,
) -> Allometry:
    """Fit the reduced major axis of two lengths, both measured with error.

    Parameters
    ----------
    part, size : arrays, shape (n,)
    part_error, size_error : arrays, shape (n,), optional
        Standard uncertainties. What measuring adds to both variances is taken out, for it would
        turn the line: a part measured badly would seem to grow faster than the dog. The interval
        is then a bootstrap one.

    Raises
    ------
    EstimationError
        If fewer than `FEWEST` dogs have both, one is not above zero, or error of measuring alone
        may explain how the dogs differ.

    Source: Warton DI, Wright IJ, Falster DS, Westoby M 2006, Biol Rev 81:259-291, interval of
    Pitman (from memory; coverage checked by simulation).
    """
    nothing = np.zeros(np.shape(part))
    errors = [nothing if e is None else e for e in (part_error, size_error)]
    y, x, y_error, x_error = _both(part, size, *errors)
    if np.any(y <= 0) or np.any(x <= 0):
        raise EstimationError("no allometry of figures that are not above zero")
    moments = _moments(np.log(y), np.log(x), y_error / y, x_error / x)
    slope, r = (float(one[0]) for one in _axis(np.ones((1, len(moments))) @ moments))
    if math.isnan(slope):
        raise EstimationError("no allometry", "dogs that differ by more than error of measuring")
    noisy = bool(np.any(y_error) or np.any(x_error))
    low, high = _drawn_ends(moments) if noisy else _pitman(slope, r, y.size)
    factor = math.exp(float(np.log(y).mean() - slope * np.log(x).mean()))
    return Allometry(y.size, slope, low, high, factor, r)


def _moments(y: Array, x: Array, y_noise: Array, x_noise: Array) -> Array:
    """Return the sums over groups of dogs that an axis follows from, shape (groups, 8)."""
    y, x = y - y.mean(), x - x.mean()
    every = np.array([np.ones_like(y), y, x, y * y, x * x, x * y, y_noise**2, x_noise**2]).T
    return np.array([every[group].sum(axis=0) for group in in_groups(y.size)])


def _axis(moments: Array) -> tuple[Array, Array]:
    """Return slopes and correlations without the noise, shape (m,), of summed moments (m, 8)."""
    count, *sums = moments.T
    y, x, yy, xx, xy, y_noise, x_noise = (one / count for one in sums)
    seen = np.array([yy - y * y, xx - x * x])
    true = seen - np.array([y_noise, x_noise])
    y_true, x_true = np.where(true > (1.0 - ERROR_TOO_LARGE) * seen, true, np.nan)
    together = xy - x * y
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.copysign(np.sqrt(y_true / x_true), together)
        return slope, np.clip(together / np.sqrt(y_true * x_true), -1.0, 1.0)


def _pitman(slope: float, r: float, count: int) -> tuple[float, float]:
    reach = float(special.stdtrit(count - 2, 0.975)) ** 2 * (1.0 - r**2) / (count - 2)
    low, high = sorted(
        slope * (math.sqrt(reach + 1.0) + sign * math.sqrt(reach)) for sign in (-1, 1)
    )
    return low, high


def _drawn_ends(moments: Array) -> tuple[float, float]:
    slopes, _ = _axis(group_weights(len(moments)) @ moments)
    low, high = np.nanquantile(slopes, [0.025, 0.975])
    return float(low), float(high)


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
    p_value, p_adjusted : float
        Of a slope of zero; adjusted for the figures looked at together (Holm), else the same.
    """

    count: int
    slope: float
    low: float
    high: float
    intercept: float
    slope_error: float
    intercept_error: float
    p_value: float
    p_adjusted: float


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
                 float(fit.stderr), at_zero, float(fit.pvalue), float(fit.pvalue))  # fmt: skip


def trends(years: ArrayLike, columns: Mapping[str, Array]) -> Mapping[str, Trend]:
    """Fit every figure that enough dogs of several years have, adjusted for how many these are.

    Source: Holm S 1979, Scand J Stat 6:65-70.
    """
    found = {}
    for key, values in columns.items():
        try:
            found[key] = trend(years, values)
        except EstimationError:  # too few dogs, or all of one year
            continue
    adjusted = holm([one.p_value for one in found.values()])
    return {
        key: replace(one, p_adjusted=p)
        for (key, one), p in zip(found.items(), adjusted, strict=True)
    }
