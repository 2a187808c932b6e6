"""Variance components: how much dogs, measurers, sides and the hand each contribute.

Restricted maximum likelihood for crossed and nested factors, with or without holes in the design.
Where a design is balanced and no component would be below zero it gives the estimates of the
analysis of variance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, optimize

from kit.estimation.tables import numbers_in
from kit.figure.algebra import one_thread
from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]
Labels = NDArray[np.int64]
REPEAT = "repeat"
STEPS = 60
CLOSE_ENOUGH = 1e-9
LEAST_REPEAT = 1e-9
"""Part of all differences below which the variance of repeats is not followed further."""


@dataclass(frozen=True)
class VarianceComponent:
    """One source of differences between readings.

    Attributes
    ----------
    sd : float
        Standard deviation it causes, in the unit of the readings.
    variance, uncertainty : float
        Its variance and the standard error of that (from the information matrix).
    share : float
        Part of the sum of all components.
    levels : int
        How many dogs, measurers and so on there were.
    """

    name: str
    sd: float
    variance: float
    uncertainty: float
    share: float
    levels: int


@dataclass(frozen=True)
class Components:
    """All components, and the factors the design could not tell apart from others."""

    parts: tuple[VarianceComponent, ...]
    mean: float
    readings: int
    left_out: Mapping[str, str]

    def variance(self, *names: str) -> float:
        """Return the summed variance of some components; one that is not there adds nothing."""
        return sum(part.variance for part in self.parts if part.name in names)

    def __contains__(self, name: str) -> bool:
        return any(part.name == name for part in self.parts)


def variance_components(values: ArrayLike, factors: Mapping[str, Sequence[object]]) -> Components:
    """Estimate the variance each factor contributes; what is left is called ``repeat``.

    Parameters
    ----------
    values : array, shape (n,)
        Readings; nan where one is missing.
    factors : mapping of name to n labels
        For example dog, measurer, and dog and measurer together. A factor that has one level, or
        divides the readings as another one does, cannot be told apart and is left out by name.

    Raises
    ------
    EstimationError
        If fewer than three readings are left or they are all equal, or a factor has not one
        label for each reading.

    Source: Patterson HD, Thompson R 1971, Biometrika 58:545-554; scoring with the expected
    information, each step held at zero or above (Searle, Casella, McCulloch 1992, ch. 6 and 8;
    from memory).
    """
    numbers = numbers_in(values, "no variance can be split", most=1)
    _check_labels(factors, numbers.size)
    known = np.isfinite(numbers)
    numbers = numbers[known]
    if numbers.size < 3 or not np.ptp(numbers) > 0:
        raise EstimationError("no variance can be split", "at least three readings that differ",
                              f"{numbers.size} readings")  # fmt: skip
    coded = {name: _codes(labels, known) for name, labels in factors.items()}
    usable, left_out = _told_apart(coded, numbers.size)
    scale = float(numbers.std())
    scaled = (numbers - numbers.mean()) / scale
    with one_thread():
        sizes, information = _restricted(scaled, list(usable.values()))
    errors = _standard_errors(information)
    levels = [int(codes.max()) + 1 for codes in usable.values()] + [numbers.size]
    parts = _parts([*usable, REPEAT], sizes * scale**2, errors * scale**2, levels)
    return Components(parts, float(numbers.mean()), numbers.size, left_out)


def _check_labels(factors: Mapping[str, Sequence[object]], readings: int) -> None:
    for name, labels in factors.items():
        if len(labels) != readings:
            raise EstimationError(f"the factor {name} does not fit the readings",
                                  f"{readings} labels", f"{len(labels)}")  # fmt: skip


def _parts(
    names: Sequence[str], sizes: Array, errors: Array, levels: Sequence[int]
) -> tuple[VarianceComponent, ...]:
    total = float(sizes.sum()) or 1.0
    rows = zip(names, sizes.tolist(), errors.tolist(), levels, strict=True)
    return tuple(
        VarianceComponent(name, float(np.sqrt(size)), size, error, size / total, level)
        for name, size, error, level in rows
    )


def _codes(labels: Sequence[object], known: NDArray[np.bool_]) -> Labels:
    kept = np.array([repr(label) for label in labels])[known]
    return np.unique(kept, return_inverse=True)[1].astype(np.int64)


def _told_apart(
    coded: Mapping[str, Labels], readings: int
) -> tuple[dict[str, Labels], dict[str, str]]:
    usable: dict[str, Labels] = {}
    left_out: dict[str, str] = {}
    for name, codes in coded.items():
        levels = int(codes.max()) + 1
        twin = next((other for other, one in usable.items() if _same_split(one, codes)), "")
        if levels == 1:
            left_out[name] = "only one level"
        elif levels == readings:
            left_out[name] = "one reading to a level: not to be told from repeats"
        elif twin:
            left_out[name] = f"divides the readings as {twin} does"
        else:
            usable[name] = codes
    return usable, left_out


def _same_split(one: Labels, other: Labels) -> bool:
    pairs = np.unique(np.stack([one, other]), axis=1).shape[1]
    return bool(pairs == one.max() + 1 == other.max() + 1)


def _restricted(y: Array, factors: list[Labels]) -> tuple[Array, Array]:
    """Iterate to the restricted maximum likelihood; return variances and information."""
    sizes = np.full(len(factors) + 1, 1.0 / (len(factors) + 1))
    information = np.eye(sizes.size)
    for _ in range(STEPS):
        information, score = _equations(y, factors, sizes)
        fresh = _solved(information, score)
        moved = float(np.max(np.abs(fresh - sizes)))
        sizes = fresh
        if moved < CLOSE_ENOUGH:
            break
    return sizes, information


def _solved(information: Array, score: Array) -> Array:
    """Solve information × variances = score for variances of zero or above.

    Scaled first: where repeats hardly differ, the information on them is a billion times that on
    the dogs, which would be lost beside it.
    """
    scale = np.sqrt(np.diag(information))
    scaled = information / np.outer(scale, scale) + 1e-12 * np.eye(score.size)
    root = linalg.cholesky(scaled)
    found, _ = optimize.nnls(root, linalg.solve_triangular(root, score / scale, trans="T"))
    found /= scale
    found[-1] = max(found[-1], LEAST_REPEAT)
    return np.asarray(found)


def _standard_errors(information: Array) -> Array:
    scale = np.sqrt(np.diag(information))
    inverse = linalg.pinvh(information / np.outer(scale, scale))
    return np.asarray(np.sqrt(np.maximum(0.0, np.diag(inverse) * 2.0)) / scale)


def _equations(y: Array, factors: list[Labels], sizes: Array) -> tuple[Array, Array]:
    """Return tr(P V_i P V_j) and y' P V_i P y for the factors and the rest."""
    projector = _projector(factors, sizes, y.size)
    residual = projector @ y
    # Sums over the levels stand for products with matrices of ones and zeros.
    half = [_sum_by(projector, codes) for codes in factors]
    columns = [*half, projector]
    information = np.empty((len(columns), len(columns)))
    for i, codes in enumerate([*factors, None]):
        for j in range(i, len(columns)):
            block = columns[j] if codes is None else _sum_by(columns[j].T, codes)
            information[i, j] = information[j, i] = float(np.sum(block**2))
    grouped = [np.bincount(codes, residual) for codes in factors] + [residual]
    return information, np.array([float(part @ part) for part in grouped])


def _projector(factors: list[Labels], sizes: Array, readings: int) -> Array:
    spread = sizes[-1] * np.eye(readings)
    for codes, size in zip(factors, sizes[:-1], strict=True):
        spread += size * (codes[:, None] == codes[None, :])
    inverse = linalg.inv(spread)
    weights = inverse.sum(axis=1)
    return np.asarray(inverse - np.outer(weights, weights) / weights.sum())


def _sum_by(matrix: Array, codes: Labels) -> Array:
    """Sum the columns that share a level: shape (n, levels)."""
    order = np.argsort(codes, kind="stable")
    starts = np.searchsorted(codes[order], np.arange(codes.max() + 1))
    return np.asarray(np.add.reduceat(matrix[:, order], starts, axis=1))
