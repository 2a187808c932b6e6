"""What a population is like: numbers, centiles with intervals, and how groups differ."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from kit.quantities.errors import EstimationError
from kit.survey.robust import centile_with_interval

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
CENTILES = (5.0, 25.0, 50.0, 75.0, 95.0)
FEWEST = 5


@dataclass(frozen=True)
class Centile:
    """One centile with its 95 % bootstrap interval."""

    percent: float
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Summary:
    """One figure of one group of dogs, in the unit of its kind.

    Attributes
    ----------
    count, missing : int
        Dogs that have it, and dogs of the group that do not.
    mean_low, mean_high : float
        95 % interval of the mean (Student's t).
    """

    count: int
    missing: int
    mean: float
    mean_low: float
    mean_high: float
    sd: float
    centiles: tuple[Centile, ...]

    @property
    def standard_error(self) -> float:
        """Standard error of the mean."""
        return self.sd / math.sqrt(self.count)


def mean_and_sd(values: ArrayLike) -> tuple[float, float]:
    """Return mean and standard deviation (n - 1), shifted first so that no digit is lost.

    Raises
    ------
    EstimationError
        For fewer than two values.
    """
    known = _known(values)
    if known.size < 2:
        raise EstimationError("no standard deviation", "at least two values", str(known.size))
    start = float(known[0])
    shifted = known - start
    return start + math.fsum(shifted) / known.size, float(shifted.std(ddof=1))


def summarise(values: ArrayLike) -> Summary:
    """Summarise one figure of one group.

    Parameters
    ----------
    values : array, shape (n,)
        nan where it is missing.

    Raises
    ------
    EstimationError
        For fewer than `FEWEST` values.
    """
    known = _known(values)
    if known.size < FEWEST:
        raise EstimationError("too few dogs to summarise", f"at least {FEWEST}", str(known.size))
    mean, sd = mean_and_sd(known)
    half = float(stats.t.ppf(0.975, known.size - 1)) * sd / math.sqrt(known.size)
    ordered = np.sort(known)
    return Summary(
        known.size,
        int(np.size(values)) - known.size,
        mean,
        mean - half,
        mean + half,
        sd,
        tuple(Centile(percent, *centile_with_interval(ordered, percent)) for percent in CENTILES),
    )


def _known(values: ArrayLike) -> Array:
    every = np.asarray(values, dtype=np.float64)
    return every[np.isfinite(every)]


def varies(values: Array) -> bool:
    """Tell whether values differ by more than the rounding of numbers."""
    return bool(np.ptp(values) > 1e-9 * np.max(np.abs(values)))


def by_group(values: Array, groups: Sequence[str]) -> Mapping[str, Summary]:
    """Summarise each group that has enough dogs, in the order of their names."""
    labels = np.array(groups, dtype=object)
    found = {}
    for group in sorted(set(groups) - {""}):
        own = values[labels == group]
        if np.isfinite(own).sum() >= FEWEST:
            found[group] = summarise(own)
    return found


@dataclass(frozen=True)
class Contrast:
    """Two groups compared on one figure: first less second.

    Attributes
    ----------
    difference, low, high : float
        With a 95 % interval (Welch).
    percent : float
        The difference in percent of the mean of both.
    effect, effect_low, effect_high : float
        Hedges' g: the difference in standard deviations of a single dog.
    overlap : float
        Probability that a dog of the first group exceeds one of the second.
    p_value, p_adjusted : float
        Of Welch's test; adjusted for the figures compared together (Holm), else the same.
    """

    first: Summary
    second: Summary
    difference: float
    low: float
    high: float
    percent: float
    effect: float
    effect_low: float
    effect_high: float
    overlap: float
    p_value: float
    p_adjusted: float


def contrast(first: ArrayLike, second: ArrayLike) -> Contrast:
    """Compare two groups of dogs on one figure; sexual dimorphism is dogs against bitches.

    Raises
    ------
    EstimationError
        If a group has fewer than `FEWEST` values, or they are all one.

    Source: Welch BL 1947, Biometrika 34:28-35 (scipy.stats.ttest_ind); Hedges LV 1981, J Educ
    Stat 6:107-128 (from memory).
    """
    a, b = _known(first), _known(second)
    one, other = summarise(first), summarise(second)
    if not (varies(a) and varies(b)):
        raise EstimationError("nothing to compare", "dogs that differ within both groups")
    test = stats.ttest_ind(a, b, equal_var=False)
    low, high = test.confidence_interval(0.95)
    effect, error = _hedges(one, other)
    overlap = float(stats.mannwhitneyu(a, b).statistic) / (a.size * b.size)
    middle = (one.mean + other.mean) / 2.0
    difference = one.mean - other.mean
    return Contrast(
        one, other, difference, float(low), float(high),
        100.0 * difference / abs(middle) if middle else math.nan,
        effect, effect - 1.96 * error, effect + 1.96 * error, overlap,
        float(test.pvalue), float(test.pvalue),
    )  # fmt: skip


def _hedges(one: Summary, other: Summary) -> tuple[float, float]:
    n, m = one.count, other.count
    pooled = math.sqrt(((n - 1) * one.sd**2 + (m - 1) * other.sd**2) / (n + m - 2))
    if not pooled > 0:
        return 0.0, 0.0
    g = (one.mean - other.mean) / pooled * (1.0 - 3.0 / (4.0 * (n + m) - 9.0))
    return g, math.sqrt((n + m) / (n * m) + g**2 / (2.0 * (n + m)))


def compare_populations(
    first: Mapping[str, Array], second: Mapping[str, Array]
) -> Mapping[str, Contrast]:
    """Compare two populations on every figure both have, adjusted for how many are compared.

    Source: Holm S 1979, Scand J Stat 6:65-70.
    """
    found = {}
    for key in first.keys() & second.keys():
        try:
            found[key] = contrast(first[key], second[key])
        except EstimationError:  # too few dogs have it, or all of them alike
            continue
    found = {key: found[key] for key in first if key in found}
    adjusted = holm([one.p_value for one in found.values()])
    return {
        key: replace(one, p_adjusted=p)
        for (key, one), p in zip(found.items(), adjusted, strict=True)
    }


def holm(p_values: Sequence[float]) -> list[float]:
    """Adjust probabilities for having asked several questions at once."""
    adjusted, highest = [0.0] * len(p_values), 0.0
    for place, index in enumerate(sorted(range(len(p_values)), key=lambda i: p_values[i])):
        highest = max(highest, min(1.0, (len(p_values) - place) * p_values[index]))
        adjusted[index] = highest
    return adjusted
