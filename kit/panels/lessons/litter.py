"""A litter in figures: the traits of several dogs in one table, and who differs from whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kit.drawing.regions import by_region
from kit.drawing.wording import value_text
from kit.panels.lessons.page import table
from kit.standards.assessment import Assessment
from kit.standards.comparison import COVERAGE, Difference, compare_all, expected_by_chance
from kit.traits.declarations import trait

USUAL = ("height_at_withers", "length_to_height_from_prosternum", "chest_depth_to_height",
         "shoulder_angle", "hip_angle", "loin_to_back")  # fmt: skip


def shared_traits(dogs: Mapping[str, Assessment]) -> dict[str, str]:
    """Return the keys of the traits that at least two dogs have, by title, round the dog."""
    counts: dict[str, int] = {}
    for assessment in dogs.values():
        for key in assessment.traits.known:
            counts[key] = counts.get(key, 0) + 1
    keys = [key for key, count in counts.items() if count > 1]
    ordered = [key for _, group in by_region(keys, lambda key: key) for key in group]
    return {_titled(key): key for key in ordered}


def _titled(key: str) -> str:
    title = trait(key).title
    return title[:1].upper() + title[1:]


def trait_table(dogs: Mapping[str, Assessment], keys: Sequence[str]) -> str:
    """Return a table of traits, each with half the width of its 95 % interval."""
    if not dogs or not keys:
        return table(["Choose at least one dog and one trait."], [])
    rows = [[_titled(key), *(_value(dog, key) for dog in dogs.values())] for key in keys]
    return table(["", *dogs], rows)


def _value(assessment: Assessment, key: str) -> str:
    known = assessment.traits.known
    return value_text(known[key]) if key in known else "not measured"


def pairs_in(dogs: Mapping[str, Assessment], key: str) -> tuple[Difference, ...]:
    """Compare every pair of the dogs that have a trait, the clearest pair first."""
    measured = {name: dog.traits.known[key] for name, dog in dogs.items()
                if key in dog.traits.known}  # fmt: skip
    return compare_all(measured)


def pairs_sentence(pairs: Sequence[Difference]) -> str:
    """Say how to take the picture of the pairs, and how many could be chance."""
    expected = expected_by_chance(pairs)
    return (
        f"A pair is told apart where the bar of its difference ({COVERAGE:.0%} interval) leaves "
        f"out zero. If all these dogs were alike, about {expected:.1f} of the {len(pairs)} pairs "
        "would look different by chance: a single pair that just clears the line proves little."
    ).replace("%", " %")
