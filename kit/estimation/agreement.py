"""How far several people agree: Fleiss' kappa, Gwet's AC1, Kendall's W, with intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special
from scipy.stats import rankdata

from kit.estimation.tables import numbers_in
from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]
COVERAGE = 0.95


@dataclass(frozen=True)
class Agreement:
    """One coefficient.

    Attributes
    ----------
    name : str
    value : float
        1 for full agreement; 0 for what chance alone would give.
    standard_error : float
        For other subjects (Kendall: other judges) of the same kind.
    low95, high95 : float
    observed, expected : float
        The part of pairs that agree, and what chance alone would give; nan for Kendall's W.
    null_error : float
        Standard error where there is no agreement at all: for a test, not for an interval; nan
        where none is known.
    statistic, probability : float
        Of a test that there is no agreement at all, and how likely a larger one is by chance.
    """

    name: str
    value: float
    standard_error: float
    low95: float
    high95: float
    observed: float
    expected: float
    null_error: float
    statistic: float
    probability: float


def fleiss_kappa(counts: ArrayLike) -> Agreement:
    """Return Fleiss' kappa.

    Parameters
    ----------
    counts : array-like, shape (subjects, categories)
        How many raters put each subject into each category; as many raters for each subject.

    Raises
    ------
    EstimationError
        If these are no such counts, or nobody ever used a second category.

    Source: Fleiss 1971, Psychological Bulletin 76:378-382; standard error without agreement by
    Fleiss, Nee and Landis 1979 (the variance of 1971 is known to be wrong); the standard error of
    the interval by Gwet 2008, British Journal of Mathematical and Statistical Psychology 61:29-48.
    """
    table = _table(counts, equal=True)
    shares = _shares(table)
    chance_each = (table / table.sum(axis=1, keepdims=True)) @ shares
    null = _null_error(table, shares)
    return _chance_corrected("Fleiss' kappa", table, float(np.sum(shares**2)), chance_each, null)


def gwet_ac1(counts: ArrayLike) -> Agreement:
    """Return Gwet's AC1; `counts` as for `fleiss_kappa`, raters may be missing here and there.

    A category nobody used counts as none: leave its column in only if it could be chosen.

    Source: Gwet 2008, British Journal of Mathematical and Statistical Psychology 61:29-48.
    """
    table = _table(counts, equal=False)
    shares, categories = _shares(table), table.shape[1]
    mean = float(np.sum(shares * (1 - shares))) / (categories - 1)
    each = (table / table.sum(axis=1, keepdims=True)) @ (1 - shares) / (categories - 1)
    return _chance_corrected("Gwet's AC1", table, mean, each, math.nan)


def kendall_w(ranks: ArrayLike) -> Agreement:
    """Return Kendall's W, corrected for ties.

    Parameters
    ----------
    ranks : array-like, shape (objects, judges)
        Ranks, or any grades: each judge's column is ranked, ties share the mean rank.

    Raises
    ------
    EstimationError
        If there are fewer than three objects or judges, or a judge told nothing apart.

    Notes
    -----
    W = 12 S / (m² (n³ - n) - m T), chi² = m (n - 1) W; the interval by a jackknife over judges of
    the mean correlation between them.
    """
    table = _numbers(ranks)
    if min(table.shape) < 3:
        raise EstimationError("no concordance", "three objects and three judges", f"{table.shape}")
    if np.any(np.ptp(table, axis=0) == 0.0):
        raise EstimationError("no concordance", "judges that tell objects apart",
                              "a judge who gave all the same")  # fmt: skip
    objects, judges = table.shape
    value = _concordance(table)
    pseudo = _pseudo_values(table)
    error = float(pseudo.std(ddof=1)) / math.sqrt(judges) * (judges - 1) / judges
    half = error * float(special.stdtrit(judges - 1, (1 + COVERAGE) / 2))
    statistic = judges * (objects - 1) * value
    chance = float(special.chdtrc(objects - 1, statistic))
    return Agreement("Kendall's W", value, error, max(0.0, value - half), min(1.0, value + half),
                     math.nan, math.nan, math.nan, statistic, chance)  # fmt: skip


def _pseudo_values(table: Array) -> Array:
    """Return the jackknife's values of the mean correlation between judges, one for each judge."""
    judges = table.shape[1]
    whole = _mean_correlation(_concordance(table), judges)
    without = [
        _mean_correlation(_concordance(np.delete(table, judge, axis=1)), judges - 1)
        for judge in range(judges)
    ]
    pseudo: Array = judges * whole - (judges - 1) * np.array(without)
    return pseudo


def _mean_correlation(concordance: float, judges: int) -> float:
    return (judges * concordance - 1) / (judges - 1)


def _concordance(table: Array) -> float:
    objects, judges = table.shape
    ranks = rankdata(table, axis=0)
    sums = ranks.sum(axis=1)
    spread = float(np.sum((sums - sums.mean()) ** 2))
    ties = sum(
        float(np.sum(times**3 - times))
        for times in (np.unique(column, return_counts=True)[1] for column in table.T)
    )
    return float(12 * spread / (judges**2 * (objects**3 - objects) - judges * ties))


def _chance_corrected(
    name: str, table: Array, chance: float, chance_each: Array, null: float
) -> Agreement:
    """Return a coefficient (observed - chance) / (1 - chance) with Gwet's standard error."""
    if chance >= 1.0:
        raise EstimationError(f"no {name}", "answers in two categories", "one category alone")
    raters = table.sum(axis=1)
    seen = raters >= 2
    agreed = np.zeros(len(table))
    agreed[seen] = (np.sum(table**2, axis=1) - raters)[seen] / (raters * (raters - 1))[seen]
    agreed *= len(table) / seen.sum()
    observed = float(agreed.mean())
    value = (observed - chance) / (1 - chance)
    each = (agreed - chance) / (1 - chance)
    each = each - 2 * (1 - value) * (chance_each - chance) / (1 - chance)
    subjects = len(table)
    error = math.sqrt(float(np.sum((each - value) ** 2)) / (subjects * (subjects - 1)))
    half = error * float(special.stdtrit(subjects - 1, (1 + COVERAGE) / 2))
    statistic = value / null if null > 0 else math.nan
    return Agreement(name, value, error, max(-1.0, value - half), min(1.0, value + half), observed,
                     chance, null, statistic, float(special.ndtr(-statistic)))  # fmt: skip


def _null_error(table: Array, shares: Array) -> float:
    """Return the standard error of kappa where there is no agreement (Fleiss and others 1979)."""
    subjects, raters = len(table), float(table[0].sum())
    other = 1 - shares
    total = float(np.sum(shares * other))
    lopsided = float(np.sum(shares * other * (other - shares)))
    if total == 0.0:
        return math.nan
    return math.sqrt(2 * (total**2 - lopsided) / (subjects * raters * (raters - 1))) / total


def _shares(table: Array) -> Array:
    result: Array = (table / table.sum(axis=1, keepdims=True)).mean(axis=0)
    return result


def _table(counts: ArrayLike, *, equal: bool) -> Array:
    table = _numbers(counts)
    if len(table) < 2 or table.shape[1] < 2:
        raise EstimationError("no agreement", "two subjects and two categories", f"{table.shape}")
    raters = table.sum(axis=1)
    if np.any(table < 0) or np.any(table != np.round(table)) or np.any(raters < 1):
        raise EstimationError("no agreement", "counts of raters, at least one a subject")
    if not np.any(raters >= 2) or (equal and np.any(raters != raters[0])):
        raise EstimationError("no agreement", "as many raters for every subject, at least two",
                              f"{raters.min():g} to {raters.max():g}")  # fmt: skip
    return table


def _numbers(values: ArrayLike) -> Array:
    table = numbers_in(values, "no agreement")
    if table.ndim != 2 or not np.all(np.isfinite(table)):
        raise EstimationError("no agreement", "a table of numbers", f"shape {table.shape}")
    return table
