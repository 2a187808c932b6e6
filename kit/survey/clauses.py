"""How a population stands to a standard: the share within each clause, error taken out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kit.standards.conformity import Levels, Outcome
from kit.standards.standard import Clause, Standard
from kit.survey.decide import decide_column, tally
from kit.survey.dogs import SurveyTable
from kit.survey.robust import biweight, redrawn
from kit.survey.summary import FEWEST

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
ERROR_TOO_LARGE = 0.9
"""Part of the observed variance from which error alone may explain it: no true spread is given."""


@dataclass(frozen=True)
class ClauseShare:
    """One clause and the dogs it asks something of.

    Attributes
    ----------
    count, missing : int
        Dogs with the trait, and dogs the clause asks but that lack it.
    as_read, as_read_low, as_read_high : float
        Share of dogs whose value lies within, with Wilson's 95 % interval.
    within, low, high : float
        Share of dogs truly within: measurement error deconvolved, 95 % bootstrap interval; nan
        where error alone may explain what is seen.
    mean, observed_sd, error_sd, true_sd : float
        Biweight middle and spread of what was read, the error of measuring, and the spread left
        without it; in the unit of the trait.
    findings : mapping of Outcome to int
        What was found dog by dog.
    """

    clause: Clause
    count: int
    missing: int
    as_read: float
    as_read_low: float
    as_read_high: float
    within: float
    low: float
    high: float
    mean: float
    observed_sd: float
    error_sd: float
    true_sd: float
    findings: Mapping[Outcome, int]


def clause_shares(
    table: SurveyTable, standard: Standard, levels: Levels | None = None
) -> tuple[ClauseShare, ...]:
    """Return each clause that at least `FEWEST` dogs have the trait of."""
    shares = []
    for clause in standard.clauses:
        asked = table.adults(standard.adult_from_months)
        if clause.sex != "both":
            asked &= table.where(sex=clause.sex)
        if clause.trait in table.traits:
            column = table.traits[clause.trait]
            if int(np.isfinite(column.values[asked]).sum()) >= FEWEST:
                shares.append(_share(table, clause, asked, levels or Levels()))
    return tuple(shares)


def _share(table: SurveyTable, clause: Clause, asked: Flags, levels: Levels) -> ClauseShare:
    column = table.traits[clause.trait]
    known = asked & np.isfinite(column.values) & np.isfinite(column.uncertainties)
    values, errors = column.values[known], column.uncertainties[known]
    inside = float(np.mean(_inside(values, clause)))
    low, high = wilson(inside, values.size)
    mean, observed, error, true = spreads(values, errors)
    within, within_low, within_high = _truly_within(values, errors, clause)
    codes = decide_column(column, clause, levels)[asked]
    return ClauseShare(
        clause, values.size, int(asked.sum()) - values.size, inside, low, high,
        within, within_low, within_high, mean, observed, error, true,
        {outcome: number for outcome, number in tally(codes) if number},
    )  # fmt: skip


def _inside(values: Array, clause: Clause) -> Flags:
    low = -math.inf if clause.low is None else clause.low
    high = math.inf if clause.high is None else clause.high
    return (values >= low) & (values <= high)


def wilson(share: float, count: int, z: float = 1.959963984540054) -> tuple[float, float]:
    """Return the 95 % interval of a share.

    Source: Wilson EB 1927, J Am Stat Assoc 22:209-212.
    """
    middle = (share + z**2 / (2 * count)) / (1 + z**2 / count)
    half = z / (1 + z**2 / count) * math.sqrt(share * (1 - share) / count + z**2 / (4 * count**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def spreads(values: Array, errors: Array) -> tuple[float, float, float, float]:
    """Return middle, observed, error and true standard deviation; nan where no true one is seen.

    The observed variance is the true one and that of the errors together; the errors' is their
    mean square, so dogs measured better and worse may stand side by side. Middle and observed
    spread are biweight ones: a misread tape counts, but does not make a breed look varied.
    """
    middle, observed = biweight(values[None, :])
    error = float(np.mean(errors**2))
    return (
        float(middle[0]),
        math.sqrt(observed[0]),
        math.sqrt(error),
        float(_true_sd(observed, np.array([error]))[0]),
    )


def _true_sd(observed: Array, error: Array) -> Array:
    seen = error < ERROR_TOO_LARGE * observed
    return np.sqrt(np.where(seen, observed - error, np.nan))


def _truly_within(values: Array, errors: Array, clause: Clause) -> tuple[float, float, float]:
    """Return the deconvolved share with its interval, true values taken as normal."""
    middle, _, _, true = spreads(values, errors)
    if math.isnan(true):
        return math.nan, math.nan, math.nan
    drawn = np.concatenate([
        _shares_of(values[places], errors[places], clause)
        for places in redrawn(values.size, clause.trait)
    ])  # fmt: skip
    whole = _normal_share(np.array([middle]), np.array([true]), clause)
    low, high = np.nanquantile(drawn, [0.025, 0.975])
    return float(whole[0]), float(low), float(high)


def _shares_of(values: Array, errors: Array, clause: Clause) -> Array:
    middle, observed = biweight(values)
    return _normal_share(middle, _true_sd(observed, np.mean(errors**2, axis=1)), clause)


def _normal_share(mean: Array, sd: Array, clause: Clause) -> Array:
    below = 0.0 if clause.low is None else special.ndtr((clause.low - mean) / sd)
    above = 0.0 if clause.high is None else special.ndtr((mean - clause.high) / sd)
    return np.asarray(1.0 - below - above)
