"""A table of dogs by measurers, checked, and its analysis of variance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.estimation.tables import numbers_in
from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class MeanSquares:
    """Mean squares of n dogs, each measured once by every one of k measurers.

    Attributes
    ----------
    between : float
        Between dogs, n - 1 degrees of freedom.
    within : float
        Within dogs, n (k - 1).
    measurers : float
        Between measurers, k - 1.
    residual : float
        What dogs and measurers together leave, (n - 1) (k - 1).
    """

    dogs: int
    readings: int
    between: float
    within: float
    measurers: float
    residual: float


def checked_table(table: ArrayLike, rows: int = 2, columns: int = 2) -> Array:
    """Return a table as floats, shape (n, k).

    Raises
    ------
    EstimationError
        If it is no table of finite numbers, or too small.
    """
    values = numbers_in(table, "no analysis of variance")
    if values.ndim != 2 or values.shape[0] < rows or values.shape[1] < columns:
        needed = f"at least {rows} dogs in rows and {columns} readings in columns"
        raise EstimationError("the table is too small", needed, f"shape {values.shape}")
    missing = int(np.size(values) - np.count_nonzero(np.isfinite(values)))
    if missing:
        raise EstimationError("the table has holes", "a number in every cell",
                              f"{missing} cells without one",
                              "leave those dogs out, and say how many")  # fmt: skip
    return values


def mean_squares(table: ArrayLike) -> MeanSquares:
    """Analyse a table of dogs (rows) by measurers or repeats (columns), in any one unit.

    Source: Shrout PE, Fleiss JL 1979, Psychol Bull 86:420-428, table 3.
    """
    values = checked_table(table)
    dogs, readings = values.shape
    # About the mean of all: squares of large values would cost the last digits.
    values = values - values.mean()
    by_dog = values - values.mean(axis=1, keepdims=True)
    rest = by_dog - by_dog.mean(axis=0)
    return MeanSquares(
        dogs,
        readings,
        float(readings * np.sum(values.mean(axis=1) ** 2) / (dogs - 1)),
        float(np.sum(by_dog**2) / (dogs * (readings - 1))),
        float(dogs * np.sum(values.mean(axis=0) ** 2) / (readings - 1)),
        float(np.sum(rest**2) / ((dogs - 1) * (readings - 1))),
    )
