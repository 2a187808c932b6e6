"""What declarations are evaluated on: the readings of one side of a dog, or its fitted figure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from kit.estimation.components import Component
from kit.estimation.repeats import Estimate
from kit.estimation.simulation import DRAWS, draw_errors
from kit.protocol.catalogue import catalogue
from kit.quantities.kinds import Kind
from kit.traits.declarations import kind_of

DEGREES = 180.0 / math.pi
Key = tuple[str, str]
Estimates = Mapping[Key, Estimate]


@dataclass(frozen=True)
class Fitted:
    """A measurement as a figure fitted to many readings gives it.

    Attributes
    ----------
    value, uncertainty : float
        In cm or degrees.
    slopes : mapping of (measurement, side) to float
        Its change for one unit (cm or degree) of each reading behind the figure.
    """

    value: float
    uncertainty: float
    slopes: Mapping[Key, float]


@dataclass(frozen=True)
class Input:
    """One symbol's value, angles in radians, and which readings' errors it carries.

    `made_of` is its change, in cm or degrees, for one unit (cm or degree) of each reading.
    """

    value: float
    made_of: Mapping[Key, float]


@dataclass(frozen=True)
class Inputs:
    """All inputs of one side of the dog.

    Attributes
    ----------
    values : mapping of symbol name to Input
    errors : mapping of (measurement, side) to tuple of Component
        Sources of error of each reading, angles in radians.
    read : mapping of symbol name to float
        What was read of the symbols whose value comes from a fitted figure.
    fitted : frozenset of str
        Symbols whose value comes from a fitted figure.
    """

    side: str
    values: Mapping[str, Input]
    errors: Mapping[Key, tuple[Component, ...]]
    read: Mapping[str, float]
    fitted: frozenset[str]

    def point(self, names: Sequence[str]) -> dict[str, float]:
        """Return the values of some symbols."""
        return {name: self.values[name].value for name in names}

    def point_as_read(self, names: Sequence[str]) -> dict[str, float]:
        """Return the values of some symbols without the figure; empty where one was not read."""
        if not all(name in self.read or name not in self.fitted for name in names):
            return {}
        return {name: self.read.get(name, self.values[name].value) for name in names}

    @cached_property
    def _rows(self) -> Mapping[str, int]:
        """Row of each symbol in `_shares`."""
        return {name: row for row, name in enumerate(self.values)}

    @cached_property
    def _shares(self) -> NDArray[np.float64]:
        """How each symbol moves with each reading, shape (symbols, readings) as in `errors`."""
        columns = {key: column for column, key in enumerate(self.errors)}
        shares = np.zeros((len(self.values), len(columns)))
        for row, one in zip(shares, self.values.values(), strict=True):
            row[[columns[key] for key in one.made_of]] = [*one.made_of.values()]
        symbols = np.array([scale_of(name) for name in self.values])
        readings = np.array([scale_of(name) for name, _ in self.errors])
        inside: NDArray[np.float64] = shares * readings / symbols[:, None]
        return inside

    def carried(
        self, slopes: Mapping[str, float], scale: float
    ) -> tuple[NDArray[np.float64], float, float]:
        """Turn slopes by symbol into what every reading adds.

        Parameters
        ----------
        scale : float
            How many of the result's own units make one of those inside the expression.

        Returns
        -------
        along : array, shape (readings,)
            Change of the result, in its own unit, for one unit of each reading of `errors` in an
            expression.
        uncertainty, dof : float
            Of the result, in its own unit.

        Source: JCGM 100:2008, 5.1.2 and G.4.1 (equation G.2b), component by component.
        """
        rows = [self._rows[name] for name in slopes]
        along = scale * np.array([*slopes.values()]) @ self._shares[rows]
        squares = along * along
        variance = float(squares @ self._variances)
        fourth = float(squares * squares @ self._fourths)
        return along, math.sqrt(variance), variance**2 / fourth if fourth > 0 else math.inf

    def named(self, along: NDArray[np.float64]) -> dict[Key, float]:
        """Return by reading what is not zero of an array as `carried` returns it."""
        return {key: slope for key, slope in zip(self.errors, along.tolist(), strict=True) if slope}

    def is_sided(self, along: NDArray[np.float64]) -> bool:
        """Tell whether a reading that belongs to a side adds anything."""
        return bool(along[self._sided].any())

    @cached_property
    def _sided(self) -> NDArray[np.bool_]:
        return np.array([bool(side) for _, side in self.errors])

    @cached_property
    def _variances(self) -> NDArray[np.float64]:
        """Variance of each reading, shape (readings,)."""
        parts = self.errors.values()
        return np.array([sum(one.uncertainty**2 for one in part) for part in parts])

    @cached_property
    def _sizes(self) -> NDArray[np.float64]:
        """Standard uncertainty of each reading, shape (readings,)."""
        return np.sqrt(self._variances)

    @cached_property
    def _fourths(self) -> NDArray[np.float64]:
        """Squared variances of each reading's components over their degrees of freedom."""
        parts = self.errors.values()
        return np.array([sum(one.uncertainty**4 / one.dof for one in part) for part in parts])

    def directions(self, names: Sequence[str]) -> NDArray[np.float64]:
        """Return the symbols' moves for one standard uncertainty of each reading, shape (k, n)."""
        shares = self._shares[[self._rows[name] for name in names]]
        moves: NDArray[np.float64] = (shares * self._sizes)[:, shares.any(axis=0)].T
        return moves

    def draw(self, name: str, count: int = DRAWS) -> NDArray[np.float64]:
        """Draw one symbol's possible values, shape (count,); readings share their errors."""
        drawn = np.full(count, self.values[name].value)
        for key, share in self.named(self._shares[self._rows[name]]).items():
            drawn += share * draw_errors(f"{key[0]} {key[1]}", self.errors[key], count)
        if _is_positive(name):
            drawn[drawn <= 0] = np.nan
        return drawn


@cache
def _is_positive(name: str) -> bool:
    """Tell whether a symbol can only be above zero, as a length or a weight."""
    known = catalogue().measurements
    return name in known and known[name].low >= 0 and known[name].kind is not Kind.ANGLE


def inputs_of(
    estimates: Estimates, side: str, fitted: Mapping[str, Fitted] | None = None
) -> Inputs:
    """Gather the inputs of one side; where a figure was fitted its values come first."""
    values, errors = {}, {}
    for key, estimate in estimates.items():
        if key[1] in {"", side}:
            scale = scale_of(key[0])
            errors[key] = _scaled(estimate.components, scale)
            values[key[0]] = Input(estimate.value / scale, {key: 1.0})
    for one in catalogue().assumptions.values():
        key, scale = (one.key, ""), scale_of(one.key)
        errors[key] = _scaled((Component("assumption", one.uncertainty),), scale)
        values[one.key] = Input(one.value / scale, {key: 1.0})
    fitted = fitted or {}
    read = {name: values[name].value for name in fitted if name in values}
    values.update({name: Input(given.value / scale_of(name), given.slopes)
                   for name, given in fitted.items()})  # fmt: skip
    return Inputs(side, values, errors, read, frozenset(fitted))


def _scaled(components: tuple[Component, ...], scale: float) -> tuple[Component, ...]:
    if scale == 1.0:
        return components
    return tuple(Component(c.name, c.uncertainty / scale, c.dof, c.shape) for c in components)


@cache
def scale_of(name: str) -> float:
    """Return how many of a symbol's own units make one of those inside an expression."""
    return DEGREES if kind_of(name) is Kind.ANGLE else 1.0
