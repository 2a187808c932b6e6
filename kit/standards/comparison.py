"""Two dogs side by side: which of them has more of a trait, and whether that can be told."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kit.estimation.components import effective_dof
from kit.quantities.errors import EstimationError
from kit.traits.estimates import TraitEstimate
from kit.traits.trait import Trait

COVERAGE = 0.95
DRAWS = 20_000
_SEED = 20_008  # any number: the same readings must give the same figures


@dataclass(frozen=True)
class Difference:
    """One trait of the first dog less that of the second, in the unit of the trait's kind.

    Attributes
    ----------
    uncertainty : float
        Standard uncertainty of the difference.
    low95, high95 : float
        Interval expected to hold the true difference with 95 % probability.
    chance_more : float
        Probability that the first dog truly has more.
    """

    trait: Trait
    first: str
    second: str
    value: float
    uncertainty: float
    low95: float
    high95: float
    chance_more: float

    @property
    def can_be_told(self) -> bool:
        """True where the interval leaves out zero: the two dogs can be told apart."""
        return self.low95 > 0.0 or self.high95 < 0.0


def compare(
    first: TraitEstimate, second: TraitEstimate, names: tuple[str, str] = ("", "")
) -> Difference:
    """Hold one trait of two dogs against each other.

    The errors of the two are taken as independent: an error both dogs share, such as that of one
    tape, would cancel in part, so the interval is rather too wide than too narrow. Where either
    figure was simulated the difference is simulated too.

    Raises
    ------
    EstimationError
        If the two are not the same trait.

    Source: JCGM 100:2008, 5.1.2 and G.4.1; JCGM 101:2008, clause 7.
    """
    if first.trait.key != second.trait.key:
        keys = f"{first.trait.key} and {second.trait.key}"
        raise EstimationError("two different traits cannot be compared", "one trait", keys)
    if first.simulation is None and second.simulation is None:
        interval, chance, u = _by_student(first, second)
    else:
        interval, chance, u = _by_draws(first, second)
    value = first.value - second.value
    return Difference(first.trait, *names, value, u, *interval, chance)


Result = tuple[tuple[float, float], float, float]


def _by_student(first: TraitEstimate, second: TraitEstimate) -> Result:
    value = first.value - second.value
    u = math.hypot(first.uncertainty, second.uncertainty)
    if u == 0.0:
        return (value, value), 0.5 + 0.5 * float(np.sign(value)), u
    dof = effective_dof((first.uncertainty, second.uncertainty), (first.dof, second.dof))
    upper = (1.0 + COVERAGE) / 2.0
    endless = math.isinf(dof)
    factor = float(special.ndtri(upper) if endless else special.stdtrit(dof, upper))
    chance = float(special.ndtr(value / u) if endless else special.stdtr(dof, value / u))
    return (value - factor * u, value + factor * u), chance, u


def _by_draws(first: TraitEstimate, second: TraitEstimate) -> Result:
    generator = np.random.default_rng(_SEED)
    drawn = _draws(first, generator) - _draws(second, generator)
    tail = (1.0 - COVERAGE) / 2.0
    low, high = np.quantile(drawn, [tail, 1.0 - tail])
    return (float(low), float(high)), float(np.mean(drawn > 0.0)), float(drawn.std(ddof=1))


def _draws(estimate: TraitEstimate, generator: np.random.Generator) -> NDArray[np.float64]:
    """Return independent draws of one trait; kept draws are sorted, so they are drawn from anew."""
    if estimate.simulation is not None:
        return generator.choice(estimate.simulation.draws, DRAWS)
    if math.isinf(estimate.dof):
        return generator.normal(estimate.value, estimate.uncertainty, DRAWS)
    return estimate.value + estimate.uncertainty * generator.standard_t(estimate.dof, DRAWS)


def compare_all(dogs: Mapping[str, TraitEstimate]) -> tuple[Difference, ...]:
    """Compare every pair of dogs in one trait, the dog that has more first, the clearest first."""
    pairs = [_ordered(one, other, dogs) for one, other in combinations(dogs, 2)]
    return tuple(sorted(pairs, key=lambda pair: -pair.chance_more))


def _ordered(one: str, other: str, dogs: Mapping[str, TraitEstimate]) -> Difference:
    more, less = (one, other) if dogs[one].value >= dogs[other].value else (other, one)
    return compare(dogs[more], dogs[less], (more, less))


def expected_by_chance(differences: Sequence[Difference]) -> float:
    """Return how many pairs would look different by chance alone, if all dogs were alike."""
    return (1.0 - COVERAGE) * len(differences)
