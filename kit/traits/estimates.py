"""What is known of a trait: value, uncertainty, interval and what limits it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kit.estimation.simulation import Simulation
from kit.traits.inputs import Inputs, Key, scale_of
from kit.traits.trait import Trait

LINEAR, MONTE_CARLO, DIRECT = "linear", "Monte Carlo", "read directly"


@dataclass(frozen=True)
class Contribution:
    """What one source of error of one reading adds to a trait.

    `uncertainty` is in the unit of the trait; `share` is its part of the variance.
    """

    measurement: str
    component: str
    uncertainty: float
    share: float


@dataclass(frozen=True)
class TraitEstimate:
    """One trait of one dog. Values are in the unit of the trait's kind.

    Attributes
    ----------
    low95, high95 : float
        Interval expected to hold the true value with 95 % probability.
    method : str
        LINEAR, MONTE_CARLO or DIRECT.
    side : str
        Side the sided readings came from, or empty.
    along : array, shape (readings,)
        Change of the trait for one unit (cm, radian, kg) of each reading in `inputs.errors`.
    inputs : Inputs
        What it was evaluated on.
    simulation : Simulation, optional
        The draws, where the method is MONTE_CARLO.
    fitted : bool
        True where it comes from a figure fitted to many readings.
    note : str
        What a reader of the figure should know, such as a second route that disagrees.
    """

    trait: Trait
    value: float
    uncertainty: float
    dof: float
    low95: float
    high95: float
    method: str
    side: str
    along: NDArray[np.float64] = field(repr=False, compare=False)
    inputs: Inputs = field(repr=False, compare=False)
    simulation: Simulation | None = None
    fitted: bool = False
    note: str = ""

    @cached_property
    def slopes(self) -> Mapping[Key, float]:
        """Change of the trait for one unit (cm, radian, kg) of each reading behind it."""
        return self.inputs.named(self.along)

    @cached_property
    def sensitivities(self) -> Mapping[str, float]:
        """Change of the trait for one unit (cm, degree, kg) of each measurement."""
        return {key: slope / scale_of(key) for (key, _), slope in self.slopes.items()}

    @cached_property
    def _parts(self) -> list[tuple[str, str, float]]:
        """What each source of error of each reading adds: measurement, component, uncertainty."""
        return [
            (key[0], component.name, abs(slope) * component.uncertainty)
            for key, slope in self.slopes.items()
            for component in self.inputs.errors[key]
        ]

    @cached_property
    def linear_uncertainty(self) -> float:
        """Standard uncertainty to first order, whatever the method."""
        return math.sqrt(sum(size**2 for _, _, size in self._parts))

    @cached_property
    def budget(self) -> tuple[Contribution, ...]:
        """What each source of error adds, the largest first."""
        total = self.linear_uncertainty**2 or 1.0
        rows = [Contribution(name, part, size, size**2 / total) for name, part, size in self._parts]
        return tuple(sorted(rows, key=lambda row: -row.uncertainty))

    def limited_by(self, share: float) -> frozenset[str]:
        """Return the measurements of which a source of error has this part of the variance."""
        least = share * self.linear_uncertainty**2
        return frozenset(name for name, _, size in self._parts if size**2 >= least)


@dataclass(frozen=True)
class TraitTable:
    """All traits of one dog.

    Attributes
    ----------
    known : mapping of key to TraitEstimate
    needs : mapping of key to tuple of str
        Measurements still needed, for each trait that is not known.
    faults : mapping of key to str
        Traits whose readings cannot belong together.
    inputs : mapping of str to float
        Standard uncertainty of every input used, in cm, degrees or kg.
    """

    known: Mapping[str, TraitEstimate]
    needs: Mapping[str, tuple[str, ...]]
    faults: Mapping[str, str]
    inputs: Mapping[Key, float]

    def covariance(self, keys: Sequence[str]) -> NDArray[np.float64]:
        """Return the first-order covariance of some known traits, shape (n, n)."""
        columns = sorted(self.inputs)
        jacobian = np.array(
            [[self._slope(self.known[key], column) for column in columns] for key in keys]
        )
        variances = np.array([self.inputs[column] ** 2 for column in columns])
        covariance: NDArray[np.float64] = (jacobian * variances) @ jacobian.T
        return covariance

    @staticmethod
    def _slope(known: TraitEstimate, column: Key) -> float:
        name, side = column
        return known.sensitivities.get(name, 0.0) if side in {"", known.side} else 0.0
