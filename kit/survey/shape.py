"""Principal components: along which lines the dogs of a population differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]
LARGEST_GAP = 0.15
"""A measurement that more dogs than this lack is left out, so that the others keep their dogs."""


@dataclass(frozen=True)
class Component:
    """One line along which dogs differ.

    Attributes
    ----------
    share, low, high : float
        Part of all differences it carries, with a 95 % bootstrap interval.
    loadings : mapping of measurement to float
        Relative change of each measurement for one standard deviation along it.
    scores : array, shape (n,)
        Where each dog used lies, in standard deviations.
    """

    number: int
    share: float
    low: float
    high: float
    loadings: Mapping[str, float]
    scores: Array


@dataclass(frozen=True)
class Shape:
    """The components of a population.

    Attributes
    ----------
    means : mapping of measurement to float
        Geometric means, in the unit of the kind.
    rows : array of bool, shape (n,)
        Dogs used: those that have every measurement used.
    left_out : tuple of str
        Measurements too many dogs lack.
    """

    components: tuple[Component, ...]
    means: Mapping[str, float]
    rows: NDArray[np.bool_]
    left_out: tuple[str, ...]

    def moved(self, component: int, deviations: float) -> dict[str, float]:
        """Return the measurements of the mean dog moved along a component (numbered from 1)."""
        loadings = self.components[component - 1].loadings
        return {
            key: mean * float(np.exp(deviations * loadings[key]))
            for key, mean in self.means.items()
        }


def shape(columns: Mapping[str, Array], count: int = 4, draws: int = 200) -> Shape:
    """Find the components of relative differences between dogs.

    Parameters
    ----------
    columns : mapping of measurement to array, shape (n,)
        All above zero (lengths, weight); logarithms are taken, so a component is a proportion.
    count : int
        How many components.

    Raises
    ------
    EstimationError
        If too few dogs have every measurement.

    Source: Jolicoeur P 1963, Biometrics 19:497-499: components of the covariance of logarithms.
    """
    kept = {k: c for k, c in columns.items() if np.isnan(c).mean() <= LARGEST_GAP}
    left_out = tuple(key for key in columns if key not in kept)
    table = np.array(list(kept.values())).T if kept else np.empty((0, 0))
    rows = np.all(np.isfinite(table) & (table > 0), axis=1)
    if int(rows.sum()) <= max(len(kept), 2) or len(kept) < 2:
        raise EstimationError("no components", "more dogs with every measurement than measurements",
                              f"{int(rows.sum())} dogs, {len(kept)} measurements")  # fmt: skip
    logs = np.log(table[rows])
    middle = logs.mean(axis=0)
    shares, directions, sizes = _decomposed(logs - middle)
    ends = _bootstrap(logs, draws, count)
    parts = tuple(
        _component(at, shares, directions, sizes, ends, list(kept), logs - middle)
        for at in range(min(count, len(kept)))
    )
    means = dict(zip(kept, np.exp(middle).tolist(), strict=True))
    return Shape(parts, means, rows, left_out)


def _decomposed(centred: Array) -> tuple[Array, Array, Array]:
    _, sizes, directions = np.linalg.svd(centred, full_matrices=False)
    variances = sizes**2 / (centred.shape[0] - 1)
    # The sign of a component is free: let larger be up.
    signs = np.sign(directions.sum(axis=1))
    signs[signs == 0] = 1.0
    return variances / variances.sum(), directions * signs[:, None], np.sqrt(variances)


def _bootstrap(logs: Array, draws: int, count: int) -> Array:
    generator = np.random.default_rng(logs.shape[0])
    shares = []
    for _ in range(draws):
        drawn = logs[generator.integers(logs.shape[0], size=logs.shape[0])]
        roots = np.linalg.svd(drawn - drawn.mean(axis=0), compute_uv=False) ** 2
        shares.append((roots / roots.sum())[:count])
    return np.asarray(np.quantile(shares, [0.025, 0.975], axis=0))


def _component(
    at: int,
    shares: Array,
    directions: Array,
    sizes: Array,
    ends: Array,
    keys: Sequence[str],
    centred: Array,
) -> Component:
    loadings = dict(zip(keys, (directions[at] * sizes[at]).tolist(), strict=True))
    scores = centred @ directions[at] / sizes[at]
    low, high = float(ends[0, at]), float(ends[1, at])
    return Component(at + 1, float(shares[at]), low, high, loadings, scores)
