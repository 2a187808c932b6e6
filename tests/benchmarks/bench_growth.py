"""How often 90 % intervals hold the true adult weight, and what borrowing from siblings gains.

Run from anywhere: ``python tests/benchmarks/bench_growth.py [PUPPIES]`` (1,000 in each design by
default). Breeds from 3 to 55 kg, siblings that differ by 4 to 14 %, own pace and midpoint, both
sexes, missed weighings, scatter of readings from half to twice what the kit assumes. Each breed
follows a curve of its own: Gompertz, logistic, von Bertalanffy or one between them. The last rows
leave the kit's assumptions on purpose.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kit.growth.adult import adult_size
from kit.growth.curves import CURVES
from kit.growth.error_models import error_model
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit
from kit.growth.fitting import fit
from kit.growth.learning import learn
from kit.growth.members import Member
from kit.growth.pooling import fit_litter
from kit.quantities.errors import KitError
from kit.quantities.kinds import Kind

Vector = NDArray[np.float64]
MASS = error_model(Kind.MASS)
SIZE = 6
HISTORY = 6  # grown litters a club has


@dataclass(frozen=True)
class Design:
    """How puppies grow and how they are weighed.

    Attributes
    ----------
    weeks : (int, int)
        Range of the age at the last weighing.
    every : tuple of int
        Days between weighings, one drawn for each litter.
    way : str
        ``alone``, ``litter`` or ``learned`` (a litter with grown litters of its kind known).
    model : str
        The curve that is fitted.
    few : int
        How many of the litter are weighed three times only.
    wander : float
        Correlation of the scatter from one weighing to the next.
    """

    name: str
    weeks: tuple[int, int]
    every: tuple[int, ...]
    way: str
    model: str = "richards"
    few: int = 0
    wander: float = 0.0


WITHIN = (
    Design("alone, 20 to 60 weeks", (20, 60), (7, 14), "alone"),
    Design("litter, 16 to 52 weeks, one puppy weighed three times", (16, 52), (7, 14), "litter",
           few=1),
    Design("litter of 8 to 20 weeks, six grown litters known", (8, 20), (7, 10), "learned"),
)  # fmt: skip
BEYOND = (
    Design("as alone, but a Gompertz curve is taken for certain", (20, 60), (7, 14), "alone",
           "gompertz"),
    Design("as litter, but a Gompertz curve is taken for certain", (16, 52), (7, 14), "litter",
           "gompertz", few=1),
    Design("as litter, weights wander (correlation 0.7 from one weighing to the next)", (16, 52),
           (7, 14), "litter", few=1, wander=0.7),
)  # fmt: skip


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

    def take(self, own: Fit, adult: float) -> None:
        """Count one puppy."""
        self.puppies += 1
        try:
            size = adult_size(own)
        except NotSupportedError:
            return
        self.given += 1
        self.held += size.low <= adult <= size.high
        self.halves.append(math.log(size.high / size.low) / 2.0)
        self.errors.append(abs(math.log(size.value / adult)))


def litter(rng: np.random.Generator, weight: float | None = None) -> Iterator[tuple[str, Vector]]:
    """Yield sex and true parameters of six siblings."""
    kind = math.exp(rng.uniform(math.log(3.0), math.log(55.0))) if weight is None else weight
    adult = kind * math.exp(0.06 * rng.standard_normal())
    pace = (42.0 + 14.0 * math.log(kind / 3.0) / math.log(18.0)) * math.exp(
        0.06 * rng.standard_normal()
    )
    midpoint = pace * (1.5 + 0.10 * rng.standard_normal())
    spread, unlike = rng.uniform(0.04, 0.14), rng.uniform(0.04, 0.12)
    for _ in range(SIZE):
        sex = "dog" if rng.random() < 0.5 else "bitch"
        larger = 0.06 if sex == "dog" else -0.06
        one, two, three = rng.standard_normal(3)
        yield sex, np.array([
            adult * math.exp(larger + spread * one), midpoint + pace * unlike * two,
            pace * math.exp(unlike * three),
        ])  # fmt: skip


def weighed(
    rng: np.random.Generator,
    true: tuple[str, Vector],
    ages: Vector,
    scatter: float,
    wander: float = 0.0,
) -> tuple[Vector, Vector]:
    """Return ages and weights as read; ages at which the true curve has not begun are left out."""
    curve, truth = true
    sizes = np.nan_to_num(CURVES[curve].value(ages, truth))
    begun = sizes > 0.005 * truth[0]
    ages, sizes = ages[begun], sizes[begun]
    noise = rng.standard_normal(ages.size)
    for at in range(1, ages.size):
        noise[at] = wander * noise[at - 1] + math.sqrt(1.0 - wander**2) * noise[at]
    read = sizes + scatter * MASS.deviation(sizes) * noise
    return ages, np.maximum(read, 0.005)


def way_of_growing(rng: np.random.Generator) -> tuple[str, list[float]]:
    """Return the true curve of a breed and its shape, where it has one."""
    key = str(rng.choice(["gompertz", "logistic", "von_bertalanffy", "richards"]))
    return key, [float(rng.uniform(-1.0 / 3.0, 1.0))] if key == "richards" else []


Breed = tuple[float, str, list[float]]


def breed(rng: np.random.Generator) -> Breed:
    """Return adult weight and way of growing of one breed."""
    return (math.exp(rng.uniform(math.log(3.0), math.log(55.0))), *way_of_growing(rng))


def members(
    rng: np.random.Generator, design: Design, kind: Breed, *, grown: bool = False
) -> tuple[list[Member], list[float]]:
    """Return one litter as it was weighed, and its true adult weights."""
    scatter = math.exp(rng.uniform(math.log(0.5), math.log(2.0)))
    last = 65 if grown else int(rng.integers(design.weeks[0], design.weeks[1] + 1))
    every = 28 if grown else int(rng.choice(design.every))
    weight, curve, shape = kind
    found, adults = [], []
    for number, (sex, truth) in enumerate(litter(rng, weight)):
        ages = np.arange(21.0 + rng.integers(0, 4), 7.0 * last + 1.0, every)
        ages = ages[rng.random(ages.size) > 0.12]
        if not grown and number < design.few:
            ages = np.sort(rng.choice(np.arange(24.0, 100.0, 7.0), 3, replace=False))
        true = (curve, np.append(truth, shape))
        days, sizes = weighed(rng, true, ages, scatter, design.wander)
        found.append(Member(str(number), days, sizes, sex))
        adults.append(float(truth[0]))
    return found, adults


def simulate(design: Design, puppies: int, seed: int) -> Tally:
    """Predict the adult weights of so many puppies and count."""
    rng, tally = np.random.default_rng(seed), Tally()
    while tally.puppies < puppies:
        kind = breed(rng)
        found, adults = members(rng, design, kind)
        for one, adult in zip(_fits(rng, design, kind, found), adults, strict=True):
            if tally.puppies < puppies:
                tally.take(one, adult)
    return tally


def _fits(rng: np.random.Generator, design: Design, kind: Breed, found: list[Member]) -> list[Fit]:
    if design.way == "alone":
        return [fit_litter(design.model, [one], MASS).fits[one.name] for one in found]
    shared = None
    if design.way == "learned":
        history = [members(rng, design, kind, grown=True)[0] for _ in range(HISTORY)]
        shared = learn(design.model, history, MASS)
    return list(fit_litter(design.model, found, MASS, shared).fits.values())


def _alone(one: Member) -> Fit | None:
    try:
        return fit("gompertz", one.age, one.value, MASS)
    except KitError:
        return None


def gain(litters: int, seed: int) -> dict[str, tuple[float, float]]:
    """Return the median and root mean square error of log adult weight, by how it is pooled.

    Each puppy is weighed five times between 4 and 20 weeks. Puppies whose own readings bear no
    curve are left out of all three.
    """
    rng = np.random.default_rng(seed)
    errors: dict[str, list[float]] = {"none": [], "partial": [], "full": []}
    for _ in range(litters):
        truths = list(litter(rng))
        found = []
        for number, (sex, truth) in enumerate(truths):
            ages = np.sort(rng.choice(np.arange(28.0, 141.0, 7.0), 5, replace=False))
            days, sizes = weighed(rng, ("gompertz", truth), ages, 1.0)
            found.append(Member(str(number), days, sizes, sex))
        pooled = fit_litter("gompertz", found, MASS)
        for one, (_, truth) in zip(found, truths, strict=True):
            alone = _alone(one)
            if alone is None:
                continue
            true = math.log(truth[0])
            errors["none"].append(math.log(alone.parameters["adult"]) - true)
            errors["partial"].append(math.log(pooled.fits[one.name].parameters["adult"]) - true)
            errors["full"].append(float(pooled.mean[0]) - true)
    return {
        name: (float(np.median(np.abs(rows))), float(np.sqrt(np.mean(np.square(rows)))))
        for name, rows in errors.items()
    }


def main() -> None:
    """Print the figures."""
    puppies = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for title, designs in (("Within the assumptions", WITHIN), ("Beyond them", BEYOND)):
        print(f"{title}: 90 % intervals of the adult weight, {puppies} puppies each")
        for number, design in enumerate(designs):
            begun = time.monotonic()
            tally = simulate(design, puppies, 100 + number)
            print(
                f"  {design.name}: given for {tally.given / tally.puppies:.0%}, "
                f"hold the truth {tally.coverage:.1%}, half width {np.median(tally.halves):.1%}, "
                f"median error {np.median(tally.errors):.1%} "
                f"({time.monotonic() - begun:.0f} s)",
                flush=True,
            )
    print("Five weighings between 4 and 20 weeks: error of the adult weight (median, rms)")
    for name, (median, rms) in gain(max(puppies // SIZE, 10), 200).items():
        print(f"  pooling {name}: {median:.1%}, {rms:.1%}")


if __name__ == "__main__":
    main()
