"""Principal components: along which lines the dogs of a population differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.figure.algebra import one_thread
from kit.quantities.errors import EstimationError
from kit.survey.clauses import ERROR_TOO_LARGE
from kit.survey.robust import group_weights, in_groups

Array = NDArray[np.float64]
LARGEST_GAP = 0.5
"""A measurement that more dogs than this lack is left out."""
TOO_MANY_LACK = "too many dogs lack it"
ERROR_ALONE = "error of measuring alone may explain how it differs"


@dataclass(frozen=True)
class Component:
    """One line along which dogs differ.

    Attributes
    ----------
    share, low, high : float
        Part of all true differences it carries, with a 95 % bootstrap interval.
    loadings : mapping of measurement to float
        Relative change of each measurement for one standard deviation along it.
    """

    number: int
    share: float
    low: float
    high: float
    loadings: Mapping[str, float]


@dataclass(frozen=True)
class Shape:
    """The components of a population.

    Attributes
    ----------
    means : mapping of measurement to float
        Geometric means, in the unit of the kind.
    dogs : int
        Dogs used: those with any of the measurements; a pair of measurements counts for the dogs
        that have both.
    left_out : mapping of measurement to str
        Measurements not used, and why.
    """

    components: tuple[Component, ...]
    means: Mapping[str, float]
    dogs: int
    left_out: Mapping[str, str]

    def moved(self, component: int, deviations: float) -> dict[str, float]:
        """Return the measurements of the mean dog moved along a component (numbered from 1)."""
        loadings = self.components[component - 1].loadings
        return {
            key: mean * float(np.exp(deviations * loadings[key]))
            for key, mean in self.means.items()
        }


def shape(
    columns: Mapping[str, Array],
    errors: Mapping[str, Array] | None = None,
    count: int = 4,
) -> Shape:
    """Find the components of relative differences between dogs.

    Parameters
    ----------
    columns : mapping of measurement to array, shape (n,)
        All above zero (lengths, weight), nan where missing; logarithms are taken, so a component
        is a proportion.
    errors : mapping of measurement to array, shape (n,), optional
        Standard uncertainties. What measuring adds to the variance of each is taken out; else a
        component may be no more than the hand's.
    count : int
        How many components.

    Raises
    ------
    EstimationError
        If fewer than two measurements or too few dogs are left.

    Source: Jolicoeur P 1963, Biometrics 19:497-499: components of the covariance of logarithms.
    """
    noise = {key: _relative_error(key, column, errors) for key, column in columns.items()}
    left_out = {key: why for key in columns if (why := _unusable(columns[key], noise[key]))}
    kept = [key for key in columns if key not in left_out]
    if len(kept) < 2:
        raise EstimationError("no components", "two measurements that most dogs have", str(kept))
    table = np.array([columns[key] for key in kept]).T
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.log(table[np.isfinite(table).any(axis=1)])
    if logs.shape[0] <= len(kept):
        raise EstimationError("no components", "more dogs than measurements",
                              f"{logs.shape[0]} dogs, {len(kept)} measurements")  # fmt: skip
    known = np.isfinite(logs)
    middle = np.nanmean(np.where(known, logs, np.nan), axis=0)
    sums = _Sums.of(np.where(known, logs - middle, 0.0), known)
    errors_out = np.array([noise[key] for key in kept])
    (roots,), (lines,) = _decomposed(
        sums.covariances(np.ones((1, sums.blocks))) - np.diag(errors_out)
    )
    low, high = _bootstrap(sums, errors_out)
    parts = tuple(
        Component(at + 1, float(roots[at] / roots.sum()), float(low[at]), float(high[at]),
                  dict(zip(kept, (lines[at] * np.sqrt(roots[at])).tolist(), strict=True)))
        for at in range(min(count, len(kept)))
    )  # fmt: skip
    means = dict(zip(kept, np.exp(middle).tolist(), strict=True))
    return Shape(parts, means, logs.shape[0], left_out)


def _relative_error(key: str, column: Array, errors: Mapping[str, Array] | None) -> float:
    """Return the mean square of the error, relative to the value."""
    if errors is None:
        return 0.0
    relative = (errors[key] / column)[np.isfinite(column)]
    return float(np.mean(relative**2)) if relative.size else 0.0


def _unusable(column: Array, noise: float) -> str:
    """Say why a measurement is not used; empty if it is."""
    known = column[np.isfinite(column)]
    if known.size < 2 or known.size < (1.0 - LARGEST_GAP) * column.size:
        return TOO_MANY_LACK
    if np.any(known <= 0.0):
        return "not all of it is above zero"
    return ERROR_ALONE if noise >= ERROR_TOO_LARGE * float(np.log(known).var(ddof=1)) else ""


@dataclass(frozen=True)
class _Sums:
    """Sums over groups of dogs from which every redrawn covariance follows.

    Attributes
    ----------
    products, pairs : arrays, shape (blocks, k, k)
        Products of two measurements and dogs that have both.
    values : array, shape (blocks, k, k)
        Of the first measurement over the dogs that have both.
    """

    products: Array
    pairs: Array
    values: Array

    @classmethod
    def of(cls, centred: Array, known: NDArray[np.bool_]) -> _Sums:
        groups = in_groups(centred.shape[0])
        flags = known.astype(np.float64)
        return cls(*(
            np.array([one[group].T @ other[group] for group in groups])
            for one, other in ((centred, centred), (flags, flags), (centred, flags))
        ))  # fmt: skip

    @property
    def blocks(self) -> int:
        return len(self.products)

    def covariances(self, weights: Array) -> Array:
        """Return the covariance for each way to count the groups, shape (m, k, k).

        Parameters
        ----------
        weights : array, shape (m, blocks)
            How many times each group counts.
        """
        products, pairs, values = (
            (weights @ part.reshape(self.blocks, -1)).reshape(-1, *part.shape[1:])
            for part in (self.products, self.pairs, self.values)
        )
        pairs = np.maximum(pairs, 2.0)
        return np.asarray((products - values * values.swapaxes(1, 2) / pairs) / (pairs - 1.0))


def _decomposed(covariances: Array) -> tuple[Array, Array]:
    """Return variances along the components, none below zero, and the components in rows."""
    roots, columns = np.linalg.eigh(covariances)
    lines = columns.swapaxes(1, 2)[:, ::-1]
    # The sign of a component is free: let larger be up.
    signs = np.where(lines.sum(axis=2, keepdims=True) < 0.0, -1.0, 1.0)
    return np.maximum(roots[:, ::-1], 0.0), lines * signs


def _bootstrap(sums: _Sums, errors: Array) -> tuple[Array, Array]:
    """Return the ends of the 95 % intervals of the shares, shape (k,) each."""
    with one_thread():
        roots, _ = _decomposed(sums.covariances(group_weights(sums.blocks)) - np.diag(errors))
    low, high = np.quantile(roots / roots.sum(axis=1, keepdims=True), [0.025, 0.975], axis=0)
    return low, high
