"""Reference centiles by the LMS method: skewness L, median M, variation S at each age.

Source: Cole and Green 1992, Stat Med 11:1305-1319 (from memory); formulas as in the WHO Child
Growth Standards 2006. The nine centile lines lie two thirds of a standard deviation apart:
Cole 1994, BMJ 308:641-642 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import sympy
from numpy.typing import ArrayLike, NDArray
from scipy import special
from scipy.interpolate import PchipInterpolator

from kit.estimation.propagation import compile_model
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]

SKEW, MEDIAN, VARIATION = sympy.symbols("skew median variation", real=True)
SCORE, SIZE = sympy.symbols("score size", real=True)
SIZE_AT_SCORE = MEDIAN * (1 + SKEW * VARIATION * SCORE) ** (1 / SKEW)
SIZE_AT_SCORE_UNSKEWED = MEDIAN * sympy.exp(VARIATION * SCORE)
SCORE_OF_SIZE = ((SIZE / MEDIAN) ** SKEW - 1) / (SKEW * VARIATION)
SCORE_OF_SIZE_UNSKEWED = sympy.log(SIZE / MEDIAN) / VARIATION

STEP = 2.0 / 3.0
NINE_SCORES = tuple(STEP * place for place in range(-4, 5))
NINE_NAMES = ("0.4", "2", "9", "25", "50", "75", "91", "98", "99.6")
_NO_SKEW = 1e-8


def size_at(score: ArrayLike, skew: ArrayLike, median: ArrayLike, variation: ArrayLike) -> Vector:
    """Return the size at a z-score, arrays that broadcast; nan where the formula has no value."""
    return _either(SIZE_AT_SCORE, SIZE_AT_SCORE_UNSKEWED,
                   score=score, skew=skew, median=median, variation=variation)  # fmt: skip


def score_of(size: ArrayLike, skew: ArrayLike, median: ArrayLike, variation: ArrayLike) -> Vector:
    """Return the z-score of a size, arrays that broadcast."""
    return _either(SCORE_OF_SIZE, SCORE_OF_SIZE_UNSKEWED,
                   size=size, skew=skew, median=median, variation=variation)  # fmt: skip


def _either(skewed: sympy.Expr, unskewed: sympy.Expr, **given: ArrayLike) -> Vector:
    """Evaluate the declaration that holds: the second is the limit of the first at no skew."""
    names = list(given)
    arrays = dict(zip(names, np.broadcast_arrays(*(np.asarray(v, float) for v in given.values())),
                      strict=True))  # fmt: skip
    one, other = compile_model(skewed), compile_model(unskewed)
    with np.errstate(all="ignore"):
        general = one.function(*(arrays[name] for name in one.names))
        limit = other.function(*(arrays[name] for name in other.names))
    result: Vector = np.where(np.abs(arrays["skew"]) < _NO_SKEW, limit, general)
    return result


def centile_of(score: ArrayLike) -> Vector:
    """Return the part of a population below a z-score, in percent."""
    result: Vector = 100.0 * special.ndtr(np.asarray(score, dtype=np.float64))
    return result


def score_of_centile(centile: float) -> float:
    """Return the z-score of a centile in percent."""
    if not 0.0 < centile < 100.0:
        raise EstimationError("no such centile", "between 0 and 100", f"{centile:g}")
    return float(special.ndtri(centile / 100.0))


@dataclass(frozen=True, eq=False)
class Centiles:
    """A reference: L, M and S at ages in days, shape (n,) each; between them a smooth curve.

    Attributes
    ----------
    title, source : str
        What it is of, and where the figures come from.
    """

    title: str
    source: str
    age: Vector
    skew: Vector
    median: Vector
    variation: Vector

    def __post_init__(self) -> None:
        rows = (self.age, self.skew, self.median, self.variation)
        sound = self.age.ndim == 1 and self.age.size >= 2
        sound = sound and all(row.shape == self.age.shape for row in rows)
        sound = sound and all(bool(np.all(np.isfinite(row))) for row in rows)
        if not (sound and np.all(np.diff(self.age) > 0)
                and np.all(self.median > 0) and np.all(self.variation > 0)):  # fmt: skip
            raise EstimationError(
                f"'{self.title}' is no reference", "ages that rise, and M and S above zero"
            )

    def at(self, age: ArrayLike) -> tuple[Vector, Vector, Vector]:
        """Return L, M and S at ages in days.

        Raises
        ------
        EstimationError
            Outside the ages of the reference: it is not extended.
        """
        days = np.asarray(age, dtype=np.float64)
        if np.any(days < self.age[0]) or np.any(days > self.age[-1]):
            raise EstimationError(
                f"'{self.title}' does not cover this age",
                f"{self.age[0]:g} to {self.age[-1]:g} days", f"{days.min():g} to {days.max():g}",
            )  # fmt: skip
        skew, median, variation = (
            np.asarray(PchipInterpolator(self.age, row)(days), dtype=np.float64)
            for row in (self.skew, self.median, self.variation)
        )
        return skew, median, variation

    def covers(self, age: float) -> bool:
        """Tell whether an age lies inside the reference."""
        return bool(self.age[0] <= age <= self.age[-1])

    def scores(self, age: ArrayLike, size: ArrayLike) -> Vector:
        """Return z-scores of sizes at ages, shape (n,)."""
        return score_of(size, *self.at(age))

    def lines(self, age: ArrayLike, scores: Sequence[float] = NINE_SCORES) -> NDArray[np.float64]:
        """Return the centile lines at ages, shape (lines, n)."""
        skew, median, variation = self.at(age)
        return np.array([size_at(score, skew, median, variation) for score in scores])
