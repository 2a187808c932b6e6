"""Fit a growth curve to the readings of one puppy, and compare curves."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, optimize

from kit.growth.curves import (
    CURVES,
    POSITIVE,
    Curve,
    curve,
    from_working,
    working_scale,
    working_slopes,
)
from kit.growth.error_models import ErrorModel
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit
from kit.growth.shared import Shared
from kit.growth.starting import starts
from kit.quantities.errors import EstimationError, KitError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

TOLERANCE = 1e-10
SLACK = 1e-12  # part by which rounding may raise the sum of squares
POLISHING = 30  # Gauss-Newton steps at most, after the search has ended
CONDITION = 1e9  # of the scaled slopes; beyond it some parameter is not determined
ROUNDS = 3  # of fitting again with weights taken at the fitted curve
FURTHEST = 1e100  # keeps squares finite
FAR = 1e6  # stands for a residual where the curve has no value
MODELS = tuple(CURVES)


def fit(
    model: str | Curve,
    age: ArrayLike,
    value: ArrayLike,
    weights: ArrayLike | ErrorModel | None = None,
    shared: Shared | Mapping[str, float] | None = None,
) -> Fit:
    """Fit a growth curve to one puppy by weighted least squares.

    Parameters
    ----------
    model : str or Curve
        ``gompertz``, ``logistic``, ``von_bertalanffy``, ``richards`` or ``monomolecular``.
    age, value : array, shape (n,)
        Days and sizes, in any order.
    weights : array, shape (n,), or ErrorModel, optional
        Weights as one over the variance, up to a factor; or how readings scatter, from which
        weights are taken at the fitted curve. Without: all alike.
    shared : mapping of str to float, or Shared, optional
        A mapping holds parameters at known values. A `Shared` (from `kit.growth.pooling.learn`)
        is what is known of the population: the puppy borrows from it where its own readings are
        few, and `weights` are then one over the variance itself.

    Raises
    ------
    EstimationError
        If the arrays cannot be used.
    NotSupportedError
        If the readings are too few or too much alike to determine the curve.

    Source: nonlinear least squares by Levenberg and Marquardt (MINPACK through SciPy), covariance
    of the parameters s²(JᵀJ)⁻¹ as in Bates and Watts 1988 (from memory).
    """
    family = curve(model)
    days, sizes = checked(age, value)
    if isinstance(shared, Shared):
        from kit.growth.pooling import fit_one

        return fit_one(family, days, sizes, weights, shared)
    fixed = dict(shared or {})
    _check_fixed(family, fixed)
    _check_enough(family, days, len(family.parameters) - len(fixed))
    if isinstance(weights, ErrorModel):
        return _by_error_model(family, days, sizes, weights, fixed)
    return _weighted(family, days, sizes, checked_weights(weights, days.size), fixed)


def checked(age: ArrayLike, value: ArrayLike) -> tuple[Vector, Vector]:
    """Return ages and sizes as arrays, or raise EstimationError."""
    days, sizes = (np.asarray(given, dtype=np.float64) for given in (age, value))
    if days.ndim != 1 or days.shape != sizes.shape:
        raise EstimationError(
            "ages and values do not belong together", "two lists of one length",
            f"shapes {days.shape} and {sizes.shape}",
        )  # fmt: skip
    if not (np.all(np.isfinite(days)) and np.all(np.isfinite(sizes))):
        raise EstimationError("an age or value is not a finite number")
    return days, sizes


def checked_weights(weights: ArrayLike | None, size: int) -> Vector:
    """Return weights as an array, or raise EstimationError."""
    given = np.ones(size) if weights is None else np.asarray(weights, dtype=np.float64)
    if given.shape != (size,) or not np.all(np.isfinite(given)) or np.any(given <= 0):
        raise EstimationError(
            "unusable weights", f"{size} numbers above zero", f"shape {given.shape}"
        )
    return given


def _check_fixed(family: Curve, fixed: Mapping[str, float]) -> None:
    for name, held in fixed.items():
        if name not in family.parameters:
            raise EstimationError(
                f"the {family.title} curve has no parameter '{name}'",
                ", ".join(family.parameters), name,
            )  # fmt: skip
        if not math.isfinite(held) or (name in POSITIVE and held <= 0):
            raise EstimationError(f"'{name}' cannot be {held:g}")


def _check_enough(family: Curve, days: Vector, free: int) -> None:
    needed = free + 1
    if days.size < needed or np.unique(days).size < needed:
        raise NotSupportedError(
            f"too few readings for a {family.title} curve",
            f"at least {needed} at different ages",
            f"{days.size} at {np.unique(days).size} ages",
            "measure on more days, or let the puppy borrow from its siblings",
        )


def _by_error_model(
    family: Curve, days: Vector, sizes: Vector, error: ErrorModel, fixed: Mapping[str, float]
) -> Fit:
    """Fit with weights at the fitted curve: weights at the readings would favour low ones."""
    deviation = error.deviation(sizes)
    result = _weighted(family, days, sizes, deviation**-2.0, fixed)
    for _ in range(ROUNDS):
        weights = error.deviation(result.at(days)) ** -2.0
        result = _weighted(family, days, sizes, weights, fixed, result.estimates)
    return replace(result, error=error)


def refit(fitted: Fit, held: Mapping[str, float]) -> Fit:
    """Fit the same readings again with some parameters held, beginning at the fitted curve."""
    return _weighted(fitted.curve, fitted.age, fitted.value, fitted.weights, held, fitted.estimates)


@dataclass(frozen=True)
class _Problem:
    """Residuals of one fit as a function of the free working parameters."""

    family: Curve
    days: Vector
    sizes: Vector
    root_weights: Vector
    held: Vector  # working parameters, nan where free

    @property
    def free(self) -> NDArray[np.bool_]:
        return np.isnan(self.held)

    def whole(self, free: Vector) -> Vector:
        working = self.held.copy()
        working[self.free] = free
        return working

    def residuals(self, free: Vector) -> Vector:
        with np.errstate(all="ignore"):
            parameters = from_working(self.family, self.whole(free))
            away = self.family.value(self.days, parameters) - self.sizes
            far = np.nan_to_num(self.root_weights * away, nan=FAR, posinf=FAR, neginf=-FAR)
        return np.clip(far, -FURTHEST, FURTHEST)

    def slopes(self, free: Vector) -> Matrix:
        with np.errstate(all="ignore"):
            slopes = working_slopes(self.family, self.days, self.whole(free))
        return np.nan_to_num(
            self.root_weights[:, None] * slopes[:, self.free], nan=0.0, posinf=FAR, neginf=-FAR
        )


def _weighted(
    family: Curve,
    days: Vector,
    sizes: Vector,
    weights: Vector,
    fixed: Mapping[str, float],
    near: Vector | None = None,
) -> Fit:
    held = np.array(
        [
            math.nan if name not in fixed
            else math.log(fixed[name]) if name in POSITIVE else fixed[name]
            for name in family.parameters
        ]
    )  # fmt: skip
    problem = _Problem(family, days, sizes, np.sqrt(weights), held)
    if near is None:
        begin = starts(family, days, sizes, weights)
    else:
        begin = [_log_where_positive(family, near)]
    best = _search(problem, begin)
    return _result(problem, _polished(problem, best), tuple(fixed))


def _log_where_positive(family: Curve, parameters: Vector) -> Vector:
    working = parameters.copy()
    for place, name in enumerate(family.parameters):
        if name in POSITIVE:
            working[place] = math.log(working[place])
    return working


def _search(problem: _Problem, begin: Sequence[Vector]) -> Vector:
    best: Vector | None = None
    least = math.inf
    for start in begin:
        found = optimize.least_squares(
            problem.residuals, start[problem.free], problem.slopes, method="lm",
            xtol=TOLERANCE, ftol=TOLERANCE, gtol=TOLERANCE, max_nfev=400,
        )  # fmt: skip
        if found.cost < least:
            best, least = found.x, float(found.cost)
    if best is None:
        raise NotSupportedError(
            f"no {problem.family.title} curve rises through these readings",
            "sizes that grow with age", do="look for a slip of the pen, or measure on",
        )  # fmt: skip
    return best


def _polished(problem: _Problem, working: Vector) -> Vector:
    """Take Gauss-Newton steps until they stop shrinking: the last digits."""
    residuals, last = problem.residuals(working), math.inf
    for _ in range(POLISHING):
        step = linalg.lstsq(problem.slopes(working), -residuals)[0]
        length = float(np.linalg.norm(step))
        moved = problem.residuals(working + step)
        if not (length < last and moved @ moved <= residuals @ residuals * (1.0 + SLACK)):
            break
        working, residuals, last = working + step, moved, length
    return working


def _result(problem: _Problem, free: Vector, fixed: tuple[str, ...]) -> Fit:
    family, size = problem.family, problem.days.size
    residuals, slopes = problem.residuals(free), problem.slopes(free)
    scale = np.linalg.norm(slopes, axis=0)
    if np.any(scale == 0) or np.linalg.cond(slopes / scale) > CONDITION:
        raise NotSupportedError(
            f"the readings do not determine a {family.title} curve",
            "readings before and after the steepest growth", f"{size} readings",
            "measure on, take a curve with fewer parameters, or let it borrow from siblings",
        )  # fmt: skip
    rss, dof = float(residuals @ residuals), size - free.size
    upper = np.linalg.qr(slopes, mode="r")
    root = np.linalg.inv(upper)
    parameters = from_working(family, problem.whole(free))
    inner = rss / dof * (root @ root.T)
    covariance = np.zeros((parameters.size, parameters.size))
    covariance[np.ix_(problem.free, problem.free)] = inner
    unit = working_scale(family, parameters)
    return Fit(
        curve=family,
        estimates=parameters,
        covariance=covariance * np.outer(unit, unit),
        dof=float(dof),
        residual_sd=math.sqrt(rss / dof),
        rss=rss,
        age=problem.days,
        value=problem.sizes,
        weights=problem.root_weights**2,
        log_likelihood=_log_likelihood(rss, problem.root_weights),
        fixed=fixed,
    )


def _log_likelihood(rss: float, root_weights: Vector) -> float:
    size = root_weights.size
    if rss <= 0:
        return math.inf
    spread = math.log(2.0 * math.pi * rss / size) + 1.0
    return float(-0.5 * size * spread + np.log(root_weights).sum())


@dataclass(frozen=True)
class Compared:
    """One curve among several on the same readings.

    Attributes
    ----------
    model : str
    fit : Fit or None
        None where the readings do not determine it; `reason` says why.
    behind : float
        AICc above that of the best curve; infinite where there is no fit.
    weight : float
        Akaike weight: how much of the evidence speaks for it among those compared.
    """

    model: str
    fit: Fit | None
    behind: float
    weight: float
    reason: str = ""


def compare(
    age: ArrayLike,
    value: ArrayLike,
    weights: ArrayLike | ErrorModel | None = None,
    models: Iterable[str] = MODELS,
) -> tuple[Compared, ...]:
    """Fit several curves to the same readings, the best supported first.

    Raises
    ------
    NotSupportedError
        If no curve is determined.

    Source: Akaike weights as in Burnham and Anderson 2002, 2.9 (from memory).
    """
    fits: dict[str, Fit] = {}
    reasons: dict[str, str] = {}
    for model in models:
        try:
            fits[model] = fit(model, age, value, weights)
        except KitError as fault:
            reasons[model] = str(fault)
    best = min((one.aicc for one in fits.values()), default=math.inf)
    if not math.isfinite(best):
        raise NotSupportedError(
            "no curves can be compared", "more readings than parameters plus two",
            f"{np.size(age)}", "measure on more days",
        )  # fmt: skip
    support = {model: math.exp(-0.5 * (one.aicc - best)) for model, one in fits.items()}
    rows = [
        Compared(model, one, one.aicc - best, support[model] / sum(support.values()))
        for model, one in fits.items()
    ]
    rows.sort(key=lambda row: row.behind)
    lost = [Compared(model, None, math.inf, 0.0, why) for model, why in reasons.items()]
    return (*rows, *lost)
