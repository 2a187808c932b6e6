"""Usual spreads of growth curves: what is taken of a litter before it has been measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from kit.growth.curves import Curve
from kit.quantities.kinds import Kind

Matrix = NDArray[np.float64]


@dataclass(frozen=True)
class Usual:
    """How much siblings usually differ, and dogs from bitches (common practice, no source).

    Attributes
    ----------
    adult, pace, shape : float
        Spread of the logarithms of the adult size and the pace, and of the shape.
    midpoint : float
        Spread of the age of the midpoint, in paces.
    sex_difference, sex_spread : float
        Logarithm of dogs over bitches, and how well that is known.
    """

    adult: float
    midpoint: float
    pace: float
    shape: float
    sex_difference: float
    sex_spread: float


# Dogs are about a tenth heavier than bitches, give or take as much. A length goes as the cube
# root of a weight (geometry), so siblings and sexes differ in it about a third as much.
OF_WEIGHT = Usual(0.10, 0.12, 0.10, 0.15, sex_difference=0.10, sex_spread=0.08)
OF_LENGTH = Usual(0.035, 0.12, 0.10, 0.15, sex_difference=0.035, sex_spread=0.03)
# Logistic is shape 1, Gompertz 0, von Bertalanffy -1/3: before any reading all are open.
USUAL_SHAPE = 0.2
WORTH_OF_SPREAD = 4.0
# Litters differ in how much siblings differ, so many grown puppies still say little of one litter.
MOST_WORTH = 10.0
VAGUE_LITTERS = 4  # a vague centre counts as if it came from so many litters
WORTH_OF_ERROR = 6.0  # readings the usual scatter of readings is worth
# What is known of the litter's middle beforehand: next to nothing.
VAGUE = Usual(1.0, 1.0, 1.0, 0.45, sex_difference=0.0, sex_spread=1.0)
SEX_CODE: Mapping[str, float] = MappingProxyType({"dog": 0.5, "bitch": -0.5})


def usual_of(kind: Kind) -> Usual:
    """Return how much siblings usually differ in a kind of measurement."""
    return OF_LENGTH if kind is Kind.LENGTH else OF_WEIGHT


def usual_spread(family: Curve, pace: float, usual: Usual) -> Matrix:
    """Return a usual covariance of working parameters, shape (p, p), for puppies of this pace."""
    deviations = [
        getattr(usual, name) * (pace if name == "midpoint" else 1.0) for name in family.parameters
    ]
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
