"""Values to measure again: far from what the other dogs of the survey lead one to expect."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

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


def to_measure_again(table: SurveyTable, catalogue: Catalogue) -> tuple[Again, ...]:
    """Return the values that stand apart, the farthest first. None is dropped from anything.

    A length is judged against the size of the dog, which is the median of what all its lengths
    say; so one wrong height makes no dog's lengths stand apart.
    """
    size = _size(table, catalogue)
    found: list[Again] = []
    for key, values in table.values.items():
        found += _apart(table, catalogue, key, values, size)
    return tuple(sorted(found, key=lambda one: -abs(one.distance)))


def _size(table: SurveyTable, catalogue: Catalogue) -> Array:
    """Return each dog's size relative to the median dog, shape (n,)."""
    lengths = [
        values / np.nanmedian(values)
        for key, values in table.values.items()
        if catalogue.measurement(key).kind is Kind.LENGTH and np.nanmedian(values) > 0
    ]
    with np.errstate(invalid="ignore"):
        return np.asarray(np.nanmedian(lengths, axis=0)) if lengths else np.ones(len(table))


def _apart(
    table: SurveyTable, catalogue: Catalogue, key: str, values: Array, size: Array
) -> Iterable[Again]:
    kind = catalogue.measurement(key).kind
    scale = {Kind.LENGTH: size, Kind.MASS: size**3}.get(kind, np.ones_like(size))
    middle = float(np.nanmedian(values / scale))
    expected = middle * scale
    off = values - expected
    spread = TO_SD * float(np.nanmedian(np.abs(off - np.nanmedian(off))))
    spread = max(spread, float(np.nanmedian(table.error(key))))
    distance = off / spread
    for dog in np.flatnonzero(np.abs(distance) > FAR).tolist():
        yield Again(table.dogs[dog], key, float(values[dog]), float(expected[dog]),
                    float(distance[dog]), _reason(values[dog], expected[dog], spread, kind),
                    kind)  # fmt: skip


def _reason(value: float, expected: float, spread: float, kind: Kind) -> str:
    if kind is not Kind.LENGTH:
        return ""
    return " ".join(explanations(value, expected, 2.0 * spread))
