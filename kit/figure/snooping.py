"""The search for the misread tape: which observation does not fit the others, and what would.

Source: data snooping after Baarda 1968; the per-dog level is shared among the observations that
can be tested at all.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from kit.figure.adjustment import Adjustment
from kit.figure.equations import Observation

# Probability of suspecting anything in a dog whose readings are all right.
LEVEL = 0.03
# An observation can be tested where at least this part of its error shows in its residual.
TESTABLE = 0.05
# Two suspects cannot be told apart where removing either leaves squares this close: the 95 % point
# of chi-squared with one degree of freedom.
APART = 3.84
MOST_SUSPECTS = 5


@dataclass(frozen=True)
class Suspect:
    """An observation that does not fit the others.

    Attributes
    ----------
    key : str
    observed, expected, uncertainty : float
        What was given; what the other observations say, and how well they know it.
    test : float
        Standardised residual, and `critical` what it was held against.
    alternatives : tuple of str
        Observations whose fault would explain the misfit as well.
    """

    key: str
    observed: float
    expected: float
    uncertainty: float
    test: float
    critical: float
    alternatives: tuple[str, ...] = ()


def critical_value(tested: int, level: float = LEVEL) -> float:
    """Return the critical standardised residual for so many tests at one level for all of them."""
    each = 1.0 - (1.0 - level) ** (1.0 / max(1, tested))
    return float(special.ndtri(1.0 - each / 2.0))


def detectable(sigma: float, redundancy: float, critical: float, power: float = 0.9) -> float:
    """Return the smallest error found with this power (the internal reliability)."""
    if redundancy <= 0.0:
        return math.inf
    return (critical + float(special.ndtri(power))) * sigma / math.sqrt(redundancy)


def search(
    observations: Sequence[Observation],
    adjusted: Adjustment,
    readjust: Callable[[Sequence[Observation]], Adjustment],
    level: float = LEVEL,
) -> tuple[tuple[Suspect, ...], Adjustment]:
    """Name the observations that do not fit, the worst first, each set aside before the next.

    Parameters
    ----------
    readjust : callable
        Adjusts a subset of the observations.

    Returns
    -------
    suspects : tuple of Suspect
    clean : Adjustment
        Of the observations without the suspects.
    """
    kept = list(observations)
    found: list[Suspect] = []
    while len(found) < MOST_SUSPECTS:
        suspect = _worst(kept, adjusted, level)
        if suspect is None:
            break
        found.append(suspect)
        kept = [one for one in kept if one.key != suspect.key]
        adjusted = readjust(kept)
    return tuple(found), adjusted


def _worst(
    observations: Sequence[Observation], adjusted: Adjustment, level: float
) -> Suspect | None:
    testable = adjusted.redundancy_numbers > TESTABLE
    if not np.any(testable):
        return None
    critical = critical_value(int(np.sum(testable)), level)
    tests = np.where(testable, np.abs(adjusted.standardised_residuals), 0.0)
    row = int(np.argmax(tests))
    if tests[row] <= critical:
        return None
    rivals = (tests**2 > tests[row] ** 2 - APART) & (tests > critical)
    rivals[row] = False
    one, redundancy = observations[row], float(adjusted.redundancy_numbers[row])
    return Suspect(
        key=one.key,
        observed=one.value,
        expected=one.value + float(adjusted.residuals[row]) / redundancy,
        uncertainty=one.sigma * math.sqrt(max(0.0, 1.0 / redundancy - 1.0)),
        test=float(tests[row]),
        critical=critical,
        alternatives=tuple(observations[int(i)].key for i in np.flatnonzero(rivals)),
    )
