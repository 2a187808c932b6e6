"""For an undecided finding: which reading to repeat, and how often."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy import special

from kit.estimation.repeats import Estimate
from kit.standards.conformity import Levels, probabilities
from kit.standards.standard import Clause
from kit.traits.estimates import TraitEstimate
from kit.traits.inputs import Estimates

MOST_REPEATS = 12
# A source of error with less than this part of the variance is not worth a repeat.
WORTH = 0.02
# A promise to decide is made with this much probability to spare.
MARGIN = 0.005
HALVINGS = 8  # of the bracket, itself narrow: the uncertainty wanted is found to a thousandth


@dataclass(frozen=True)
class Advice:
    """Take `measurement` `repeats` more times, standing the dog anew each time.

    `decides` is False where not even MOST_REPEATS repeats of any one reading would decide; the
    measurement named is then the one that helps most.
    """

    measurement: str
    repeats: int
    decides: bool


def advise(
    estimate: TraitEstimate, clause: Clause, estimates: Estimates, levels: Levels
) -> Advice | None:
    """Work out which reading's repetition would decide soonest if the value stays what it is.

    Returns None where no reading behind the trait can be repeated.
    """
    # Readings are weighed to first order; where the draws are narrower, so is what is wanted.
    linear = estimate.linear_uncertainty
    needed = min(_needed_uncertainty(estimate, clause, levels), estimate.uncertainty)
    wanted = needed * linear / estimate.uncertainty
    worth = estimate.limited_by(WORTH)
    options = [
        _option(name, slope, estimate, _find(name, estimate.side, estimates), wanted)
        for name, slope in estimate.sensitivities.items()
        if name in worth and ((name, "") in estimates or (name, estimate.side) in estimates)
    ]
    if not options:
        return None
    best = min(options, key=lambda option: (option[1], -option[2]))
    if best[1] <= MOST_REPEATS:
        return Advice(best[0], best[1], decides=True)
    most_help = max(options, key=lambda option: option[2])
    return Advice(most_help[0], MOST_REPEATS, decides=False)


def _find(name: str, side: str, estimates: Estimates) -> Estimate:
    return estimates[(name, "")] if (name, "") in estimates else estimates[(name, side)]


def _needed_uncertainty(estimate: TraitEstimate, clause: Clause, levels: Levels) -> float:
    """Return the largest standard uncertainty at which this value would be decided."""
    wanted = levels.probable + MARGIN
    gaps = [abs(limit - estimate.value) for limit in (clause.low, clause.high) if limit is not None]
    # Beside one limit the value has to lie this many uncertainties away from it; between two, at
    # the most so far from the nearer that the farther takes as much.
    far, farther = _quantile(wanted, estimate.dof), _quantile((1 + wanted) / 2, estimate.dof)
    below = clause.low is not None and estimate.value < clause.low
    above = clause.high is not None and estimate.value > clause.high
    if len(gaps) == 1 or below or above:
        return min(gaps) / far
    low, high = min(gaps) / farther, min(gaps) / far
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        chance = probabilities(estimate.value, middle, clause.low, clause.high, estimate.dof)
        low, high = (middle, high) if chance.within >= wanted else (low, middle)
    return low


def _quantile(probability: float, dof: float) -> float:
    infinite = math.isinf(dof)
    return float(special.ndtri(probability) if infinite else special.stdtrit(dof, probability))


def _option(
    name: str, slope: float, estimate: TraitEstimate, reading: Estimate, wanted: float
) -> tuple[str, int, float]:
    """Return the reading, the repeats it needs (more than MOST_REPEATS if never), and its help."""
    now = (slope * reading.uncertainty) ** 2
    others = max(0.0, estimate.linear_uncertainty**2 - now)
    for repeats in range(1, MOST_REPEATS + 1):
        if others + _variance(reading, repeats) * slope**2 <= wanted**2:
            return name, repeats, now - _variance(reading, repeats) * slope**2
    return name, MOST_REPEATS + 1, now - _variance(reading, MOST_REPEATS) * slope**2


def _variance(reading: Estimate, further: int) -> float:
    """Return the variance of an estimate after `further` readings, each in a new stand."""
    stands = reading.stands + further
    fixed = sum(
        component.uncertainty**2
        for component in reading.components
        if component.name not in {"repeat", "posture"}
    )
    repeat = next(c.uncertainty for c in reading.components if c.name == "repeat")
    # The share of the repeats so far, undone from the mean over stands, plus the new ones.
    so_far = (repeat * reading.stands) ** 2
    return (
        fixed
        + (so_far + further * reading.repeat_sd**2) / stands**2
        + (reading.posture_sd**2 / stands)
    )


def in_words(advice: Advice, title: str) -> str:
    """Write the advice as a sentence."""
    if not advice.decides:
        return (
            f"No repeating of one reading decides this: the value lies too near the limit. "
            f"{title[:1].upper() + title[1:]} is the reading that limits it most."
        )
    times = "once more" if advice.repeats == 1 else f"{advice.repeats} more times"
    return f"To decide, stand the dog anew and take {title} {times}."
