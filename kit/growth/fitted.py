"""A fitted growth curve: parameters with covariance, bands, and figures to compare by."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from kit.growth.curves import Curve, working_scale
from kit.growth.error_models import ErrorModel
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class Band:
    """A curve and the limits about it, arrays of one shape (n,)."""

    age: Vector
    value: Vector
    low: Vector
    high: Vector


@dataclass(frozen=True, eq=False)
class Fit:
    """One growth curve fitted to one puppy.

    Attributes
    ----------
    curve : Curve
    estimates : array, shape (p,)
        The parameters, in the order of ``curve.parameters``; ages in days.
    covariance : array, shape (p, p)
        Of the parameters.
    dof : float
        Degrees of freedom of intervals (Student's t).
    residual_sd : float
        Standard deviation of a reading of weight one.
    rss : float
        Weighted sum of squared residuals.
    age, value, weights : array, shape (n,)
        What it was fitted to.
    log_likelihood : float
        Of the readings at the fitted curve, normal errors; nan for a fit that borrows.
    error : ErrorModel or None
        How readings scatter, where the weights came from such a model.
    fixed : tuple of str
        Parameters that were held at known values.
    borrowed : bool
        True where siblings or a population had a say.
    """

    curve: Curve
    estimates: Vector
    covariance: Matrix
    dof: float
    residual_sd: float
    rss: float
    age: Vector = field(repr=False)
    value: Vector = field(repr=False)
    weights: Vector = field(repr=False)
    log_likelihood: float = math.nan
    error: ErrorModel | None = None
    fixed: tuple[str, ...] = ()
    borrowed: bool = False

    @property
    def parameters(self) -> Mapping[str, float]:
        """Parameters by name."""
        names = self.curve.parameters
        return MappingProxyType(dict(zip(names, self.estimates.tolist(), strict=True)))

    @property
    def standard_errors(self) -> Mapping[str, float]:
        """Standard errors by name; zero for a parameter that was held."""
        errors = np.sqrt(np.diag(self.covariance))
        return MappingProxyType(dict(zip(self.curve.parameters, errors.tolist(), strict=True)))

    @property
    def free(self) -> int:
        """How many parameters were fitted."""
        return len(self.curve.parameters) - len(self.fixed)

    @property
    def aicc(self) -> float:
        """Akaike's criterion corrected for few readings; the lower of two on the same readings.

        Infinite where the readings are too few for the correction.

        Source: Hurvich and Tsai 1989, Biometrika 76:297-307 (from memory).
        """
        count, size = self.free + 1, self.value.size
        if size <= count + 1:
            return math.inf
        return -2.0 * self.log_likelihood + 2.0 * count * size / (size - count - 1)

    def at(self, age: ArrayLike) -> Vector:
        """Return the curve at ages in days."""
        return self.curve.value(age, self.estimates)

    def band(self, age: ArrayLike, level: float = 0.90, *, of: str = "curve") -> Band:
        """Return the curve with limits that hold it, or a further reading, at a confidence level.

        Parameters
        ----------
        age : array, shape (n,)
            Days.
        level : float
            Between 0 and 1, for each age by itself.
        of : str
            ``curve``, or ``reading`` for one further reading at that age.

        Raises
        ------
        EstimationError
            If `level` or `of` is not usable.

        Source: first-order propagation (JCGM 102:2011, 6.2) of the logarithm of the curve.
        """
        if of not in ("curve", "reading"):
            raise EstimationError("no such band", "'curve' or 'reading'", repr(of))
        days = np.atleast_1d(np.asarray(age, dtype=np.float64))
        middle = self.at(days)
        slopes = self.curve.gradient(days, self.estimates)
        variance = np.einsum("ij,jk,ik->i", slopes, self.covariance, slopes)
        if of == "reading":
            variance = variance + self._reading_sd(middle) ** 2
        half = quantile(level, self.dof) * np.sqrt(np.maximum(variance, 0.0))
        low, high = _around(middle, half)
        return Band(days, middle, low, high)

    def _reading_sd(self, middle: Vector) -> Vector:
        if self.error is not None:
            return self.residual_sd * self.error.deviation(middle)
        if np.ptp(self.weights) > 0:
            raise EstimationError(
                "no band for a further reading", "an error model, or equal weights",
                "weights of single readings", "give weights=ErrorModel(...)",
            )  # fmt: skip
        return np.full(middle.shape, self.residual_sd / math.sqrt(self.weights[0]))

    def working_covariance(self) -> Matrix:
        """Return the covariance of the parameters as the fit moves them (logarithms)."""
        scale = 1.0 / working_scale(self.curve, self.estimates)
        result: Matrix = self.covariance * np.outer(scale, scale)
        return result


@dataclass(frozen=True, eq=False)
class LitterFit:
    """A litter fitted together.

    Attributes
    ----------
    fits : mapping of name to Fit
    mean : array, shape (p,)
        Working parameters of the litter, midway between the sexes.
    within : array, shape (p, p)
        Covariance of siblings about it.
    residual_sd : float
        Scatter of readings as a multiple of the error model.
    covariance : array, shape (n p, n p)
        Of the working parameters of all puppies together, in the order of `fits`.
    """

    curve: Curve
    fits: Mapping[str, Fit]
    mean: Vector
    within: Matrix
    residual_sd: float
    covariance: Matrix
    iterations: int


def _around(middle: Vector, half: Vector) -> tuple[Vector, Vector]:
    """Lay limits on the scale of ratios where sizes are positive: no puppy weighs less than 0."""
    positive = middle > 0
    ratio = np.exp(np.divide(half, middle, out=np.zeros_like(half), where=positive))
    low = np.where(positive, middle / ratio, middle - half)
    return low, np.where(positive, middle * ratio, middle + half)


def quantile(level: float, dof: float) -> float:
    """Return the factor of a two-sided interval of Student's t; infinite `dof` is the normal.

    Raises
    ------
    EstimationError
        If `level` is not between 0 and 1, or `dof` not above zero.
    """
    if not (0.0 < level < 1.0 and dof > 0):
        raise EstimationError("no such interval", "0 < level < 1 and dof > 0", f"{level}, {dof}")
    upper = (1.0 + level) / 2.0
    return float(special.ndtri(upper) if math.isinf(dof) else special.stdtrit(dof, upper))
