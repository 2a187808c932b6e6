"""Weights that wander: a puppy a little heavy this week is likely to be so next week as well.

Readings that hang together say less than as many that do not. How they hang together is seen in
the residuals of the whole litter, and the weight of all readings is lowered accordingly: by the
factor of a first-order autoregression, (1 - r)/(1 + r) (Bartlett 1946, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

LEAST_PAIRS = 8
MOST = 0.9
CHANCE = 1.5  # standard errors that count as chance


def inflation(residuals: Sequence[Vector], parameters: int) -> float:
    """Return by how much to raise the variance of readings, at least one.

    Parameters
    ----------
    residuals : sequence of arrays
        Standardised, one array a puppy in order of age.
    parameters : int
        Fitted to each puppy: fitting alone makes neighbouring residuals of opposite sign.
    """
    long = [row for row in residuals if row.size > parameters]
    pairs = sum(row.size - 1 for row in long)
    if pairs < LEAST_PAIRS:
        return 1.0
    together = sum(float(row[:-1] @ row[1:]) for row in long) / pairs
    alone = sum(float(row @ row) for row in long) / sum(row.size for row in long)
    length = sum(row.size for row in long) / len(long)
    hanging = together / alone + parameters / length - CHANCE / math.sqrt(pairs)
    hanging = min(max(hanging, 0.0), MOST)
    return (1.0 + hanging) / (1.0 - hanging)
