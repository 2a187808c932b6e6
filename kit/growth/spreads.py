"""Usual spreads of growth curves: what is taken of a litter before it has been measured."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from kit.growth.curves import Curve

Matrix = NDArray[np.float64]

# Usual spreads between siblings: part of the adult size, part of the pace (for the age of the
# midpoint too), and of the shape. Worth this many puppies.
USUAL_SPREAD: Mapping[str, float] = MappingProxyType(
    {"adult": 0.10, "midpoint": 0.12, "pace": 0.10, "shape": 0.15}
)
# Logistic is shape 1, Gompertz 0, von Bertalanffy -1/3: before any reading all are open.
USUAL_SHAPE = 0.2
WORTH_OF_SPREAD = 4.0
# Litters differ in how much siblings differ, so many grown puppies still say little of one litter.
MOST_WORTH = 10.0
VAGUE_LITTERS = 4  # a vague centre counts as if it came from so many litters
WORTH_OF_ERROR = 6.0  # readings the usual scatter of readings is worth
VAGUE: Mapping[str, float] = MappingProxyType(
    {"adult": 1.0, "midpoint": 1.0, "pace": 1.0, "shape": 0.45}
)
# Dogs are about a tenth larger than bitches, give or take as much (common practice).
SEX_DIFFERENCE, SEX_SPREAD = 0.10, 0.08
SEX_CODE: Mapping[str, float] = MappingProxyType({"dog": 0.5, "bitch": -0.5})


def usual_spread(family: Curve, pace: float, parts: Mapping[str, float] = USUAL_SPREAD) -> Matrix:
    """Return a usual covariance of working parameters, shape (p, p), for puppies of this pace."""
    deviations = [parts[name] * (pace if name == "midpoint" else 1.0) for name in family.parameters]
    return np.diag(np.array(deviations) ** 2)


def bordered(matrix: Matrix, corner: float) -> Matrix:
    """Return a matrix with one more row and column that hold `corner` alone."""
    size = matrix.shape[0]
    result = np.zeros((size + 1, size + 1))
    result[:size, :size], result[size, size] = matrix, corner
    return result


def inverted(matrix: Matrix) -> Matrix:
    """Return the inverse of a matrix."""
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)
