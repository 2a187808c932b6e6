"""Invented litters whose grown size is known: how they grow, how they are measured, what is fitted.

Breeds from 3 to 55 kg and from 20 to 78 cm at the withers; siblings that differ by 4 to 14 % in
weight and 1.5 to 5 % in height, each with a pace and midpoint of its own; both sexes; missed days;
readings that scatter from half to twice as much as the kit assumes. Each breed follows a curve of
its own: Gompertz, logistic, von Bertalanffy or one between them. That half of the height is
reached at 6 to 9 weeks and 92 % at 5 to 7 months is common practice (no published curve of
height at the withers was reached); that it is complete at about a year is Helmsmueller 2013.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from kit.growth.adult import adult_size, widest_of
from kit.growth.curves import CURVES
from kit.growth.error_models import ErrorModel, error_model
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit
from kit.growth.learning import learn
from kit.growth.members import Member
from kit.growth.pooling import fit_litter
from kit.growth.spreads import Usual, usual_of
from kit.quantities.kinds import Kind

Vector = NDArray[np.float64]
Truth = tuple[str, Vector]  # sex, and adult size, midpoint and pace
SIZE = 6
HISTORY = 6  # grown litters a club has
GROWN_WEEKS, GROWN_EVERY = 65, 28
MISSED = 0.12
SMALLEST = 0.005  # part of the grown size below which a curve has not begun


@dataclass(frozen=True)
class Design:
    """How a litter is measured and what is fitted to it.

    Attributes
    ----------
    weeks : (int, int)
        Range of the age at the last measuring.
    every : tuple of int
        Days between measurings, one drawn for each litter.
    way : str
        ``alone``, ``litter`` or ``learned`` (a litter with grown litters of its kind known).
    model : str
        The curve that is fitted.
    few : int
        How many of the litter are measured three times only.
    wander : float
        Correlation of the scatter from one measuring to the next.
    """

    name: str
    weeks: tuple[int, int]
    every: tuple[int, ...]
    way: str
    model: str = "richards"
    few: int = 0
    wander: float = 0.0


@dataclass(frozen=True)
class Breed:
    """How a breed grows: grown size of its middle, its curve, and the shape where it has one."""

    kind: Kind
    size: float
    curve: str
    shape: tuple[float, ...]

    @property
    def error(self) -> ErrorModel:
        """How the kit takes readings to scatter."""
        return error_model(self.kind)

    @property
    def usual(self) -> Usual:
        """How the kit takes siblings to differ."""
        return usual_of(self.kind)


@dataclass
class Tally:
    """What came of the predictions."""

    puppies: int = 0
    given: int = 0
    held: int = 0
    halves: list[float] = field(default_factory=list)
    errors: list[float] = field(default_factory=list)

    @property
    def coverage(self) -> float:
        """Part of the intervals given that hold the truth."""
        return self.held / max(self.given, 1)

    def take(self, own: Fit, adult: float, kind: Kind) -> None:
        """Count one puppy."""
        self.puppies += 1
        try:
            size = adult_size(own, widest=widest_of(kind))
        except NotSupportedError:
            return
        self.given += 1
        self.held += size.low <= adult <= size.high
        self.halves.append(math.log(size.high / size.low) / 2.0)
        self.errors.append(abs(math.log(size.value / adult)))


def breed(rng: np.random.Generator, kind: Kind) -> Breed:
    """Draw a breed."""
    low, high = (3.0, 55.0) if kind is Kind.MASS else (20.0, 78.0)
    size = math.exp(rng.uniform(math.log(low), math.log(high)))
    curve = str(rng.choice(["gompertz", "logistic", "von_bertalanffy", "richards"]))
    shape = (float(rng.uniform(-1.0 / 3.0, 1.0)),) if curve == "richards" else ()
    return Breed(kind, size, curve, shape)


def litter(rng: np.random.Generator, kind: Breed) -> Iterator[Truth]:
    """Yield sex and true parameters of six siblings."""
    weighed = kind.kind is Kind.MASS
    adult = kind.size * math.exp((0.06 if weighed else 0.03) * rng.standard_normal())
    midpoint, pace = (_by_weight if weighed else _by_height)(rng, kind)
    spread = rng.uniform(0.04, 0.14) if weighed else rng.uniform(0.015, 0.05)
    unlike, apart = rng.uniform(0.04, 0.12), 0.06 if weighed else 0.025
    for _ in range(SIZE):
        sex = "dog" if rng.random() < 0.5 else "bitch"
        one, two, three = rng.standard_normal(3)
        larger = apart if sex == "dog" else -apart
        yield sex, np.array([
            adult * math.exp(larger + spread * one), midpoint + pace * unlike * two,
            pace * math.exp(unlike * three),
        ])  # fmt: skip


def _by_weight(rng: np.random.Generator, kind: Breed) -> tuple[float, float]:
    """Return midpoint and pace of a litter's weights; large breeds take longer."""
    usual = 42.0 + 14.0 * math.log(kind.size / 3.0) / math.log(18.0)
    pace = usual * math.exp(0.06 * rng.standard_normal())
    return pace * (1.5 + 0.10 * rng.standard_normal()), pace


def _by_height(rng: np.random.Generator, kind: Breed) -> tuple[float, float]:
    """Return midpoint and pace of a litter's heights, by the ages of 50 and 92 % of them."""
    longer = 1.0 + 0.35 * math.log(kind.size / 20.0) / math.log(4.0)
    half, most = (days * longer * math.exp(0.06 * rng.standard_normal()) for days in (44.0, 150.0))
    first, last = (_paces_at(kind, part) for part in (0.50, 0.92))
    pace = (most - half) / (last - first)
    return half - pace * first, pace


def _paces_at(kind: Breed, part: float) -> float:
    """Return by how many paces this part of the grown size comes after the midpoint."""
    unit = (1.0, 0.0, 1.0, *kind.shape)

    def missing(paces: float) -> float:
        return float(np.nan_to_num(CURVES[kind.curve].value(paces, unit))) - part

    return float(optimize.brentq(missing, -3.0, 8.0))


def measured(
    rng: np.random.Generator, kind: Breed, truth: Vector, ages: Vector, scatter: float = 1.0,
    wander: float = 0.0,
) -> tuple[Vector, Vector]:  # fmt: skip
    """Return ages and sizes as read; ages at which the true curve has not begun are left out."""
    parameters = np.append(truth, kind.shape)
    sizes = np.nan_to_num(CURVES[kind.curve].value(ages, parameters))
    begun = sizes > SMALLEST * truth[0]
    ages, sizes = ages[begun], sizes[begun]
    noise = rng.standard_normal(ages.size)
    for at in range(1, ages.size):
        noise[at] = wander * noise[at - 1] + math.sqrt(1.0 - wander**2) * noise[at]
    return ages, np.maximum(sizes + scatter * kind.error.deviation(sizes) * noise, 0.005)


def members(
    rng: np.random.Generator, design: Design, kind: Breed, *, grown: bool = False
) -> tuple[list[Member], list[float]]:
    """Return one litter as it was measured, and its true grown sizes."""
    scatter = math.exp(rng.uniform(math.log(0.5), math.log(2.0)))
    last = GROWN_WEEKS if grown else int(rng.integers(design.weeks[0], design.weeks[1] + 1))
    every = GROWN_EVERY if grown else int(rng.choice(design.every))
    found, adults = [], []
    for number, (sex, truth) in enumerate(litter(rng, kind)):
        ages = np.arange(21.0 + rng.integers(0, 4), 7.0 * last + 1.0, every)
        ages = ages[rng.random(ages.size) > MISSED]
        if not grown and number < design.few:
            ages = np.sort(rng.choice(np.arange(24.0, 100.0, 7.0), 3, replace=False))
        days, sizes = measured(rng, kind, truth, ages, scatter, design.wander)
        found.append(Member(str(number), days, sizes, sex))
        adults.append(float(truth[0]))
    return found, adults


def simulate(design: Design, puppies: int, seed: int, kind: Kind = Kind.MASS) -> Tally:
    """Predict the grown sizes of so many puppies and count."""
    rng, tally = np.random.default_rng(seed), Tally()
    while tally.puppies < puppies:
        of = breed(rng, kind)
        found, adults = members(rng, design, of)
        for one, adult in zip(_fits(rng, design, of, found), adults, strict=True):
            if tally.puppies < puppies:
                tally.take(one, adult, kind)
    return tally


def _fits(rng: np.random.Generator, design: Design, of: Breed, found: list[Member]) -> list[Fit]:
    if design.way == "alone":
        alone = (fit_litter(design.model, [one], of.error, usual=of.usual) for one in found)
        return [fit.fits[one.name] for fit, one in zip(alone, found, strict=True)]
    shared = None
    if design.way == "learned":
        history = [members(rng, design, of, grown=True)[0] for _ in range(HISTORY)]
        shared = learn(design.model, history, of.error, usual=of.usual)
    return list(fit_litter(design.model, found, of.error, shared, of.usual).fits.values())
