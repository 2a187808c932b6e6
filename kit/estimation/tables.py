"""Tables of numbers as they come from outside, refused in words where they are none."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.quantities.errors import EstimationError


def numbers_in(values: ArrayLike, what: str, most: int = 2) -> NDArray[np.float64]:
    """Return numbers as an array; nan stands where one is missing.

    Parameters
    ----------
    what : str
        What cannot be given if these are no numbers.
    most : int
        Dimensions it may have: 1 a row of numbers, 2 a table.

    Raises
    ------
    EstimationError
        If a cell is no number, rows differ in length, or there are more dimensions or none.
    """
    try:
        table = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as fault:
        raise EstimationError(what, "numbers, as many in every row", str(fault)) from fault
    if not 1 <= table.ndim <= most:
        raise EstimationError(what, "a row or a table of numbers", f"shape {table.shape}")
    return table
