"""Puppies, their ages in days from whelping, and the readings of each as a series over age."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from statistics import fmean
from types import MappingProxyType

from kit.growth.error_models import error_model
from kit.growth.slips import SlipFound, slip_at
from kit.protocol.catalogue import Catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import DataFileError
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind

# Two readings of one day further apart than this many of their deviations are asked about: the
# 99.9 % point of the range of two (scipy.stats.studentized_range), as in kit.estimation.repeats.
RANGE_OF_TWO = 4.65
Key = tuple[str, str, str]


@dataclass(frozen=True)
class Puppy:
    """A puppy as its litter knows it.

    Attributes
    ----------
    born : date
        The whelping date; ages count from it.
    mark : str
        Collar colour or other mark it is told by.
    died : date or None
        Its record ends there.
    """

    name: str
    born: date
    sex: str = ""
    mark: str = ""
    died: date | None = None
    litter: str = ""

    def age_on(self, day: date) -> int:
        """Return its age in days; negative before whelping."""
        return (day - self.born).days


@dataclass(frozen=True)
class Point:
    """What was measured on one day: the mean of its readings, in the unit of their kind."""

    age: int
    value: float
    readings: int = 1


@dataclass(frozen=True)
class Series:
    """One measurement of one side of one puppy over age; `aside` are points left out of fits."""

    dog: str
    measurement: str
    side: str
    kind: Kind
    points: tuple[Point, ...]
    aside: tuple[Point, ...] = ()

    @property
    def ages(self) -> tuple[int, ...]:
        """Ages in days."""
        return tuple(point.age for point in self.points)

    @property
    def values(self) -> tuple[float, ...]:
        """Values in the unit of the kind."""
        return tuple(point.value for point in self.points)


@dataclass(frozen=True)
class GrowthDoubt:
    """Something a person should look at again about one puppy."""

    dog: str
    measurement: str
    message: str


@dataclass(frozen=True)
class GrowthRecord:
    """A litter's readings by age.

    Attributes
    ----------
    puppies : mapping of name to Puppy
    series : mapping of (dog, measurement, side) to Series
    doubts : tuple of GrowthDoubt
    readings : mapping of (dog, age) to tuple of Reading
        The readings of one puppy on one day.
    """

    puppies: Mapping[str, Puppy]
    series: Mapping[Key, Series]
    doubts: tuple[GrowthDoubt, ...]
    readings: Mapping[tuple[str, int], tuple[Reading, ...]]

    @property
    def living(self) -> tuple[Puppy, ...]:
        """Puppies that have not died."""
        return tuple(puppy for puppy in self.puppies.values() if puppy.died is None)

    def of(self, measurement: str) -> dict[str, Series]:
        """Return the series of one measurement by dog, the left side where there are two."""
        found: dict[str, Series] = {}
        for (dog, key, side), one in self.series.items():
            if key == measurement and (dog not in found or side == "left"):
                found[dog] = one
        return found


def growth_record(
    readings: Iterable[Reading], puppies: Sequence[Puppy], catalogue: Catalogue
) -> GrowthRecord:
    """Order readings by puppy, measurement and age; nothing is dropped without a doubt saying so.

    Readings before whelping, after death, without a date or of an unknown puppy are not used.
    Readings of one day count as one, their mean. A value that only a slip of unit or decimal
    point explains is set aside until somebody reads it again.

    Raises
    ------
    DataFileError
        If two puppies share a name, or none is given.
    """
    doubts: list[GrowthDoubt] = []
    known = _by_name([_dated(puppy, doubts) for puppy in puppies])
    doubts += _alike(known.values())
    days: dict[tuple[str, int], list[Reading]] = {}
    for reading in readings:
        age = _age(reading, known, doubts)
        if age is not None:
            days.setdefault((reading.dog, age), []).append(reading)
    series = _all_series(days, catalogue, doubts)
    kept = {key: tuple(_kept(key, group, series)) for key, group in sorted(days.items())}
    return GrowthRecord(
        MappingProxyType(known), MappingProxyType(series), tuple(dict.fromkeys(doubts)),
        MappingProxyType(kept),
    )  # fmt: skip


def _by_name(puppies: Sequence[Puppy]) -> dict[str, Puppy]:
    known = {puppy.name: puppy for puppy in puppies}
    if not known or len(known) < len(puppies):
        names = ", ".join(puppy.name for puppy in puppies)
        raise DataFileError("not a litter", "puppies, each with its own name", names)
    return known


def _dated(puppy: Puppy, doubts: list[GrowthDoubt]) -> Puppy:
    """Return the puppy without a date of death that lies before its birth."""
    if puppy.died is None or puppy.died >= puppy.born:
        return puppy
    why = (
        f"died on {puppy.died}, which is before whelping ({puppy.born}); one of the dates is "
        "wrong, and the date of death is not used"
    )
    doubts.append(GrowthDoubt(puppy.name, "dates", why))
    return replace(puppy, died=None)


def _alike(puppies: Iterable[Puppy]) -> Iterable[GrowthDoubt]:
    """Yield a doubt for each puppy that carries the mark of an earlier one of its litter."""
    first: dict[tuple[date, str], str] = {}
    for puppy in puppies:
        if not puppy.mark or puppy.died is not None:
            continue
        other = first.setdefault((puppy.born, puppy.mark.lower()), puppy.name)
        if other != puppy.name:
            why = f"marked {puppy.mark} like {other}; were they taken for one another?"
            yield GrowthDoubt(puppy.name, "marks", why)


def _age(reading: Reading, known: Mapping[str, Puppy], doubts: list[GrowthDoubt]) -> int | None:
    """Return the age in days; None, with a doubt that says why, where it cannot be used."""

    def doubted(why: str) -> None:
        doubts.append(GrowthDoubt(reading.dog, reading.measurement, why))

    puppy = known.get(reading.dog)
    day = _day(reading.time)
    if puppy is None:
        why = "no whelping date is known, so its readings have no age; give the date"
        doubts.append(GrowthDoubt(reading.dog, "dates", why))
    elif day is None:
        doubted(f"{reading.measurement} {reading.raw}: {_undated(reading)}")
    elif day < puppy.born:
        doubted(
            f"{reading.measurement} {reading.raw} on {day}: {-puppy.age_on(day)} days before "
            f"whelping ({puppy.born}); one of the dates is wrong, the reading is not used"
        )
    elif puppy.died is not None and day > puppy.died:
        doubted(
            f"{reading.measurement} {reading.raw} on {day}: after {puppy.name} died "
            f"({puppy.died}); was another puppy measured? The reading is not used"
        )
    else:
        return puppy.age_on(day)
    return None


def _undated(reading: Reading) -> str:
    if not reading.time.strip():
        return "no date, so no age; give the time column"
    return f"'{reading.time}' is no date, so there is no age; write it as YYYY-MM-DD"


def _day(moment: str) -> date | None:
    try:
        return datetime.fromisoformat(moment.strip()).date()
    except ValueError:
        return None


def _all_series(
    days: Mapping[tuple[str, int], Sequence[Reading]],
    catalogue: Catalogue,
    doubts: list[GrowthDoubt],
) -> dict[Key, Series]:
    groups: dict[Key, dict[int, list[Reading]]] = {}
    for (dog, age), group in sorted(days.items()):
        for reading in group:
            key = (dog, reading.measurement, reading.side)
            groups.setdefault(key, {}).setdefault(age, []).append(reading)
    made = {}
    for key, by_age in groups.items():
        kind = catalogue.measurement(key[1]).kind
        points = tuple(_point(key, age, group, kind, doubts) for age, group in by_age.items())
        made[key] = _without_slips(Series(*key, kind, points), doubts)
    return made


def _point(
    key: Key, age: int, group: Sequence[Reading], kind: Kind, doubts: list[GrowthDoubt]
) -> Point:
    values = [reading.value for reading in group]
    mean = fmean(values)
    allowed = RANGE_OF_TWO * float(error_model(kind).deviation(mean))
    if max(values) - min(values) > allowed:
        told = " and ".join(with_unit(value, kind) for value in (min(values), max(values)))
        doubts.append(
            GrowthDoubt(
                key[0], key[1],
                f"{key[1]} on day {age}: {told} on one day are further apart than measuring "
                "twice explains; their mean is used until one is read again",
            )
        )  # fmt: skip
    return Point(age, mean, len(values))


def _without_slips(series: Series, doubts: list[GrowthDoubt]) -> Series:
    """Set aside points that only a slip explains, the worst first."""
    while True:
        found = [slip for at in range(len(series.points)) if (slip := _slip(series, at))]
        if not found:
            return series
        worst = max(found, key=lambda slip: abs(math.log(slip.factor)))
        point = series.points[worst.place]
        doubts.append(GrowthDoubt(series.dog, series.measurement, _in_words(series, point, worst)))
        rest = series.points[: worst.place] + series.points[worst.place + 1 :]
        series = replace(series, points=rest, aside=(*series.aside, point))


def _slip(series: Series, place: int) -> SlipFound | None:
    if series.kind not in (Kind.MASS, Kind.LENGTH):
        return None
    return slip_at(series.ages, series.values, place, series.kind)


def _in_words(series: Series, point: Point, slip: SlipFound) -> str:
    shown, expected = (_as_written(size, series.kind) for size in (point.value, slip.expected))
    return (
        f"{series.measurement} {shown} on day {point.age} stands far from its neighbours "
        f"(about {expected}): {slip.name}? It is set aside until somebody reads it again"
    )


def _as_written(size: float, kind: Kind) -> str:
    """Write a size as a hand would: grams below a kilogram."""
    if kind is Kind.MASS and size < 1.0:
        return f"{1000.0 * size:.3g} g"
    return f"{size:.3g} {kind.unit}"


def _kept(
    key: tuple[str, int], group: Sequence[Reading], series: Mapping[Key, Series]
) -> Iterable[Reading]:
    """Yield the readings of one day whose point was not set aside."""
    dog, age = key
    for reading in group:
        one = series[(dog, reading.measurement, reading.side)]
        if all(point.age != age for point in one.aside):
            yield reading
