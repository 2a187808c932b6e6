"""What declarations are evaluated on: the readings of one side of a dog, or its fitted figure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.estimation.components import Component, combined
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
    """One symbol's value, angles in radians, and which readings' errors it carries."""

    value: float
    made_of: tuple[tuple[Key, float], ...]


@dataclass(frozen=True)
class Inputs:
    """All inputs of one side of the dog.

    Attributes
    ----------
    values : mapping of symbol name to Input
    errors : mapping of (measurement, side) to tuple of Component
        Sources of error of each reading, angles in radians.
    fitted : frozenset of str
        Symbols whose value comes from a fitted figure.
    """

    side: str
    values: Mapping[str, Input]
    errors: Mapping[Key, tuple[Component, ...]]
    fitted: frozenset[str]

    def point(self, names: Sequence[str]) -> dict[str, float]:
        """Return the values of some symbols."""
        return {name: self.values[name].value for name in names}

    def by_reading(self, slopes: Mapping[str, float]) -> dict[Key, float]:
        """Turn slopes by symbol into slopes by reading."""
        total: dict[Key, float] = {}
        for name, slope in slopes.items():
            for key, share in self.values[name].made_of:
                total[key] = total.get(key, 0.0) + slope * share
        return total

    def directions(self, names: Sequence[str]) -> NDArray[np.float64]:
        """Return the symbols' moves for one standard uncertainty of each reading, shape (k, n)."""
        keys = list(dict.fromkeys(key for name in names for key, _ in self.values[name].made_of))
        moves = np.zeros((len(keys), len(names)))
        for column, name in enumerate(names):
            for key, share in self.values[name].made_of:
                moves[keys.index(key), column] += share * combined(self.errors[key])
        return moves

    def draw(self, name: str, count: int = DRAWS) -> NDArray[np.float64]:
        """Draw one symbol's possible values, shape (count,); readings share their errors."""
        drawn = np.full(count, self.values[name].value)
        for key, share in self.values[name].made_of:
            drawn += share * draw_errors(f"{key[0]} {key[1]}", self.errors[key], count)
        return drawn


def inputs_of(
    estimates: Estimates, side: str, fitted: Mapping[str, Fitted] | None = None
) -> Inputs:
    """Gather the inputs of one side; where a figure was fitted its values come first."""
    values, errors = {}, {}
    for key, estimate in estimates.items():
        if key[1] in {"", side}:
            scale = scale_of(key[0])
            errors[key] = _scaled(estimate.components, scale)
            values[key[0]] = Input(estimate.value / scale, ((key, 1.0),))
    for one in catalogue().assumptions.values():
        key, scale = (one.key, ""), scale_of(one.key)
        errors[key] = _scaled((Component("assumption", one.uncertainty),), scale)
        values[one.key] = Input(one.value / scale, ((key, 1.0),))
    for name, given in (fitted or {}).items():
        values[name] = _fitted(name, given)
    return Inputs(side, values, errors, frozenset(fitted or ()))


def _fitted(name: str, given: Fitted) -> Input:
    scale = scale_of(name)
    made_of = tuple((key, slope * scale_of(key[0]) / scale) for key, slope in given.slopes.items())
    return Input(given.value / scale, made_of)


def _scaled(components: tuple[Component, ...], scale: float) -> tuple[Component, ...]:
    if scale == 1.0:
        return components
    return tuple(Component(c.name, c.uncertainty / scale, c.dof, c.shape) for c in components)


def scale_of(name: str) -> float:
    """Return how many of a symbol's own units make one of those inside an expression."""
    return DEGREES if kind_of(name) is Kind.ANGLE else 1.0
