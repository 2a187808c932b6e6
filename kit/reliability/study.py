"""A measurer study: the same dogs, several measurers, repeats - what the hands are worth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.protocol.readings import Reading
from kit.quantities.errors import EstimationError
from kit.reliability.bland_altman import Agreement, bland_altman
from kit.reliability.intraclass import Intraclass, icc
from kit.reliability.technical_error import TechnicalError, tem
from kit.reliability.variance import Components, variance_components

Array = NDArray[np.float64]
DOG, MEASURER, PAIR, SIDE = "dog", "measurer", "dog and measurer", "side"
# Accepted relative errors of trained measurers of people, lengths and girths (from memory, Gore
# and others in Norton and Olds; reprinted by Perini 2005): within one, between several.
ACCEPTED_WITHIN, ACCEPTED_BETWEEN = 1.0, 1.5
ACCEPTED_RELIABILITY = 0.95


@dataclass(frozen=True)
class Taken:
    """One value of a study: of a measurement or of a trait, in the unit of its kind.

    `repeat` is the stand and the number of the reading in it, such as ``1.2``.
    """

    dog: str
    measurer: str
    repeat: str
    value: float
    side: str = ""


@dataclass(frozen=True)
class Studied:
    """What a study tells about one measurement or trait.

    Attributes
    ----------
    within : TechnicalError
        Of one measurer repeating.
    between_error, between_percent : float
        Technical error of single readings by different hands, and in percent: that of one hand
        and what hands add to it, so it is never the smaller of the two.
    between : Intraclass or None
        Of the first reading of each measurer; None where too few dogs were read by all.
    repeats : Intraclass or None
        Of the repeats, each dog and measurer a row.
    components : Components
        Variance of dogs, measurers, the two together, sides and repeats.
    pairs : mapping of (measurer, measurer) to Agreement
    bias : mapping of measurer to float
        Mean difference from the mean of all measurers over the dogs all of them read.
    stood_anew : bool
        True where every repeat was a stand of its own, so that its error holds the posture too.
    """

    key: str
    within: TechnicalError
    between_error: float
    between_percent: float
    between: Intraclass | None
    repeats: Intraclass | None
    components: Components
    pairs: Mapping[tuple[str, str], Agreement]
    bias: Mapping[str, float]
    stood_anew: bool


def taken_from(readings: Iterable[Reading]) -> dict[str, tuple[Taken, ...]]:
    """Sort readings into a study of each measurement; the stand counts as the repeat.

    Readings of one stand are numbered, so that each is a repeat of its own.
    """
    seen: dict[tuple[str, ...], int] = {}
    found: dict[str, list[Taken]] = {}
    for one in readings:
        key = (one.measurement, one.dog, one.measurer, one.side, one.stand)
        seen[key] = seen.get(key, 0) + 1
        repeat = f"{one.stand}.{seen[key]}"
        taken = Taken(one.dog, one.measurer, repeat, one.value, one.side)
        found.setdefault(one.measurement, []).append(taken)
    return {key: tuple(rows) for key, rows in found.items()}


def study(key: str, rows: Sequence[Taken]) -> Studied:
    """Work out everything a study tells about one measurement or trait.

    Raises
    ------
    EstimationError
        If no measurer read any dog twice, or no two readings differ.
    """
    if not rows:
        raise EstimationError("there is nothing to study", "readings of some dogs", "none")
    cells = _cells(rows)
    within = tem(_ragged(list(cells.values())))
    components = variance_components(
        [row.value for row in rows],
        {
            DOG: [row.dog for row in rows],
            MEASURER: [row.measurer for row in rows],
            PAIR: [(row.dog, row.measurer) for row in rows],
            SIDE: [(row.dog, row.side) for row in rows],
        },
    )
    error = math.hypot(within.tem, math.sqrt(components.variance(MEASURER, PAIR)))
    first = _first_readings(cells)
    return Studied(
        key,
        within,
        error,
        100.0 * error / abs(components.mean) if components.mean else math.nan,
        _correlation(np.array(list(first.values())).T),
        _correlation(_rectangular(list(cells.values()))),
        components,
        _pairs(cells),
        _bias(cells),
        not any(row.repeat.endswith(".2") for row in rows),
    )


Cells = dict[tuple[str, str, str], list[float]]


def _cells(rows: Sequence[Taken]) -> Cells:
    """Group by dog, side and measurer."""
    cells: Cells = {}
    for row in rows:
        cells.setdefault((row.dog, row.side, row.measurer), []).append(row.value)
    return cells


def _ragged(rows: Sequence[Sequence[float]]) -> Array:
    width = max(len(row) for row in rows)
    return np.array([[*row, *[math.nan] * (width - len(row))] for row in rows])


def _rectangular(rows: Sequence[Sequence[float]]) -> Array:
    width = min((len(row) for row in rows if len(row) > 1), default=0)
    return np.array([row[:width] for row in rows if width and len(row) >= width])


def _measurers(cells: Cells) -> list[str]:
    return sorted({measurer for _, _, measurer in cells})


def _shared(cells: Cells, measurers: Sequence[str]) -> list[tuple[str, str]]:
    """Return the dogs and sides that all of some measurers read."""
    places = dict.fromkeys((dog, side) for dog, side, _ in cells)
    return [place for place in places if all((*place, who) in cells for who in measurers)]


def _first_readings(cells: Cells) -> dict[str, list[float]]:
    measurers = _measurers(cells)
    places = _shared(cells, measurers)
    return {who: [cells[(*place, who)][0] for place in places] for who in measurers}


def _correlation(table: Array) -> Intraclass | None:
    if table.ndim != 2 or table.shape[0] < 3 or table.shape[1] < 2:
        return None
    try:
        return icc(table)
    except EstimationError:
        return None


def _pairs(cells: Cells) -> dict[tuple[str, str], Agreement]:
    measurers = _measurers(cells)
    found = {}
    for index, one in enumerate(measurers):
        for other in measurers[index + 1 :]:
            places = _shared(cells, [one, other])
            if len(places) >= 3:
                width = min(len(cells[(*p, who)]) for p in places for who in (one, other))
                first, second = (
                    np.array([cells[(*place, who)][:width] for place in places])
                    for who in (one, other)
                )
                found[one, other] = bland_altman(first, second)
    return found


def _bias(cells: Cells) -> dict[str, float]:
    measurers = _measurers(cells)
    places = _shared(cells, measurers)
    if not places or len(measurers) < 2:
        return {}
    table = np.array([[np.mean(cells[(*place, who)]) for who in measurers] for place in places])
    means = (table - table.mean(axis=1, keepdims=True)).mean(axis=0)
    return dict(zip(measurers, means.tolist(), strict=True))
