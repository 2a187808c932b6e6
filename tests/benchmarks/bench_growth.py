"""How often 90 % intervals hold the true grown size, and what borrowing from siblings gains.

Run from anywhere: ``python tests/benchmarks/bench_growth.py [PUPPIES]`` (1,000 in each design by
default). `simulated_puppies` says how they grow and are measured. The rows under "Beyond" leave
the kit's assumptions on purpose.
"""

from __future__ import annotations

import math
import re
import sys
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parents[1]))
from benchmarks.simulated_puppies import (
    SIZE,
    Breed,
    Design,
    Vector,
    breed,
    litter,
    measured,
    simulate,
)

from kit.growth.adult import adult_size, widest_of
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit
from kit.growth.fitting import fit
from kit.growth.members import Member
from kit.growth.pooling import fit_litter
from kit.quantities.errors import KitError
from kit.quantities.kinds import Kind

WITHIN = (
    Design("alone, 20 to 60 weeks", (20, 60), (7, 14), "alone"),
    Design("litter, 16 to 52 weeks, one puppy measured three times", (16, 52), (7, 14), "litter",
           few=1),
    Design("litter of 8 to 20 weeks, six grown litters known", (8, 20), (7, 10), "learned"),
)  # fmt: skip
BEYOND = (
    Design("as alone, but a Gompertz curve is taken for certain", (20, 60), (7, 14), "alone",
           "gompertz"),
    Design("as litter, but a Gompertz curve is taken for certain", (16, 52), (7, 14), "litter",
           "gompertz", few=1),
    Design("as litter, readings wander (correlation 0.7 from one to the next)", (16, 52),
           (7, 14), "litter", few=1, wander=0.7),
)  # fmt: skip
SIZES = {Kind.MASS: "weight", Kind.LENGTH: "height at the withers"}


def gain(litters: int, seed: int) -> dict[str, tuple[float, float]]:
    """Return the median and root mean square error of log adult weight, by how it is pooled.

    Each puppy is weighed five times between 4 and 20 weeks. Puppies whose own readings bear no
    curve are left out of all three.
    """
    rng = np.random.default_rng(seed)
    errors: dict[str, list[float]] = {"none": [], "partial": [], "full": []}
    for _ in range(litters):
        weight = math.exp(rng.uniform(math.log(3.0), math.log(55.0)))
        of = Breed(Kind.MASS, weight, "gompertz", ())
        truths = list(litter(rng, of))
        found = []
        for number, (sex, truth) in enumerate(truths):
            ages = np.sort(rng.choice(np.arange(28.0, 141.0, 7.0), 5, replace=False))
            days, sizes = measured(rng, of, truth, ages)
            found.append(Member(str(number), days, sizes, sex))
        pooled = fit_litter("gompertz", found, of.error)
        for one, (_, truth) in zip(found, truths, strict=True):
            alone = _alone(one, of)
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


def _alone(one: Member, of: Breed) -> Fit | None:
    try:
        return fit("gompertz", one.age, one.value, of.error)
    except KitError:
        return None


def advice(litters: int, seed: int, kind: Kind) -> tuple[int, int]:
    """Return how many young puppies were refused, and how many had an answer when advised.

    Each litter is measured weekly from the fourth week to the sixth to thirteenth; of one puppy
    that is refused the whole litter is then measured on for as long as it was told.
    """
    refused = answered = 0
    for number in range(litters):
        rng = np.random.default_rng((seed, number))
        of = breed(rng, kind)
        truths = list(litter(rng, of))
        young = [
            _measured_on(rng, of, truth, Member(str(at), np.empty(0), np.empty(0), sex), weeks)
            for weeks in (int(rng.integers(6, 14)),)
            for at, (sex, truth) in enumerate(truths)
        ]
        told = {name: weeks for name, weeks in _told(young, of).items() if weeks}
        if not told:
            continue
        name, weeks = next(iter(told.items()))
        older = [
            _measured_on(rng, of, truth, one, weeks)
            for one, (_, truth) in zip(young, truths, strict=True)
        ]
        refused += 1
        answered += _told(older, of)[name] == 0
    return refused, answered


def _measured_on(
    rng: np.random.Generator, of: Breed, truth: Vector, one: Member, weeks: int
) -> Member:
    """Return a puppy with further weekly readings up to this age."""
    begin = one.age[-1] + 7.0 if one.age.size else 22.0
    days, sizes = measured(rng, of, truth, np.arange(begin, 7.0 * weeks + 4.0, 7.0))
    ages, values = np.append(one.age, days), np.append(one.value, sizes)
    return Member(one.name, ages, values, one.sex)


def _told(members: list[Member], of: Breed) -> dict[str, int]:
    """Return until which week each puppy should be measured on; 0 where it has an answer."""
    told = {}
    for name, own in fit_litter("richards", members, of.error, None, of.usual).fits.items():
        try:
            adult_size(own, widest=widest_of(of.kind))
            told[name] = 0
        except NotSupportedError as fault:
            weeks = re.search(r"until about (\d+) week", fault.do)
            told[name] = int(weeks[1]) if weeks else 0
    return told


def main() -> None:
    """Print the figures."""
    puppies = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for kind, size in SIZES.items():
        for title, designs in (("Within the assumptions", WITHIN), ("Beyond them", BEYOND)):
            print(f"{title}: 90 % intervals of the grown {size}, {puppies} puppies each")
            for number, design in enumerate(designs):
                _print_one(design, puppies, 100 + number, kind)
    for kind, size in SIZES.items():
        refused, answered = advice(puppies // 10, 300, kind)
        print(f"Grown {size} refused at 6 to 13 weeks, measured on as long as told: "
              f"{answered} of {refused} answered", flush=True)  # fmt: skip
    print("Five weighings between 4 and 20 weeks: error of the adult weight (median, rms)")
    for name, (median, rms) in gain(max(puppies // SIZE, 10), 200).items():
        print(f"  pooling {name}: {median:.1%}, {rms:.1%}")


def _print_one(design: Design, puppies: int, seed: int, kind: Kind) -> None:
    begun = time.monotonic()
    tally = simulate(design, puppies, seed, kind)
    print(
        f"  {design.name}: given for {tally.given / tally.puppies:.0%}, "
        f"hold the truth {tally.coverage:.1%}, half width {np.median(tally.halves):.1%}, "
        f"median error {np.median(tally.errors):.1%} ({time.monotonic() - begun:.0f} s)",
        flush=True,
    )


if __name__ == "__main__":
    main()
