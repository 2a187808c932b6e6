"""How a puppy's proportions change with age, beside what the standard asks of the grown dog."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.estimation.repeats import Estimate, estimates_of
from kit.growth.puppies import GrowthRecord
from kit.protocol.catalogue import Catalogue
from kit.standards.standard import Clause, Standard
from kit.traits.derive import derive
from kit.traits.estimates import TraitEstimate

SHOWN = (
    "length_to_height_from_prosternum",
    "length_to_height_from_point_of_shoulder",
    "elbow_height_to_height",
    "head_to_height",
    "chest_depth_to_height",
)
DAYS_PER_MONTH = 365.25 / 12.0
ADULT_ONLY = (
    "The standard’s clauses are written for grown dogs and do not judge puppies. Their range is "
    "faded in to show where growth may lead, not what a puppy should be."
)
OFFICIAL_HEIGHTS = (
    "A puppy's height is a growth record, never a final height. Official heights have minimum "
    "ages: one body measures from 18 months, others measure again at 2 years a dog first "
    "measured younger, and one asks a second measuring 12 to 24 months after the first."
)
OFFICIAL_HEIGHTS_SOURCE = (
    "Rules of agility bodies and kennel clubs (ADAA; ANKC and Dogs West; The Kennel Club notices "
    "of 2016 and 2017), read in copies; ask your own body for its present rule"
)

DayEstimates = Mapping[tuple[str, int], Mapping[tuple[str, str], Estimate]]


@dataclass(frozen=True)
class ProportionPoint:
    """One proportion of one puppy on one day, with its 95 % interval."""

    dog: str
    age: int
    trait: str
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class AdultRange:
    """What a standard asks of the grown dog: limits (None is open), words, and from what age."""

    trait: str
    low: float | None
    high: float | None
    words: str
    from_days: float


def estimates_by_day(record: GrowthRecord, catalogue: Catalogue) -> DayEstimates:
    """Return the estimates of every puppy on every day it was measured."""
    return {
        key: estimates_of(readings, catalogue)
        for key, readings in record.readings.items()
        if readings
    }


def proportions(
    estimates: DayEstimates, shown: Sequence[str] = SHOWN
) -> tuple[ProportionPoint, ...]:
    """Return the proportions that each day's readings bear, in order of dog and age."""
    points = []
    for (dog, age), table in sorted(estimates.items()):
        known = derive(table).known
        points += [_point(dog, age, known[trait]) for trait in shown if trait in known]
    return tuple(points)


def _point(dog: str, age: int, known: TraitEstimate) -> ProportionPoint:
    return ProportionPoint(dog, age, known.trait.key, known.value, known.low95, known.high95)


def adult_ranges(standard: Standard, sex: str = "") -> dict[str, AdultRange]:
    """Return what the standard asks of the grown dog, by trait; sexes differ where they do."""
    from_days = standard.adult_from_months * DAYS_PER_MONTH
    return {
        clause.trait: _range(clause, from_days)
        for clause in standard.clauses
        if clause.trait in SHOWN and clause.sex in {"both", sex}
    }


def _range(clause: Clause, from_days: float) -> AdultRange:
    return AdultRange(clause.trait, clause.low, clause.high, clause.words, from_days)
