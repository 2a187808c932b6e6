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


def _table(below: bool) -> list[Outcome]:
    """Outcomes by how far outside (0, 1) or inside (3, 4) the nearer limit lies."""
    outside = (Outcome.BELOW, Outcome.PROBABLY_BELOW) if below else (
        Outcome.ABOVE, Outcome.PROBABLY_ABOVE)  # fmt: skip
    return [*outside, Outcome.UNDECIDED, Outcome.PROBABLY_WITHIN, Outcome.WITHIN]


_BY_STEP = np.array([[CODE[o] for o in _table(False)], [CODE[o] for o in _table(True)]]).ravel()

_TABLE = bytes(_BY_STEP.tolist()).ljust(256, b"\0")


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
        steps += np.multiply(from_low, 5, dtype=np.int8)
        codes = _looked_up(steps)
        np.copyto(codes, CODE[Outcome.NOT_MEASURED], where=nearer != nearer)
    rest = np.flatnonzero(unclear)
    if rest.size > FEW and clause.low is not None and clause.high is not None:
        rest = _settle_by_bounds(codes, column, (clause.low, clause.high), levels, rest)
    if rest.size:
        codes[rest] = _in_full(column, clause, levels, rest)
    return codes


def _looked_up(steps: NDArray[np.int8]) -> Codes:
    """Look every step up in the table; bytes are translated faster than an array is indexed."""
    return np.frombuffer(bytearray(steps.tobytes().translate(_TABLE)), dtype=np.uint8)


def _nearer_limit(column: TraitColumn, clause: Clause) -> tuple[Array, Mask | bool]:
    """Return how many uncertainties inside the nearer limit each dog is, and which limit."""
    value, u = column.values, column.uncertainties
    below = None if clause.low is None else (value - clause.low) / u
    above = None if clause.high is None else (clause.high - value) / u
    if below is None or above is None:
        one_sided = above if below is None else below
        assert one_sided is not None  # noqa: S101  (a clause has one limit at least)
        return one_sided, below is not None
    return np.minimum(below, above), below < above


def _steps(
    nearer: Array, column: TraitColumn, clause: Clause, levels: Levels
) -> tuple[NDArray[np.int8], Mask]:
    steps = np.full(nearer.shape, 2, dtype=np.int8)
    unclear = np.zeros(nearer.shape, dtype=bool)
    dofs = _ends_of_dof(column)
    widest = _ends(column.uncertainties)[1]
    for level in (levels.probable, levels.decided):
        for_sure, at_least, outside = _critical(level, dofs, widest, clause)
        inside_now, outside_now = nearer >= for_sure, nearer <= -outside
        steps += inside_now
        steps -= outside_now
        unclear |= (nearer >= at_least) & ~inside_now
        unclear |= (nearer <= -at_least) & ~outside_now
    return steps, unclear


def _ends_of_dof(column: TraitColumn) -> tuple[float, float]:
    assert column.dof is not None  # noqa: S101
    return _ends(column.dof)


def _critical(
    level: float, dofs: tuple[float, float], widest: float, clause: Clause
) -> tuple[float, float, float]:
    """Return from where a dog is surely inside, may be inside, and is surely outside."""
    fewest, most = dofs
    tail = 1.0 - level
    at_least = -_quantile(most, tail) - MARGIN
    outside = -_quantile(fewest, tail) + MARGIN
    if clause.low is None or clause.high is None:
        return outside, at_least, outside
    narrowest = (clause.high - clause.low) / widest
    half = -_quantile(fewest, tail / 2.0)
    other = float(special.stdtr(fewest, -max(narrowest - half, narrowest / 2.0)))
    for_sure = -_quantile(fewest, max(tail - other, tail / 2.0)) + MARGIN
    return for_sure, at_least, outside


def _ends(values: Array) -> tuple[float, float]:
    """Return the least and the largest, nan left out; a million where there is none."""
    if not values.size:
        return 1e6, 1e6
    low, high = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    return (low, min(high, 1e6)) if high == high else (1e6, 1e6)


def _quantile(dof: float, probability: float) -> float:
    return float(special.stdtrit(min(dof, 1e6), probability))


def _settle_by_bounds(
    codes: Codes,
    column: TraitColumn,
    limits: tuple[float, float],
    levels: Levels,
    rest: NDArray[np.intp],
) -> NDArray[np.intp]:
    """Settle dogs between two limits by bounds on both tails; return those still open.

    A tail lies between those of more and of fewer degrees of freedom, a step of a table farther
    out and a step nearer in.
    """
    assert column.dof is not None  # noqa: S101
    value, u = column.values[rest], column.uncertainties[rest]
    near, far = (value - limits[0]) / u, (limits[1] - value) / u
    inside = (near > 0.0) & (far > 0.0)
    one, other = (
        np.minimum(np.maximum(side, 0.0) * STEPS, 8.0 * STEPS - 1.0).astype(np.int32)
        for side in (near, far)
    )
    fewest, most = _ends(column.dof)
    outer, inner = _tails(min(10**6, math.ceil(most))), _tails(math.floor(fewest))
    least, largest = outer[one + 1] + outer[other + 1], inner[one] + inner[other]
    steps = np.full(rest.shape, 2, dtype=np.int8)
    for level in (levels.probable, levels.decided):
        reached = largest <= 1.0 - level
        inside &= reached | (least > 1.0 - level)
        steps += reached
    codes[rest[inside]] = _BY_STEP[steps[inside]]
    return rest[~inside]


@lru_cache(maxsize=256)
def _tails(dof: int) -> Array:
    """Return the upper tail of Student's t at every step; none beyond the last."""
    tails = np.asarray(special.stdtr(dof, -np.arange(8 * STEPS + 1) / STEPS))
    tails[-1] = 0.0
    return tails


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
    counts = np.bincount(codes, minlength=256)
    for number, outcome in enumerate(OUTCOMES):
        yield outcome, int(counts[number])
