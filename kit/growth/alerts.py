"""What a breeder should look at again, worded as what to do and never as what it is.

Every alert says: weigh or measure again, then call your vet. A fall in the first two weeks is
told from a single day: a puppy's weight falling in its first 48 hours marks a risk of loss
(Alves 2020, doi 10.1002/vms3.322, as quoted).
Limits without a source are common practice and say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kit.estimation.repeats import Estimate
from kit.growth.lms import STEP, Centiles
from kit.growth.puppies import GrowthRecord, Series
from kit.growth.ranking import listed
from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import with_unit

WEIGH_AGAIN = "Weigh again, then call your vet."
MEASURE_AGAIN = "Measure both sides again, then call your vet."
WATCHED_DAYS = 14
PREVIOUS = 2  # days back that still count as the previous weighing in the first two weeks
CHANNELS_CROSSED = 2.0  # centile spaces (common practice)
BEHIND = 0.20  # part of its share of the litter's weight a puppy may lose (common practice)
LITTER_AT_LEAST = 3
CLEAR = 2.0  # standard uncertainties, as for the asymmetry of a grown dog
GRAMS = 1000.0


@dataclass(frozen=True)
class Alert:
    """One thing to look at: which puppy, at what age in days, what was seen, what to do."""

    dog: str
    age: int
    kind: str
    seen: str
    do: str

    @property
    def text(self) -> str:
        """The whole sentence."""
        return f"{self.dog}, day {self.age}: {self.seen}. {self.do}"


def alerts(
    record: GrowthRecord,
    centiles: Mapping[str, Centiles] | None = None,
    estimates: Mapping[tuple[str, int], Mapping[tuple[str, str], Estimate]] | None = None,
) -> tuple[Alert, ...]:
    """Look over a litter.

    Parameters
    ----------
    centiles : mapping of sex to Centiles, optional
        The club's own reference of weight; the key "" serves a puppy whose sex is not given.
        Without any, a puppy is watched against its littermates.
    estimates : mapping of (dog, age) to estimates, optional
        For what is measured on both sides.
    """
    weights = record.of("weight")
    found: list[Alert] = []
    for dog, series in weights.items():
        found += _falls(series)
        reference = (centiles or {}).get(record.puppies[dog].sex) or (centiles or {}).get("")
        if reference is not None:
            found += _crossings(series, reference)
    if not centiles:
        found += _left_behind(weights)
    found += _one_sided(estimates or {})
    return tuple(sorted(found, key=lambda alert: (alert.dog, alert.age, alert.kind)))


def _falls(series: Series) -> Iterator[Alert]:
    """Yield an alert for each weight below the previous day's in the first two weeks."""
    for before, now in zip(series.points, series.points[1:], strict=False):
        if now.age > WATCHED_DAYS or now.age - before.age > PREVIOUS or now.value >= before.value:
            continue
        lost = (before.value - now.value) * GRAMS
        seen = (
            f"weight {now.value * GRAMS:.0f} g is {lost:.0f} g below "
            f"{'the previous day' if now.age - before.age == 1 else 'two days before'}"
        )
        first = " Keep it warm meanwhile." if now.age <= PREVIOUS else ""
        yield Alert(series.dog, now.age, "fall", seen, WEIGH_AGAIN + first)


def _crossings(series: Series, reference: Centiles) -> Iterator[Alert]:
    """Yield an alert where the z-score has moved two centile spaces away from where it was."""
    points = [point for point in series.points if reference.covers(point.age)]
    if not points:
        return
    scores = reference.scores([p.age for p in points], [p.value for p in points])
    start = float(scores[0])
    for point, score in zip(points[1:], scores[1:], strict=True):
        crossed = (float(score) - start) / STEP
        if abs(crossed) >= CHANNELS_CROSSED:
            way = "down" if crossed < 0 else "up"
            seen = f"weight has crossed {abs(crossed):.1f} centile spaces {way} since it began"
            yield Alert(series.dog, point.age, "centiles", seen, WEIGH_AGAIN)
            start = float(score)


def _left_behind(weights: Mapping[str, Series]) -> Iterator[Alert]:
    """Yield an alert where a puppy's share of its litter's weight has fallen by a fifth."""
    first: dict[str, float] = {}
    told: set[str] = set()
    for age in sorted({age for series in weights.values() for age in series.ages}):
        today = {
            dog: value
            for dog, series in weights.items()
            for day, value in zip(series.ages, series.values, strict=True)
            if day == age
        }
        if len(today) < LITTER_AT_LEAST:
            continue
        middle = float(np.exp(np.median(np.log(list(today.values())))))
        for dog, value in today.items():
            share = value / middle
            first.setdefault(dog, share)
            if share < first[dog] * (1.0 - BEHIND) and dog not in told:
                told.add(dog)
                seen = (
                    f"weight was {first[dog]:.0%} of the litter’s middle and is now {share:.0%}"
                ).replace("%", " %")
                yield Alert(dog, age, "behind", seen, WEIGH_AGAIN)


def _one_sided(
    estimates: Mapping[tuple[str, int], Mapping[tuple[str, str], Estimate]],
) -> Iterator[Alert]:
    """Yield an alert where left and right differ clearly, more than they did at first."""
    by_measurement: dict[tuple[str, str], list[tuple[int, float, float]]] = {}
    for (dog, age), table in sorted(estimates.items()):
        for (key, side), left in table.items():
            right = table.get((key, "right"))
            if side == "left" and right is not None:
                unsure = float(np.hypot(left.uncertainty, right.uncertainty))
                row = (age, left.value - right.value, unsure)
                by_measurement.setdefault((dog, key), []).append(row)
    for (dog, key), rows in by_measurement.items():
        yield from _growing_apart(dog, key, rows)


def _growing_apart(dog: str, key: str, rows: Sequence[tuple[int, float, float]]) -> Iterator[Alert]:
    definition = catalogue().measurement(key)
    first_age, first, first_unsure = rows[0]
    for age, difference, unsure in rows[1:]:
        change = difference - first
        grown = abs(change) > CLEAR * float(np.hypot(unsure, first_unsure))
        if grown and abs(difference) > CLEAR * unsure and abs(difference) > abs(first):
            side = "left" if difference > 0 else "right"
            size = with_unit(abs(difference), definition.kind)
            began = with_unit(abs(first), definition.kind)
            seen = (
                f"{definition.title} is {size} more on the {side}; "
                f"the sides differed by {began} on day {first_age}"
            )
            yield Alert(dog, age, "one side", seen, MEASURE_AGAIN)
            return


def in_the_past(alert: Alert) -> str:
    """Word an alert of earlier days: what was seen, with nothing left to do."""
    return f"{alert.dog}, day {alert.age}: {alert.seen}."


def quiet(record: GrowthRecord) -> str:
    """Say in words that nothing was found, and what that does not mean."""
    names = listed([puppy.name for puppy in record.living])
    return f"Nothing to look at again in what was measured of {names}. That is no check of health."
