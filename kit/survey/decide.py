"""One clause against a column: the same decisions as dog by dog, for many dogs at once.

A finding asks whether a probability reaches a level. For most dogs that follows from comparing a
distance with the critical values of the largest and the smallest degrees of freedom in the column;
only what falls between the two is worked out in full.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kit.standards.conformity import Levels, Outcome
from kit.standards.standard import Clause
from kit.survey.program import TraitColumn

Array = NDArray[np.float64]
Codes = NDArray[np.uint8]
Steps = NDArray[np.int8]
Mask = NDArray[np.bool_]

OUTCOMES = tuple(Outcome)
CODE = {outcome: np.uint8(number) for number, outcome in enumerate(OUTCOMES)}
NOT_ASKED = np.uint8(255)
"""Code of a clause that does not concern the dog's sex."""
MARGIN = 1e-9
FEW = 200
"""Dogs from which on a table is quicker than working each out in full."""
STEPS = 500
"""Steps of the table of tails to one standard uncertainty; it ends at eight."""
MOST_ROWS = 40
"""Rows of that table at most, one for each whole number of degrees of freedom."""
MOST = 1e6
"""Degrees of freedom from which more change nothing."""
FROM_LOW, NO_VALUE = 16, 64
"""Added to a step where the lower limit is the nearer one, and where there is no value."""


def _codes_by_step() -> NDArray[np.uint8]:
    """Return the code of every step: -2 and -1 outside the nearer limit, 1 and 2 inside it."""
    codes = np.full(256, CODE[Outcome.NOT_MEASURED])
    sides = ((0, Outcome.PROBABLY_ABOVE, Outcome.ABOVE),
             (FROM_LOW, Outcome.PROBABLY_BELOW, Outcome.BELOW))  # fmt: skip
    for start, probably, surely in sides:
        named = (surely, probably, Outcome.UNDECIDED, Outcome.PROBABLY_WITHIN, Outcome.WITHIN)
        for step, outcome in enumerate(named, start=-2):
            codes[(start + step) % 256] = CODE[outcome]
    return codes


_BY_STEP = _codes_by_step()
_TABLE = bytes(_BY_STEP.tolist())


def decide_column(column: TraitColumn, clause: Clause, levels: Levels) -> Codes:
    """Return the outcome of one clause for every dog, as codes of `OUTCOMES`.

    Parameters
    ----------
    column : TraitColumn
        With degrees of freedom.

    Returns
    -------
    array of uint8, shape (n,)
        NOT_MEASURED where the trait is nan.

    Source: JCGM 106:2012, 7.2 to 7.4, as in kit.standards.conformity.
    """
    assert column.dof is not None  # noqa: S101  (compiled with_dof)
    with np.errstate(invalid="ignore", divide="ignore"):
        nearer, from_low = _nearer_limit(column, clause)
        steps, unclear = _steps(nearer, column, clause, levels)
        steps += np.multiply(from_low, FROM_LOW, dtype=np.int8)
        steps += np.multiply(nearer != nearer, NO_VALUE, dtype=np.int8)
    codes = _looked_up(steps)
    rest = np.flatnonzero(unclear)
    if rest.size > FEW:
        rest = _settle_by_bounds(codes, column, clause, levels, rest)
    if rest.size:
        codes[rest] = _in_full(column, clause, levels, rest)
    return codes


def _looked_up(steps: Steps) -> Codes:
    """Look every step up in the table; bytes are translated faster than an array is indexed."""
    return np.frombuffer(bytearray(steps.tobytes().translate(_TABLE)), dtype=np.uint8)


def _nearer_limit(column: TraitColumn, clause: Clause) -> tuple[Array, Mask | bool]:
    """Return how many uncertainties inside the nearer limit each dog is, and which limit."""
    low, high, u = clause.low, clause.high, column.uncertainties
    above_low = None if low is None else column.values - low
    below_high = None if high is None else high - column.values
    if above_low is None or below_high is None:
        inside = below_high if above_low is None else above_low
        assert inside is not None  # noqa: S101  (a clause has one limit at least)
        return np.divide(inside, u, out=inside), high is None
    from_low = above_low < below_high
    inside = np.minimum(above_low, below_high, out=above_low)
    return np.divide(inside, u, out=inside), from_low


def _steps(
    nearer: Array, column: TraitColumn, clause: Clause, levels: Levels
) -> tuple[Steps, Mask]:
    """Count the levels surely reached, inside up and outside down; tell where more may be."""
    steps = np.zeros(nearer.shape, dtype=np.int8)
    unclear = np.zeros(nearer.shape, dtype=bool)
    bounds = _bounds(column)
    for level in (levels.probable, levels.decided):
        for_sure, at_least, outside = _critical(level, bounds, clause.low, clause.high)
        inside_now, outside_now = nearer >= for_sure, nearer <= -outside
        steps += inside_now
        steps -= outside_now
        # What is surely there is a part of what may be there: one without the other is unclear.
        inside_now ^= nearer >= at_least
        outside_now ^= nearer <= -at_least
        unclear |= inside_now
        unclear |= outside_now
    return steps, unclear


def _bounds(column: TraitColumn) -> tuple[float, float, float]:
    """Return bounds of the degrees of freedom and the largest uncertainty, on a coarse grid.

    On a grid, so that the next chunk of dogs asks for the same critical values.
    """
    assert column.dof is not None  # noqa: S101
    fewest, most = _ends(column.dof)
    return (
        float(math.floor(fewest)) or fewest,
        _rounded_up(most),
        _rounded_up(_ends(column.uncertainties)[1]),
    )


def _rounded_up(size: float) -> float:
    """Round up to two digits; what is no such number stays."""
    if not 0.0 < size < math.inf:
        return size
    step = 10.0 ** (math.floor(math.log10(size)) - 1)
    return math.ceil(size / step) * step


@lru_cache(maxsize=4096)
def _critical(
    level: float, bounds: tuple[float, float, float], low: float | None, high: float | None
) -> tuple[float, float, float]:
    """Return from where a dog is surely inside, may be inside, and is surely outside."""
    fewest, most, widest = bounds
    tail = 1.0 - level
    at_least = -_quantile(most, tail) - MARGIN
    outside = -_quantile(fewest, tail) + MARGIN
    if low is None or high is None:
        return outside, at_least, outside
    narrowest = (high - low) / widest
    half = -_quantile(fewest, tail / 2.0)
    other = float(special.stdtr(fewest, -max(narrowest - half, narrowest / 2.0)))
    for_sure = -_quantile(fewest, max(tail - other, tail / 2.0)) + MARGIN
    return for_sure, at_least, outside


def _ends(values: Array) -> tuple[float, float]:
    """Return the least and the largest, nan left out and a million at most or for none."""
    if not values.size:
        return MOST, MOST
    low, high = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    return (min(low, MOST), min(high, MOST)) if high == high else (MOST, MOST)


def _quantile(dof: float, probability: float) -> float:
    return float(special.stdtrit(dof, probability))


def _settle_by_bounds(
    codes: Codes, column: TraitColumn, clause: Clause, levels: Levels, rest: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Settle dogs inside the limits by bounds on both tails; return those still open.

    A tail lies between those of more and of fewer degrees of freedom, a step of a table farther
    out and a step nearer in.
    """
    assert column.dof is not None  # noqa: S101
    value, u = column.values[rest], column.uncertainties[rest]
    near = (value - (-math.inf if clause.low is None else clause.low)) / u
    far = ((math.inf if clause.high is None else clause.high) - value) / u
    inside = (near > 0.0) & (far > 0.0)
    one, other = (
        np.minimum(np.maximum(side, 0.0) * STEPS, 8.0 * STEPS - 1.0).astype(np.intp)
        for side in (near, far)
    )
    fewest, most, _ = _bounds(column)
    tails = _tails(fewest, most)
    # The place of each dog's row of fewer degrees of freedom; the next row has more of them.
    row = np.zeros_like(one) if len(tails) == 2 else (column.dof[rest] - fewest).astype(np.intp)
    flat, width = tails.ravel(), tails.shape[1]
    one, other = one + row * width, other + row * width
    least = flat[one + width + 1] + flat[other + width + 1]
    largest = flat[one] + flat[other]
    steps = np.zeros(rest.shape, dtype=np.int8)
    for level in (levels.probable, levels.decided):
        reached = largest <= 1.0 - level
        inside &= reached | (least > 1.0 - level)
        steps += reached
    codes[rest[inside]] = _BY_STEP[steps[inside]]
    return rest[~inside]


@lru_cache(maxsize=256)
def _tails(fewest: float, most: float) -> Array:
    """Return upper tails of Student's t: a row for all degrees of freedom, a column for each step.

    The rows are the whole numbers from the fewest to the most, or these two alone where there
    would be too many. Nothing lies beyond the last step.
    """
    rows = np.arange(fewest, math.ceil(most) + 2.0)
    if rows.size > MOST_ROWS:
        rows = np.array([fewest, most])
    tails = special.stdtr(rows[:, None], -np.arange(8 * STEPS + 1) / STEPS)
    tails[:, -1] = 0.0
    return np.asarray(tails)


def _in_full(column: TraitColumn, clause: Clause, levels: Levels, rest: NDArray[np.intp]) -> Codes:
    chances = probabilities_of(column, clause, rest)
    largest = np.argmax(chances, axis=0)
    top = np.max(chances, axis=0)
    named = np.array([[CODE[Outcome.WITHIN], CODE[Outcome.BELOW], CODE[Outcome.ABOVE]],
                      [CODE[Outcome.PROBABLY_WITHIN], CODE[Outcome.PROBABLY_BELOW],
                       CODE[Outcome.PROBABLY_ABOVE]]])  # fmt: skip
    codes = np.full(rest.shape, CODE[Outcome.UNDECIDED])
    for row, level in ((1, levels.probable), (0, levels.decided)):
        reached = top >= level
        codes[reached] = named[row, largest[reached]]
    return codes


def probabilities_of(
    column: TraitColumn, clause: Clause, rows: NDArray[np.intp] | slice = slice(None)
) -> Array:
    """Return the probabilities of within, below and above, shape (3, n)."""
    assert column.dof is not None  # noqa: S101
    value, u, dof = column.values[rows], column.uncertainties[rows], column.dof[rows]
    nothing = np.zeros(value.shape)
    low = nothing if clause.low is None else special.stdtr(dof, (clause.low - value) / u)
    high = nothing if clause.high is None else special.stdtr(dof, (value - clause.high) / u)
    return np.array([np.maximum(0.0, 1.0 - low - high), low, high])


def tally(codes: Codes) -> Iterator[tuple[Outcome, int]]:
    """Count each outcome; what was not asked is left out."""
    left = codes.size
    for number, outcome in enumerate(OUTCOMES):
        count = int(np.count_nonzero(codes == number)) if left else 0
        left -= count
        yield outcome, count
