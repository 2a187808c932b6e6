"""Fit L, M and S to a club's own readings by maximum likelihood.

M and S are exponentials of natural cubic splines of age^0.5 with few knots, L a constant or a
straight line: simple smooth curves rather than penalised ones, because a club has hundreds of
readings, not tens of thousands. Likelihood of Cole and Green 1992 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize
from scipy.interpolate import CubicSpline

from kit.growth.errors import NotSupportedError
from kit.growth.fitting import checked
from kit.growth.lms import Centiles
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

LEAST_READINGS, LEAST_DOGS = 100, 30
ROWS = 60  # ages at which the fitted reference is written down
LARGEST_SKEW = 4.0


@dataclass(frozen=True)
class Smoothness:
    """Degrees of freedom of the curves of L, M and S; one is a constant."""

    skew: int = 1
    median: int = 5
    variation: int = 2


def fit_lms(
    age: ArrayLike,
    value: ArrayLike,
    dogs: ArrayLike,
    title: str,
    source: str,
    smoothness: Smoothness | None = None,
) -> Centiles:
    """Fit a reference to a club's own readings of one breed, sex and measurement.

    Parameters
    ----------
    age, value : array, shape (n,)
        Days and sizes.
    dogs : array, shape (n,)
        Which dog each reading is of: readings of one dog are not independent, so dogs are
        counted as well as readings.

    Raises
    ------
    NotSupportedError
        For fewer than 100 readings or 30 dogs (common practice, no source).
    EstimationError
        If a size is not above zero or an age before birth, or the likelihood has no maximum.
    """
    days, sizes = checked(age, value)
    _check_enough(days, sizes, np.asarray(dogs))
    parts = smoothness or Smoothness()
    bases = [_basis(days, df) for df in (parts.skew, parts.median, parts.variation)]
    best = _maximised(bases, sizes)
    grid = np.linspace(days.min(), days.max(), ROWS)
    rows = [_basis(grid, df, days) for df in (parts.skew, parts.median, parts.variation)]
    skew, median, variation = _curves(rows, best)
    return Centiles(title, source, grid, skew, median, variation)


def _check_enough(days: Vector, sizes: Vector, dogs: NDArray[np.generic]) -> None:
    if dogs.shape != days.shape or np.any(sizes <= 0) or np.any(days < 0):
        needed = "a dog for each, sizes above zero, and ages from birth on"
        raise EstimationError("unusable readings", needed)
    count = np.unique(dogs).size
    if days.size < LEAST_READINGS or count < LEAST_DOGS:
        raise NotSupportedError(
            "too few readings for centiles",
            f"at least {LEAST_READINGS} readings of {LEAST_DOGS} dogs",
            f"{days.size} readings of {count} dogs",
            "collect more litters, or join with other kennels of the breed",
        )


def _basis(days: Vector, df: int, all_days: Vector | None = None) -> Matrix:
    """Return a natural cubic spline basis on the root of age, shape (n, df); 1 is a constant."""
    if df == 1:
        return np.ones((days.size, 1))
    root = np.sqrt(days)
    spread = np.sqrt(days if all_days is None else all_days)
    if df == 2:
        return np.column_stack([np.ones(days.size), (root - spread.mean()) / spread.std()])
    knots = np.quantile(spread, np.linspace(0.0, 1.0, df))
    if np.any(np.diff(knots) <= 0):
        knots = np.linspace(spread.min(), spread.max(), df)
    return np.asarray(CubicSpline(knots, np.eye(df), bc_type="natural")(root), dtype=np.float64)


def _curves(bases: list[Matrix], coefficients: Vector) -> tuple[Vector, Vector, Vector]:
    ends = np.cumsum([basis.shape[1] for basis in bases])
    skew, median, variation = (
        basis @ part for basis, part in zip(bases, np.split(coefficients, ends[:-1]), strict=True)
    )
    return skew, np.exp(median), np.exp(variation)


def _maximised(bases: list[Matrix], sizes: Vector) -> Vector:
    """Return the coefficients of greatest likelihood."""
    median = np.linalg.lstsq(bases[1], np.log(sizes), rcond=None)[0]
    away = np.log(sizes) - bases[1] @ median
    spread = np.linalg.lstsq(bases[2], np.full(sizes.size, np.log(away.std())), rcond=None)[0]
    begin = np.concatenate([np.full(bases[0].shape[1], 0.1), median, spread])

    def worse(coefficients: Vector) -> tuple[float, Vector]:
        return _negative_log_likelihood(bases, sizes, coefficients)

    found = optimize.minimize(worse, begin, jac=True, method="BFGS", options={"gtol": 1e-4})
    skew, _, _ = _curves(bases, found.x)
    if not np.isfinite(found.fun) or np.max(np.abs(skew)) > LARGEST_SKEW:
        raise EstimationError(
            "the centiles do not settle", "readings of one breed and sex without slips",
            do="look for slips of the pen, then fit again",
        )  # fmt: skip
    return np.asarray(found.x, dtype=np.float64)


def _negative_log_likelihood(
    bases: list[Matrix], sizes: Vector, coefficients: Vector
) -> tuple[float, Vector]:
    """Return -log L and its slopes by the coefficients; constants are left out."""
    skew, median, variation = _curves(bases, coefficients)
    skew = np.where(np.abs(skew) < 1e-6, 1e-6, skew)
    ratio = np.log(sizes / median)
    power = np.exp(np.clip(skew * ratio, -60.0, 60.0))
    score = (power - 1.0) / (skew * variation)
    total = float(np.sum(0.5 * score**2 + np.log(variation) - skew * ratio))
    by_skew = score * (power * ratio / (skew * variation) - score / skew) - ratio
    by_median = -score * power / variation + skew
    by_variation = 1.0 - score**2
    slopes = [
        basis.T @ row for basis, row in zip(bases, (by_skew, by_median, by_variation), strict=True)
    ]
    return total, np.concatenate(slopes)
