"""Values to measure again: far from what the other dogs of the survey lead one to expect."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kit.protocol.catalogue import Catalogue
from kit.protocol.slips import explanations
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind
from kit.survey.dogs import SurveyTable

Array = NDArray[np.float64]
FAR = 4.0
"""Robust standard deviations from which a value is shown; of normal dogs one in 16 000."""
TO_SD = 1.4826
MANY = 12
"""Lengths from which on a single one hardly moves the size that all of them tell."""
POUNDS = 1.0 / 0.45359237
SWAPPED = "written in place of {}?"


@dataclass(frozen=True)
class Again:
    """One value somebody should measure again. It still counts until somebody has.

    Attributes
    ----------
    expected : float
        What dogs of this size and build have, in the unit of the kind.
    distance : float
        Robust standard deviations between the two.
    reason : str
        A slip of the pen that would explain it, or empty.
    """

    dog: str
    measurement: str
    value: float
    expected: float
    distance: float
    reason: str
    kind: Kind

    def __str__(self) -> str:
        shown, fits = with_unit(self.value, self.kind), with_unit(self.expected, self.kind)
        reason = f" ({self.reason})" if self.reason else ""
        return (
            f"{self.dog}: {self.measurement} {shown}; dogs of this size have about {fits}{reason}"
        )


@dataclass(frozen=True)
class Norm:
    """What dogs have of one measurement.

    Attributes
    ----------
    kind : Kind
        A length goes with the size of the dog, a weight with its cube, an angle with neither.
    middle : float
        Of a dog of median size.
    typical : float
        Median of the measurement over all dogs: a length over it says how large a dog is.
    spread : float
        Robust standard deviation about what is expected, at least the error of measuring.
    """

    kind: Kind
    middle: float
    typical: float
    spread: float

    def expected(self, size: Array) -> Array:
        """Return what dogs of these sizes have, shape (n,)."""
        return self.middle * _scale(self.kind, size)


def norms_of(table: SurveyTable, catalogue: Catalogue) -> Mapping[str, Norm]:
    """Learn from a survey what its dogs have of each measurement."""
    known = {key: column for key, column in table.values.items() if np.isfinite(column).any()}
    typical = {key: float(np.nanmedian(column)) for key, column in known.items()}
    kinds = {key: catalogue.measurement(key).kind for key in known}
    bare = {key: Norm(kinds[key], 0.0, typical[key], 0.0) for key in known}
    everything = sizes(known, bare)
    found = {}
    for key, column in known.items():
        size = _sizes_but(key, known, bare, everything)
        norm = Norm(kinds[key], float(np.nanmedian(column / _scale(kinds[key], size))),
                    typical[key], 0.0)  # fmt: skip
        off = column - norm.expected(size)
        spread = TO_SD * float(np.nanmedian(np.abs(off - np.nanmedian(off))))
        found[key] = replace(norm, spread=max(spread, float(np.nanmedian(table.error(key)))))
    return found


def sizes(values: Mapping[str, Array], norms: Mapping[str, Norm], but: str = "") -> Array:
    """Return each dog's size relative to the median dog, shape (n,): what most lengths say.

    The median of what all lengths say, or all but one, so that one wrong height makes no dog's
    lengths stand apart; 1 for a dog without any.
    """
    lengths = [
        values[key] / norm.typical
        for key, norm in norms.items()
        if norm.kind is Kind.LENGTH and norm.typical > 0 and key in values and key != but
    ]
    if not lengths:
        return np.ones_like(next(iter(values.values())))
    with warnings.catch_warnings():  # a dog without any length
        warnings.simplefilter("ignore", RuntimeWarning)
        found = np.nanmedian(lengths, axis=0)
    return np.where(np.isnan(found), 1.0, found)


def _sizes_but(
    key: str, values: Mapping[str, Array], norms: Mapping[str, Norm], everything: Array
) -> Array:
    """Return the sizes to judge one measurement by: where lengths are few, without its own word.

    Else a dog whose median length this is would seem to have exactly what is expected.
    """
    lengths = sum(norm.kind is Kind.LENGTH for norm in norms.values())
    if norms[key].kind is not Kind.LENGTH or lengths > MANY:
        return everything
    return sizes(values, norms, key)


def _scale(kind: Kind, size: Array) -> Array:
    return {Kind.LENGTH: size, Kind.MASS: size**3}.get(kind, np.ones_like(size))


def to_measure_again(table: SurveyTable, catalogue: Catalogue) -> tuple[Again, ...]:
    """Return the values that stand apart, the farthest first. None is dropped from anything."""
    norms = norms_of(table, catalogue)
    return farthest_first(apart(table.values, norms, table.dogs))


def farthest_first(found: Sequence[Again]) -> tuple[Again, ...]:
    """Sort values that stand apart."""
    return tuple(sorted(found, key=lambda one: (-abs(one.distance), one.dog, one.measurement)))


def apart(
    values: Mapping[str, Array], norms: Mapping[str, Norm], dogs: Sequence[str]
) -> tuple[Again, ...]:
    """Return the values of some dogs that stand apart from what the norms lead one to expect."""
    everything = sizes(values, norms)
    found: list[Again] = []
    for key, norm in norms.items():
        size = _sizes_but(key, values, norms, everything)
        found += _apart(values, key, norm, size, dogs)
    return tuple(_swapped(found))


def _apart(
    values: Mapping[str, Array], key: str, norm: Norm, size: Array, dogs: Sequence[str]
) -> Iterator[Again]:
    expected = norm.expected(size)
    distance = (values[key] - expected) / norm.spread
    for dog in np.flatnonzero(np.abs(distance) > FAR).tolist():
        value, fits = float(values[key][dog]), float(expected[dog])
        yield Again(dogs[dog], key, value, fits, float(distance[dog]),
                    _reason(value, fits, norm), norm.kind)  # fmt: skip


def _reason(value: float, expected: float, norm: Norm) -> str:
    if norm.kind is Kind.LENGTH:
        return " ".join(explanations(value, expected, 2.0 * norm.spread))
    if norm.kind is Kind.MASS and abs(value / POUNDS - expected) < 2.0 * norm.spread:
        return "pounds written as kilograms?"
    return ""


def _swapped(found: Sequence[Again]) -> Iterator[Again]:
    """Say of two values of one dog that each is nearer to what the other should be."""
    by_dog: dict[str, list[Again]] = {}
    for one in found:
        by_dog.setdefault(one.dog, []).append(one)
    for one in found:
        twin = next((other for other in by_dog[one.dog] if _fit(one, other) and _fit(other, one)),
                    None)  # fmt: skip
        if twin is None:
            yield one
        else:
            reason = SWAPPED.format(twin.measurement.replace("_", " "))
            yield replace(one, reason=f"{reason} {one.reason}".strip())


def _fit(one: Again, other: Again) -> bool:
    own = abs(one.value - one.expected)
    return one is not other and one.kind is other.kind and abs(one.value - other.expected) < own / 2


def without_doubtful(table: SurveyTable, again: Sequence[Again]) -> SurveyTable:
    """Return a survey in which the values to measure again count as missing; traits as they were.

    For what one misread tape would spoil, such as how parts go together. Whoever uses it says so.
    """
    places = {dog: place for place, dog in enumerate(table.dogs)}
    values = {key: column.copy() for key, column in table.values.items()}
    for one in again:
        if one.dog in places and one.measurement in values:
            values[one.measurement][places[one.dog]] = np.nan
    return replace(table, values=values)
