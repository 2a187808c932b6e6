"""A survey by sex, age class, line and year: every figure of every group, and which differ."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from kit.survey.dogs import SurveyTable
from kit.survey.summary import FEWEST, Summary, by_group, holm, varies

Array = NDArray[np.float64]
AGE_CLASSES = ((0.0, "under 1 year"), (12.0, "1 to 2 years"), (36.0, "3 to 6 years"),
               (84.0, "7 years and more"))  # fmt: skip
"""Months from which a dog counts as of each class (common practice)."""
AGE_STARTS = np.array([start for start, _ in AGE_CLASSES])


@dataclass(frozen=True)
class Grouping:
    """One way to divide the dogs: a label each, empty where nothing is known."""

    name: str
    labels: tuple[str, ...]


def groupings(table: SurveyTable) -> tuple[Grouping, ...]:
    """Return the ways to divide a survey of which it knows anything."""
    ages = tuple(_age_class(age) for age in table.age_months.tolist())
    every = (Grouping("sex", table.sex), Grouping("age", ages), Grouping("line", table.line),
             Grouping("year", table.year))  # fmt: skip
    return tuple(one for one in every if set(one.labels) - {""})


def _age_class(months: float) -> str:
    return "" if math.isnan(months) else AGE_CLASSES[int(age_places(np.array([months]))[0])][1]


def age_places(months: Array) -> NDArray[np.intp]:
    """Return the place of each dog's class in `AGE_CLASSES`; the first where age is not known."""
    found = np.searchsorted(AGE_STARTS, np.nan_to_num(months), side="right") - 1
    return np.asarray(np.maximum(found, 0), dtype=np.intp)


def in_order(grouping: Grouping, groups: Iterable[str]) -> list[str]:
    """Return groups as a reader expects them: ages from young to old, others by name."""
    if grouping.name != "age":
        return sorted(groups)
    known = set(groups)
    return [name for _, name in AGE_CLASSES if name in known]


@dataclass(frozen=True)
class GroupFigures:
    """One figure by one grouping.

    Attributes
    ----------
    groups : mapping of label to Summary
        Those with at least `FEWEST` dogs that have it.
    p_value, p_adjusted : float
        That the groups' means are all one; adjusted for the figures asked together (Holm). nan
        for fewer than two groups.
    """

    key: str
    groups: Mapping[str, Summary]
    p_value: float
    p_adjusted: float


def figures_by(
    table: SurveyTable, grouping: Grouping, keys: Iterable[str]
) -> tuple[GroupFigures, ...]:
    """Summarise figures by one grouping and test which differ between its groups.

    Source: Alexander RA, Govern DM 1994, J Educ Stat 19:91-101 (scipy.stats.alexandergovern),
    which does not ask that groups vary alike; Holm S 1979, Scand J Stat 6:65-70.
    """
    found = []
    for key in keys:
        values = table.column(key)
        by_label = by_group(values, grouping.labels)
        groups = {label: by_label[label] for label in in_order(grouping, by_label)}
        found.append((key, groups, _chance(values, grouping, groups)))
    asked = [p for _, _, p in found if not math.isnan(p)]
    adjusted: Iterator[float] = iter(holm(asked))
    return tuple(
        GroupFigures(key, groups, p, math.nan if math.isnan(p) else next(adjusted))
        for key, groups, p in found
    )


def _chance(values: Array, grouping: Grouping, groups: Mapping[str, Summary]) -> float:
    labels = np.array(grouping.labels, dtype=object)
    parts = [values[(labels == label) & np.isfinite(values)] for label in groups]
    if len(parts) < 2 or not all(varies(part) for part in parts):
        return math.nan
    return float(stats.alexandergovern(*parts).pvalue)


@dataclass(frozen=True)
class Gap:
    """A measurement some dogs lack.

    Attributes
    ----------
    missing, dogs : int
        Dogs that lack it, of how many.
    worst : str
        Where far more lack it than elsewhere, such as ``year 2026``; empty if nowhere.
    worst_share : float
        Share of that group that lacks it.
    """

    key: str
    missing: int
    dogs: int
    worst: str
    worst_share: float


STANDS_OUT = 1.5
"""How many times as often as in all dogs a group lacks a value, for it to be named."""


def gaps(table: SurveyTable) -> tuple[Gap, ...]:
    """Return every measurement that some dogs lack, the most first."""
    divided = groupings(table)
    found = []
    for key, values in table.values.items():
        lacking = np.isnan(values)
        if lacking.any():
            worst, share = _worst(lacking, divided)
            found.append(Gap(key, int(lacking.sum()), len(table), worst, share))
    return tuple(sorted(found, key=lambda one: -one.missing))


def _worst(lacking: NDArray[np.bool_], divided: Iterable[Grouping]) -> tuple[str, float]:
    overall, worst, largest = float(lacking.mean()), "", 0.0
    for grouping in divided:
        labels = np.array(grouping.labels, dtype=object)
        for label in sorted(set(grouping.labels) - {""}):
            own = lacking[labels == label]
            share = float(own.mean())
            if own.size >= 2 * FEWEST and share > max(largest, STANDS_OUT * overall, 0.1):
                worst, largest = f"{grouping.name} {label}", share
    return worst, largest
