"""Learn from litters that have grown up how a club's or kennel's puppies grow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.growth.curves import Curve, curve, to_working
from kit.growth.error_models import ErrorModel
from kit.growth.errors import NotSupportedError
from kit.growth.fitting import fit
from kit.growth.members import Member
from kit.growth.shared import Shared
from kit.growth.spreads import OF_WEIGHT, SEX_CODE, WORTH_OF_SPREAD, Usual, usual_spread

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

LEAST_PUPPIES, LEAST_LITTERS = 12, 3
WELL_KNOWN = 0.8  # standard error of the adult size at most, over the spread of siblings
FLOOR = 0.02  # least spread of a parameter, so that no direction is taken as known exactly


@dataclass(frozen=True, eq=False)
class _Grown:
    """Working parameters of one grown puppy, their covariance, and where it belongs."""

    litter: int
    code: float
    working: Vector
    covariance: Matrix


def learn(
    model: str | Curve,
    litters: Sequence[Sequence[Member]],
    error: ErrorModel,
    source: str = "the club's own records",
    usual: Usual = OF_WEIGHT,
) -> Shared:
    """Learn mean and spread of growth curves from litters followed until grown.

    Each puppy is fitted by itself; those whose adult size its own readings do not settle to well
    within the usual spread of siblings (8 % of a weight) are left out. Spreads within and between
    litters are the moment estimates of a one-way layout, less what the fits' own errors explain.

    Parameters
    ----------
    litters : sequence of litters
        One breed and one measurement; puppies with readings from weaning to adult age.
    usual : Usual
        How much siblings usually differ in what was measured; see `usual_of`.

    Raises
    ------
    NotSupportedError
        For fewer than 12 grown puppies or 3 litters.
    """
    family = curve(model)
    grown = [
        one
        for number, litter in enumerate(litters)
        for member in litter
        for one in _grown(family, number, member, error, WELL_KNOWN * usual.adult)
    ]
    numbers = sorted({one.litter for one in grown})
    if len(grown) < LEAST_PUPPIES or len(numbers) < LEAST_LITTERS:
        raise NotSupportedError(
            "too few grown puppies to learn from",
            f"at least {LEAST_PUPPIES} of {LEAST_LITTERS} litters, weighed until grown",
            f"{len(grown)} of {len(numbers)} litters",
            "follow more litters to adult age",
        )
    return _learned(family, grown, numbers, source, usual)


def _grown(
    family: Curve, litter: int, member: Member, error: ErrorModel, most: float
) -> list[_Grown]:
    try:
        own = fit(family, member.age, member.value, error)
    except NotSupportedError:
        return []
    covariance = own.working_covariance()
    if covariance[0, 0] > most**2:
        return []
    working = to_working(family, own.estimates)
    return [_Grown(litter, SEX_CODE.get(member.sex, 0.0), working, covariance)]


def _learned(
    family: Curve, grown: Sequence[_Grown], numbers: Sequence[int], source: str, usual: Usual
) -> Shared:
    difference = _sex_difference(grown, numbers)
    levelled = np.array([one.working - one.code * difference for one in grown])
    belongs = np.array([one.litter for one in grown])
    means = np.array([levelled[belongs == number].mean(axis=0) for number in numbers])
    sizes = np.array([int((belongs == number).sum()) for number in numbers])
    away = levelled - means[np.searchsorted(numbers, belongs)]
    noise = np.mean([one.covariance for one in grown], axis=0)
    raw = away.T @ away / max(len(grown) - len(numbers), 1)
    pace = float(np.exp(levelled.mean(axis=0)[family.parameters.index("pace")]))
    spread = usual_spread(family, pace, usual)
    within = _pooled(_at_least(raw - noise, family, pace), len(grown) - len(numbers), spread)
    apart = means - means.mean(axis=0)
    between = apart.T @ apart / (len(numbers) - 1) - raw / float(sizes.mean())
    between = _pooled(_at_least(between, family, pace), len(numbers) - 1, spread)
    return Shared(
        family, means.mean(axis=0), between, within,
        len(grown), len(numbers), difference, source,
    )  # fmt: skip


def _pooled(learned: Matrix, dof: int, usual: Matrix) -> Matrix:
    """Pool a learned spread with the usual one: few litters feign spreads that are too narrow."""
    result: Matrix = (WORTH_OF_SPREAD * usual + dof * learned) / (WORTH_OF_SPREAD + dof)
    return result


def _sex_difference(grown: Sequence[_Grown], numbers: Sequence[int]) -> Vector:
    """Return dogs less bitches inside litters, of the adult size alone."""
    top, bottom = 0.0, 0.0
    for number in numbers:
        litter = [one for one in grown if one.litter == number and one.code]
        codes = np.array([one.code for one in litter])
        if len(set(codes.tolist())) < len(SEX_CODE):
            continue
        adults = np.array([one.working[0] for one in litter])
        top += float((codes - codes.mean()) @ adults)
        bottom += float((codes - codes.mean()) @ codes)
    size = grown[0].working.size
    difference = np.zeros(size)
    difference[0] = top / bottom if bottom else 0.0
    return difference


def _at_least(spread: Matrix, family: Curve, pace: float) -> Matrix:
    """Return the nearest covariance with every spread at least the floor."""
    unit = np.array([pace if name == "midpoint" else 1.0 for name in family.parameters])
    scaled = spread / np.outer(unit, unit)
    values, vectors = np.linalg.eigh((scaled + scaled.T) / 2.0)
    lifted = vectors @ np.diag(np.maximum(values, FLOOR**2)) @ vectors.T
    result: Matrix = lifted * np.outer(unit, unit)
    return result
