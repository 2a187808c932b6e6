"""A copy of a survey that names nobody, and what in it could still give a dog away."""

from __future__ import annotations

import math
import secrets
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kit.survey.dogs import SurveyTable, reordered
from kit.survey.groups import AGE_STARTS, age_places

Flags = NDArray[np.bool_]
FEWEST_ALIKE = 5
"""Dogs that share everything said of them; fewer may be known by it (common practice)."""


@dataclass(frozen=True)
class Anonymous:
    """A survey that names nobody, and what could still give a dog away.

    Attributes
    ----------
    rare : tuple of (facts, count)
        Combinations of sex, age, line and year that fewer than `FEWEST_ALIKE` dogs shared before
        anything was blanked.
    still_rare : tuple of (facts, count)
        Those left in the copy: none, unless they were kept or the survey is that small.
    """

    table: SurveyTable
    rare: tuple[tuple[str, int], ...]
    still_rare: tuple[tuple[str, int], ...]


def anonymised(table: SurveyTable, *, keep_rare: bool = False) -> Anonymous:
    """Return a survey with dogs, lines and measurers re-keyed at random and remarks removed.

    The keys are drawn anew each time and kept nowhere, so nobody can turn them back. Ages are
    rounded down to the start of their class. What rare combinations say is blanked (line first,
    then age, year, sex), unless kept; they are listed in either case. The figures themselves are
    left alone: a dog taller than all others can still be known by it.
    """
    lines = _keys(table.line, "line")
    hands = _keys([one.measurer for one in table.readings], "measurer")
    dogs = {dog: f"dog-{secrets.token_hex(6)}" for dog in table.dogs}
    readings = tuple(
        replace(one, dog=dogs[one.dog], measurer=hands.get(one.measurer, ""), note="", time="")
        for one in table.readings
    )
    classes = AGE_STARTS[age_places(table.age_months)]
    ages = np.where(np.isnan(table.age_months), np.nan, classes)
    bare = replace(
        table, dogs=tuple(dogs[dog] for dog in table.dogs),
        line=tuple(lines.get(line, "") for line in table.line),
        age_months=ages, readings=readings, problems=(),
    )  # fmt: skip
    given = bare if keep_rare else _blanked(bare)
    return Anonymous(_shuffled(given), _listed(bare), _listed(given))


def _keys(words: Iterable[str], name: str) -> dict[str, str]:
    known = sorted(set(words) - {""})
    numbers = secrets.SystemRandom().sample(range(1, len(known) + 1), len(known))
    return {word: f"{name} {number}" for word, number in zip(known, numbers, strict=True)}


Facts = tuple[str, str, str, str]


def _facts(table: SurveyTable) -> list[Facts]:
    ages = ["" if math.isnan(age) else f"{age:g}" for age in table.age_months]
    return list(zip(table.sex, ages, table.line, table.year, strict=True))


def _rare(table: SurveyTable) -> dict[Facts, int]:
    return {f: n for f, n in sorted(Counter(_facts(table)).items()) if n < FEWEST_ALIKE}


def _listed(table: SurveyTable) -> tuple[tuple[str, int], ...]:
    return tuple((_said(facts), count) for facts, count in _rare(table).items())


def _said(facts: Facts) -> str:
    sex, age, line, year = facts
    parts = (sex, f"from {age} months" if age else "", line, year)
    return ", ".join(part for part in parts if part) or "nothing known"


def _blanked(table: SurveyTable) -> SurveyTable:
    blanks: tuple[Callable[[SurveyTable, Flags], SurveyTable], ...] = (
        lambda t, hit: replace(t, line=_without(t.line, hit)),
        lambda t, hit: replace(t, age_months=np.where(hit, np.nan, t.age_months)),
        lambda t, hit: replace(t, year=_without(t.year, hit)),
        lambda t, hit: replace(t, sex=_without(t.sex, hit)),
    )
    for blank in blanks:
        rare = _rare(table)
        table = blank(table, np.array([facts in rare for facts in _facts(table)]))
    return table


def _without(words: tuple[str, ...], hit: Flags) -> tuple[str, ...]:
    return tuple("" if gone else word for word, gone in zip(words, hit.tolist(), strict=True))


def _shuffled(table: SurveyTable) -> SurveyTable:
    """Put the dogs in an order that says nothing; readings follow their dogs."""
    order = np.array(secrets.SystemRandom().sample(range(len(table)), len(table)), dtype=np.intp)
    return reordered(table, order)
