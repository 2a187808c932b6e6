"""Where a fit begins: the curve made straight for a guessed adult size, then a line through it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from kit.growth.curves import Curve, from_working, to_working

Vector = NDArray[np.float64]

GUESSES = (1.01, 1.08, 1.25, 1.6, 2.4, 4.0, 8.0)  # adult size over the largest reading
SHAPES = (1.0, 0.3, -0.15)
SMALLEST = 1e-4  # part of the adult size below which a reading tells nothing here
BEST = 3


def starts(family: Curve, age: Vector, value: Vector, weights: Vector) -> list[Vector]:
    """Return working parameters worth starting from, the most promising first."""
    found = []
    for guess in _guesses(family, age, value):
        with np.errstate(all="ignore"):
            away = weights * (value - family.value(age, from_working(family, guess))) ** 2
        if np.all(np.isfinite(away)):
            found.append((float(away.sum()), guess))
    found.sort(key=lambda row: row[0])
    return [guess for _, guess in found[:BEST]]


def _guesses(family: Curve, age: Vector, value: Vector) -> Iterator[Vector]:
    largest = float(np.max(value))
    if largest <= 0:
        return
    for factor in GUESSES:
        adult = factor * largest
        part = np.clip(value / adult, SMALLEST, 1.0 - SMALLEST)
        for shape in SHAPES if "shape" in family.parameters else (None,):
            # A reading near 0 or near the adult size says little about where the line runs.
            line = _line(age, _straight(family.key, part, shape), (part * (1.0 - part)) ** 2)
            if line is not None:
                tail = [] if shape is None else [shape]
                yield to_working(family, [adult, *line, *tail])


def _straight(key: str, part: Vector, shape: float | None) -> Vector:
    """Return (age - midpoint) / pace as the curve has it at these parts of the adult size."""
    result: Vector
    if key == "gompertz":
        result = -np.log(-np.log(part))
    elif key == "logistic":
        result = np.log(part / (1.0 - part))
    elif key == "von_bertalanffy":
        result = -np.log(3.0 * (1.0 - np.cbrt(part)))
    elif key == "monomolecular":
        result = -np.log(1.0 - part)
    else:
        power = shape or 1.0
        result = -np.log((part**-power - 1.0) / power)
    return result


def _line(age: Vector, straight: Vector, weights: Vector) -> tuple[float, float] | None:
    """Return midpoint and pace of the line; None where it does not rise (no start from here)."""
    middle = np.average(age, weights=weights)
    spread = (age - middle) * weights
    slope = float(spread @ straight / (spread @ (age - middle)))
    if not slope > 0:
        return None
    pace = 1.0 / slope
    return float(middle - pace * np.average(straight, weights=weights)), pace
