"""What is known of a population of puppies before one of them has been measured."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kit.growth.curves import Curve
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Shared:
    """The spread of growth curves, learned from puppies that have grown up.

    Everything is in working parameters: logarithms of `adult` and `pace`, days of `midpoint`.

    Attributes
    ----------
    curve : Curve
    mean : array, shape (p,)
    between, within : array, shape (p, p)
        Covariance of litters about the mean, and of siblings about their litter.
    puppies, litters : int
        How many it was learned from.
    sex_difference : array, shape (p,)
        Dogs less bitches, zero where not known apart.
    source : str
        Whose puppies they are.
    """

    curve: Curve
    mean: Vector
    between: Matrix
    within: Matrix
    puppies: int
    litters: int
    sex_difference: Vector = field(default_factory=lambda: np.zeros(0))
    source: str = "the club's own records"

    def __post_init__(self) -> None:
        size = len(self.curve.parameters)
        fits = self.mean.shape == (size,)
        fits = fits and self.between.shape == self.within.shape == (size, size)
        if not fits or self.puppies < 1:
            raise EstimationError(
                "this does not describe a population", f"{size} means, {size} x {size} spreads",
                f"shapes {self.mean.shape}, {self.between.shape}, {self.within.shape}",
            )  # fmt: skip
