"""What a breeder should look at again, worded as what to do and never as what it is.

Every alert says: weigh or measure again, then call your vet. A fall in the first two weeks is
told from a single weighing: a puppy's weight falling in its first 48 hours marks a risk of loss
(Alves 2020, doi 10.1002/vms3.322, as quoted). Two sides are told to grow apart only where all the
days measured say so together: single days would accuse one sound puppy in six, this rule one in
fifty (simulated in the tests).
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
FIRST_DAYS = 2  # in which a puppy that does not gain must above all be kept warm
CHANNELS_CROSSED = 2.0  # centile spaces (common practice)
BEHIND = 0.20  # part of its share of the litter's weight a puppy may lose (common practice)
LITTER_AT_LEAST = 3
CLEAR = 2.0  # standard uncertainties, as for the asymmetry of a grown dog
CLEAR_TREND = 3.0  # of a slope that is looked at again on every day of measuring
GRAMS = 1000.0


@dataclass(frozen=True)
class Alert:
    """One thing to look at: which puppy, at what age in days, what was seen, what to do."""

    dog: str
    age: int
    kind: str
    seen: str
    do: str
    measurement: str = "weight"

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
    """Yield an alert for each weight below the one before it in the first two weeks."""
    for before, now in zip(series.points, series.points[1:], strict=False):
        if now.age > WATCHED_DAYS or now.value >= before.value:
            continue
        lost = (before.value - now.value) * GRAMS
        days = now.age - before.age
        since = "the previous day" if days == 1 else f"{days} days before"
        seen = f"weight {now.value * GRAMS:.0f} g is {_grams(lost)} below {since}"
        first = " Keep it warm meanwhile." if now.age <= FIRST_DAYS else ""
        yield Alert(series.dog, now.age, "fall", seen, WEIGH_AGAIN + first)


def _grams(lost: float) -> str:
    """Write a loss; a scale that reads to a tenth of a gram may show less than one."""
    return f"{lost:.0f} g" if lost >= 1 else "less than 1 g"


def _crossings(series: Series, reference: Centiles) -> Iterator[Alert]:
    """Yield an alert where the z-score has moved two centile spaces away from where it was."""
    points = [point for point in series.points if reference.covers(point.age)]
    if not points:
        return
    scores = reference.scores([p.age for p in points], [p.value for p in points])
    since, start = points[0].age, float(scores[0])
    for point, score in zip(points[1:], scores[1:], strict=True):
        crossed = (float(score) - start) / STEP
        if abs(crossed) >= CHANNELS_CROSSED:
            way = "down" if crossed < 0 else "up"
            seen = f"weight has crossed {abs(crossed):.1f} centile spaces {way} since day {since}"
            yield Alert(series.dog, point.age, "centiles", seen, WEIGH_AGAIN)
            since, start = point.age, float(score)


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
    """Yield an alert where left and right grow apart."""
    by_measurement: dict[tuple[str, str], list[tuple[int, float, float]]] = {}
    for (dog, age), table in sorted(estimates.items()):
        for (key, side), left in table.items():
            right = table.get((key, "right"))
            if side == "left" and right is not None:
                unsure = float(np.hypot(left.uncertainty, right.uncertainty))
                row = (age, left.value - right.value, unsure)
                by_measurement.setdefault((dog, key), []).append(row)
    for (dog, key), rows in by_measurement.items():
        looks = [_apart(rows[:count]) for count in range(2, len(rows) + 1)]
        told = [look for look in looks if look is not None]
        if told:
            seen = _sides_in_words(key, told)
            yield Alert(dog, told[-1].age, "one side", seen, MEASURE_AGAIN, key)


@dataclass(frozen=True)
class _Apart:
    """Left less right on the first and the last day, by the line through all days."""

    first_age: int
    age: int
    first: float
    now: float


def _apart(rows: Sequence[tuple[int, float, float]]) -> _Apart | None:
    """Return the line of left less right over age where it clearly grows away from nought."""
    age, difference, unsure = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    design = np.column_stack([np.ones(age.size), age - age[-1]]) / unsure[:, None]
    covariance = np.linalg.inv(design.T @ design)
    now, slope = covariance @ design.T @ (difference / unsure)
    first = now + slope * (age[0] - age[-1])
    growing = abs(slope) > CLEAR_TREND * np.sqrt(covariance[1, 1])
    clear = abs(now) > CLEAR * np.sqrt(covariance[0, 0])
    if not (growing and clear and abs(now) > abs(first)):
        return None
    return _Apart(rows[0][0], rows[-1][0], float(first), float(now))


def _sides_in_words(key: str, told: Sequence[_Apart]) -> str:
    """Word what was last seen, and since when it has been so."""
    definition, last = catalogue().measurement(key), told[-1]
    less, more = ("left", "right") if last.now < 0 else ("right", "left")
    now, first = (with_unit(abs(size), definition.kind) for size in (last.now, last.first))
    since = f" (told since day {told[0].age})" if told[0].age < last.age else ""
    return (
        f"{definition.title} grows less on the {less}: by now {now} less than on the {more}, "
        f"on day {last.first_age} about {first} apart{since}"
    )


def in_the_past(alert: Alert) -> str:
    """Word an alert of earlier days: what was seen, with nothing left to do."""
    return f"{alert.dog}, day {alert.age}: {alert.seen}."


def quiet(record: GrowthRecord) -> str:
    """Say in words that nothing was found, and what that does not mean."""
    names = listed([puppy.name for puppy in record.living])
    return f"Nothing to look at again in what was measured of {names}. That is no check of health."
