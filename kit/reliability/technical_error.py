"""Technical error of measurement: how far one reading lies from another of the same dog."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from kit.estimation.tables import numbers_in
from kit.quantities.errors import EstimationError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TechnicalError:
    """Technical error of measurement, in the unit of the readings.

    Attributes
    ----------
    tem, low, high : float
        The standard deviation of a single reading about its dog, and its 95 % interval.
    percent : float
        The same in percent of the mean of all readings; nan where that is zero.
    reliability : float
        1 - TEM²/SD², SD taken over all readings (n - 1); nan where none differ.
    dogs, readings : int
        Dogs read at least twice, and readings of these.
    left_out : int
        Dogs read only once: they tell nothing about repeating.
    """

    tem: float
    low: float
    high: float
    percent: float
    reliability: float
    mean: float
    dogs: int
    readings: int
    left_out: int

    @property
    def dof(self) -> int:
        """Degrees of freedom of the technical error."""
        return self.readings - self.dogs

    @property
    def repeatability(self) -> float:
        """What two readings of one dog differ by at most, 95 times in 100."""
        return float(special.ndtri(0.975)) * math.sqrt(2.0) * self.tem


def tem(table: ArrayLike) -> TechnicalError:
    """Return the technical error of a table of repeats.

    Parameters
    ----------
    table : array, shape (n, k)
        n dogs in rows, up to k readings of each; nan where there are fewer.

    Raises
    ------
    EstimationError
        If no dog was read twice.

    Source: Ulijaszek SJ, Kerr DA 1999, Br J Nutr 82:165-177 (form for k readings from memory);
    with two readings of every dog it is the root of the summed squared differences over 2n.
    """
    values = numbers_in(table, "no technical error can be given")
    values = values[:, None] if values.ndim == 1 else values
    known = np.isfinite(values)
    counts = known.sum(axis=1)
    used, kept = values[counts >= 2], known[counts >= 2]
    if used.shape[0] == 0:
        raise EstimationError("no technical error can be given", "a dog read at least twice",
                              f"{int(np.sum(counts == 1))} dogs read once")  # fmt: skip
    return _technical(used, kept, int(np.sum(counts == 1)))


def _technical(used: Array, kept: NDArray[np.bool_], left_out: int) -> TechnicalError:
    readings = used[kept]
    means = np.where(kept, used, 0.0).sum(axis=1) / kept.sum(axis=1)
    squares = float(np.sum((used - means[:, None])[kept] ** 2))
    dof = readings.size - used.shape[0]
    error = math.sqrt(squares / dof)
    total = float(readings.var(ddof=1))
    mean = float(readings.mean())
    return TechnicalError(
        tem=error,
        low=math.sqrt(squares / float(special.chdtri(dof, 0.025))),
        high=math.sqrt(squares / float(special.chdtri(dof, 0.975))),
        percent=100.0 * error / abs(mean) if mean else math.nan,
        reliability=1.0 - error**2 / total if total > 0 else math.nan,
        mean=mean,
        dogs=used.shape[0],
        readings=readings.size,
        left_out=left_out,
    )
