"""How sure a cell of a survey is: the catalogue's errors for so many readings, by column.

The same components as :func:`kit.estimation.repeats.estimate` takes for readings that carry no
spread of their own: repeat and posture by the catalogue, resolution and the tool as rectangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.estimation.repeats import CATALOGUE_DOF, Estimate, instrument_limit
from kit.protocol.catalogue import Assumption, Catalogue
from kit.traits.inputs import scale_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Spread:
    """Variance of a column's values, and its square over the degrees of freedom.

    Attributes
    ----------
    variance, fourth : float or array, shape (n,)
        In the units inside expressions (cm, radians, kg).
    """

    variance: float | Array
    fourth: float | Array


def spread_of_assumption(one: Assumption) -> Spread:
    """Return the spread of a quantity nobody measures; it is taken as known."""
    return Spread((one.uncertainty / scale_of(one.key)) ** 2, 0.0)


def spread_of_estimates(key: str, estimates: list[Estimate | None]) -> Spread:
    """Return the spread of estimates worked out one by one; nan where there is none."""
    scale = scale_of(key)
    variance = [np.nan if e is None else (e.uncertainty / scale) ** 2 for e in estimates]
    fourth = [
        np.nan
        if e is None
        else sum((part.uncertainty / scale) ** 4 / part.dof for part in e.components)
        for e in estimates
    ]
    return Spread(np.array(variance), np.array(fourth))


def spread_of_column(key: str, values: Array, catalogue: Catalogue, readings: int = 1) -> Spread:
    """Return the spread of a column of values, each the mean of so many readings.

    Parameters
    ----------
    values : array, shape (n,)
        In the unit of the measurement's kind; the allowed error of a tape depends on the length.
    readings : int
        Readings behind each value, each in a stand of its own; their own spread is not known, so
        the catalogue's errors are taken with the degrees of freedom it gives them.
    """
    definition = catalogue.measurement(key)
    tool = catalogue.instruments[definition.instrument]
    scale = scale_of(key)
    share = 1.0 / (scale**2 * readings)
    typical = [definition.repeat_error**2 * share, definition.posture_error**2 * share]
    exact = (tool.resolution / 2.0 / scale) ** 2 / 3.0
    limit = _limit(key, values, catalogue) / scale
    fourth = sum(part**2 for part in typical) / CATALOGUE_DOF
    return Spread(sum(typical) + exact + limit**2 / 3.0, fourth)


def _limit(key: str, values: Array, catalogue: Catalogue) -> float | Array:
    """Return the tool's largest error: one figure unless some tape runs past a whole metre."""
    tool = catalogue.instruments[catalogue.measurement(key).instrument]
    if not tool.tape_class or values.size == 0:
        return tool.limit
    longest = float(np.fmax.reduce(values))
    if not longest > 100.0:
        return instrument_limit(1.0, tool)
    metres = np.unique(np.ceil(values[np.isfinite(values)] / 100.0))
    steps = {metre: instrument_limit(100.0 * metre, tool) for metre in metres.tolist()}
    limits = np.full(values.shape, np.nan)
    for metre, limit in steps.items():
        limits[np.ceil(values / 100.0) == metre] = limit
    return limits
