"""How far readings scatter about a puppy's own curve, by kind of measurement."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.quantities.errors import EstimationError
from kit.quantities.kinds import Kind

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class ErrorModel:
    """Standard deviation of a reading about the curve: two parts, added as squares.

    Attributes
    ----------
    absolute : float
        In the unit of the reading.
    relative : float
        Part of the size.
    source : str
    """

    absolute: float
    relative: float
    source: str = "common practice (no source)"

    def __post_init__(self) -> None:
        if not (self.absolute >= 0 and self.relative >= 0 and self.absolute + self.relative > 0):
            raise EstimationError(
                "unusable error model", "parts of at least zero, one above zero",
                f"absolute {self.absolute:g}, relative {self.relative:g}",
            )  # fmt: skip

    def deviation(self, size: ArrayLike) -> Vector:
        """Return the standard deviation at a size, shape (n,) → (n,)."""
        result: Vector = np.hypot(self.absolute, self.relative * np.abs(np.asarray(size, float)))
        return result


# A puppy before and after a meal differs by a few percent; a kitchen scale reads to 1 to 10 g.
# A length errs with hand and stand, and with a wriggling puppy in proportion to its size.
_OF_KIND = {
    Kind.MASS: ErrorModel(0.008, 0.025),
    Kind.LENGTH: ErrorModel(0.4, 0.012),
    Kind.ANGLE: ErrorModel(4.0, 0.0),
    Kind.RATIO: ErrorModel(0.02, 0.0),
}


def error_model(kind: Kind) -> ErrorModel:
    """Return the usual scatter of a kind of measurement (common practice, no source)."""
    return _OF_KIND[kind]
