"""Does the true value lie inside? Probabilities and decisions."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from scipy import special

from kit.quantities.errors import EstimationError


class Outcome(StrEnum):
    """What can be found about one clause."""

    WITHIN = "within"
    BELOW = "below"
    ABOVE = "above"
    PROBABLY_WITHIN = "probably within"
    PROBABLY_BELOW = "probably below"
    PROBABLY_ABOVE = "probably above"
    UNDECIDED = "undecided"
    NOT_MEASURED = "not measured"
    NOT_COMPARABLE = "not comparable"


@dataclass(frozen=True)
class Levels:
    """Probabilities from which a finding is decided, and from which it is probable."""

    decided: float = 0.95
    probable: float = 0.80

    def __post_init__(self) -> None:
        if not 0.5 < self.probable <= self.decided < 1.0:
            raise EstimationError(
                "decision levels make no sense",
                "0.5 < probable <= decided < 1",
                f"probable {self.probable:g}, decided {self.decided:g}",
            )


@dataclass(frozen=True)
class Probabilities:
    """Probabilities that the true value lies below, within and above the limits."""

    below: float
    within: float
    above: float


def conformance_probability(
    value: float,
    u: float,
    low: float | None = None,
    high: float | None = None,
    dof: float | None = None,
) -> float:
    """Return the probability that the true value lies between two limits.

    Parameters
    ----------
    value, u : float
        Best value and its standard uncertainty, in one unit with the limits.
    low, high : float, optional
        Limits; at least one. A missing limit is open.
    dof : float, optional
        Degrees of freedom of `u`: Student's t instead of the normal distribution.

    Raises
    ------
    EstimationError
        If no limit is given, the limits are crossed, or an argument is not usable.

    Source: JCGM 106:2012, 7.2 to 7.4.
    """
    _check(value, u, low, high, dof)
    return probabilities(value, u, low, high, dof).within


def probabilities(
    value: float,
    u: float,
    low: float | None = None,
    high: float | None = None,
    dof: float | None = None,
) -> Probabilities:
    """Return the probabilities of below, within and above; arguments as above, unchecked."""
    below = 0.0 if low is None else _lower_tail(low, value, u, dof)
    above = 0.0 if high is None else _lower_tail(value, high, u, dof)
    return Probabilities(below, max(0.0, 1.0 - below - above), above)


def _lower_tail(smaller: float, larger: float, u: float, dof: float | None) -> float:
    """Return P(X < smaller) for X about larger; by symmetry also P(X > larger) about smaller."""
    if u == 0.0:
        return 1.0 if larger < smaller else 0.0
    standardised = (smaller - larger) / u
    if dof is None or math.isinf(dof):
        return float(special.ndtr(standardised))
    return float(special.stdtr(dof, standardised))


def _check(
    value: float, u: float, low: float | None, high: float | None, dof: float | None
) -> None:
    given = f"value {value}, u {u}, low {low}, high {high}, dof {dof}"
    numbers = [number for number in (value, low, high) if number is not None]
    if any(math.isnan(number) for number in numbers) or math.isinf(value):
        raise EstimationError("a value or limit is not a number", given=given)
    if not 0.0 <= u < math.inf:
        raise EstimationError("unusable uncertainty", "zero or more", given)
    if low is None and high is None:
        raise EstimationError("no limit to hold the value against", "low, high or both", given)
    if low is not None and high is not None and low > high:
        raise EstimationError("the limits are crossed", "low at most high", given)
    if dof is not None and not dof > 0:
        raise EstimationError("unusable degrees of freedom", "above zero", given)


def decide(chance: Probabilities, levels: Levels) -> Outcome:
    """Decide at the stated levels; what reaches neither stays undecided."""
    named = (
        (chance.within, Outcome.WITHIN, Outcome.PROBABLY_WITHIN),
        (chance.below, Outcome.BELOW, Outcome.PROBABLY_BELOW),
        (chance.above, Outcome.ABOVE, Outcome.PROBABLY_ABOVE),
    )
    probability, decided, probable = max(named, key=lambda row: row[0])
    if probability >= levels.decided:
        return decided
    return probable if probability >= levels.probable else Outcome.UNDECIDED
