"""Siblings fitted together: each has its own curve, and borrows where it was measured little.

The parameters of a puppy are taken as normally distributed about their litter's mean. Mean and
spread of the litter and the scatter of readings are estimated from the litter itself by
expectation and maximisation on the linearised curves; each puppy's curve is then the mode of its
own distribution given them: empirical Bayes. Because six puppies hardly determine a spread, it is
pooled with a usual one worth a few puppies, and intervals are Student's t.

Source: Lindstrom and Bates 1990, Biometrics 46:673-687; Laird and Ware 1982, Biometrics
38:963-974 (both from memory). The usual spreads are common practice (no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.growth.curves import (
    GOMPERTZ,
    Curve,
    curve,
    from_working,
    to_working,
    working_scale,
    working_slopes,
)
from kit.growth.error_models import ErrorModel
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit, LitterFit
from kit.growth.fitting import checked_weights, fit
from kit.growth.members import Member, check_members
from kit.growth.shared import Shared
from kit.growth.spreads import (
    MOST_WORTH,
    OF_WEIGHT,
    SEX_CODE,
    USUAL_SHAPE,
    VAGUE,
    VAGUE_LITTERS,
    WORTH_OF_ERROR,
    WORTH_OF_SPREAD,
    Usual,
    bordered,
    inverted,
    usual_spread,
)
from kit.growth.starting import starts
from kit.growth.wandering import inflation
from kit.quantities.errors import EstimationError

Vector = NDArray[np.float64]
Matrix = NDArray[np.float64]

ITERATIONS, SETTLED = 200, 1e-5


@dataclass(frozen=True)
class _Priors:
    """What is taken as known before the litter: centre and precision of its mean, its spread."""

    centre: Vector
    precision: Matrix
    spread: Matrix
    worth: float
    litters: int


@dataclass(frozen=True)
class _State:
    """One step of the estimation."""

    means: Matrix  # (n, p) working parameters of the puppies
    centre: Vector  # (q,) of the litter
    centre_covariance: Matrix
    within: Matrix
    variance: float  # of a reading of weight one


@dataclass(frozen=True)
class _Look:
    """One puppy seen from the present state."""

    information: Matrix  # (p, p) of its readings
    inverse: Matrix  # (p, p) posterior covariance given the litter
    moved: Matrix  # (p, q) how its parameters follow the litter's mean
    residuals: Vector
    slopes: Matrix
    weights: Vector


class _Litter:
    """The litter under estimation."""

    def __init__(self, family: Curve, members: Sequence[Member], error: ErrorModel | None) -> None:
        self.family, self.members, self.error = family, members, error
        self.size = len(family.parameters)
        self.inflation = 1.0  # of the variance of readings, where they wander together
        codes = [SEX_CODE.get(one.sex, 0.0) for one in members]
        self.by_sex = len({code for code in codes if code}) == 2
        self.designs = [self._design(code) for code in codes]

    def _design(self, code: float) -> Matrix:
        whole = np.eye(self.size)
        if not self.by_sex:
            return whole
        tail = np.zeros((self.size, 1))
        tail[self.family.parameters.index("adult"), 0] = code
        return np.hstack([whole, tail])

    def weights_at(self, member: Member, working: Vector) -> Vector:
        if member.weights is not None:
            return member.weights
        assert self.error is not None  # noqa: S101  (checked where the litter is made)
        result: Vector = self.error.deviation(self.sizes_at(member, working)) ** -2.0
        return result

    def sizes_at(self, member: Member, working: Vector) -> Vector:
        """Return the curve at a puppy's ages; before a curve begins there is no size."""
        return np.nan_to_num(self.family.value(member.age, from_working(self.family, working)))

    def begin(self) -> Vector:
        """Return working parameters of all puppies taken as one."""
        days = np.concatenate([one.age for one in self.members])
        sizes = np.concatenate([one.value for one in self.members])
        weights = np.concatenate([self._rough_weights(one) for one in self.members])
        simple = GOMPERTZ if "shape" in self.family.parameters else self.family
        tail = [] if simple is self.family else [USUAL_SHAPE]
        try:
            naive = to_working(simple, fit(simple, days, sizes, weights).estimates)
        except NotSupportedError:
            found = starts(simple, days, sizes, weights)
            if not found:
                raise
            naive = found[0]
        return np.append(naive, tail)

    def _rough_weights(self, member: Member) -> Vector:
        if member.weights is not None:
            return member.weights
        assert self.error is not None  # noqa: S101  (as above)
        result: Vector = self.error.deviation(member.value) ** -2.0
        return result

    def priors(self, begin: Vector, shared: Shared | None, usual: Usual) -> _Priors:
        pace = float(from_working(self.family, begin)[self.family.parameters.index("pace")])
        spread = usual_spread(self.family, pace, usual)
        centre, covariance, worth = begin, usual_spread(self.family, pace, VAGUE), WORTH_OF_SPREAD
        difference, litters = usual.sex_difference, VAGUE_LITTERS
        if shared is not None:
            centre = shared.mean
            covariance = shared.between * (1.0 + 1.0 / shared.litters)
            spread, worth = shared.within, min(shared.puppies - shared.litters, MOST_WORTH)
            litters = shared.litters
            if shared.sex_difference.size:
                difference = float(shared.sex_difference[0])
        precision = inverted(covariance)
        if self.by_sex:
            centre = np.append(centre, difference)
            precision = bordered(precision, usual.sex_spread**-2.0)
        return _Priors(centre, precision, spread, worth, litters)

    def look(self, index: int, state: _State) -> _Look:
        member, working = self.members[index], state.means[index]
        weights = self.weights_at(member, working) / (state.variance * self.inflation)
        slopes = np.nan_to_num(working_slopes(self.family, member.age, working))
        fitted = self.sizes_at(member, working)
        information = slopes.T @ (weights[:, None] * slopes)
        precision = inverted(state.within)
        inverse = inverted(information + precision)
        moved = inverse @ precision @ self.designs[index]
        return _Look(information, inverse, moved, member.value - fitted, slopes, weights)

    def stepped(self, index: int, state: _State) -> Vector:
        """Return the puppy's parameters after one damped Gauss-Newton step to its mode."""
        seen = self.look(index, state)
        middle = self.designs[index] @ state.centre
        away = np.linalg.solve(state.within, state.means[index] - middle)
        step = seen.inverse @ (seen.slopes.T @ (seen.weights * seen.residuals) - away)
        before = self._cost(index, state, state.means[index], seen.weights)
        for _ in range(12):
            moved: Vector = state.means[index] + step
            if self._cost(index, state, moved, seen.weights) <= before:
                return moved
            step = step / 2.0
        start: Vector = state.means[index]
        return start

    def _cost(self, index: int, state: _State, working: Vector, weights: Vector) -> float:
        member = self.members[index]
        residuals = member.value - self.sizes_at(member, working)
        away = working - self.designs[index] @ state.centre
        return float(weights @ residuals**2 + away @ np.linalg.solve(state.within, away))

    def centred(self, looks: Sequence[_Look], state: _State, priors: _Priors) -> _State:
        """Estimate the litter's mean from the linearised curves of all puppies."""
        precision, pull = priors.precision.copy(), priors.precision @ priors.centre
        outer = inverted(state.within)
        for index, seen in enumerate(looks):
            design = self.designs[index]
            told = seen.slopes.T @ (seen.weights * seen.residuals)
            told = told + seen.information @ state.means[index]
            precision += design.T @ (outer - outer @ seen.inverse @ outer) @ design
            pull = pull + design.T @ outer @ seen.inverse @ told
        covariance = inverted(precision)
        return replace(state, centre=covariance @ pull, centre_covariance=covariance)

    def spread_out(self, looks: Sequence[_Look], state: _State, priors: _Priors) -> _State:
        """Estimate the spread of siblings and the scatter of readings."""
        total = priors.worth * priors.spread
        squares, count = WORTH_OF_ERROR, WORTH_OF_ERROR
        for index, seen in enumerate(looks):
            design = self.designs[index]
            away = state.means[index] - design @ state.centre
            loose = seen.moved - design
            total = total + np.outer(away, away) + seen.inverse
            total = total + loose @ state.centre_covariance @ loose.T
            unsure = seen.inverse + seen.moved @ state.centre_covariance @ seen.moved.T
            unit = state.variance * self.inflation
            squares += unit * float(seen.weights @ seen.residuals**2)
            squares += unit * float(np.trace(seen.information @ unsure))
            count += seen.residuals.size
        within = total / (priors.worth + len(self.members))
        return replace(state, within=within, variance=squares / count)


def fit_litter(
    model: str | Curve,
    members: Sequence[Member],
    error: ErrorModel | None = None,
    shared: Shared | None = None,
    usual: Usual = OF_WEIGHT,
) -> LitterFit:
    """Fit all puppies of a litter together (partial pooling).

    Parameters
    ----------
    members : sequence of Member
        At least one; a puppy may have a single reading, or none at all.
    error : ErrorModel
        How readings scatter; needed unless every member carries weights (one over variance).
    shared : Shared, optional
        What is known of the population.
    usual : Usual
        How much siblings usually differ in what was measured; see `usual_of`.

    Raises
    ------
    EstimationError
        If there is no puppy, or names are repeated.
    NotSupportedError
        If no curve rises through the readings at all.
    """
    family = curve(model)
    check_members(members, error, family, shared)
    litter = _Litter(family, members, error)
    begin = litter.begin() if shared is None else shared.mean
    priors = litter.priors(begin, shared, usual)
    means = np.array([design @ priors.centre for design in litter.designs])
    state = _State(means, priors.centre, inverted(priors.precision), priors.spread, 1.0)
    state, rounds = _estimated(litter, state, priors)
    litter.inflation = inflation(_standardised(litter, state), litter.size)
    if litter.inflation > 1.0:
        state, more = _estimated(litter, state, priors)
        rounds += more
    return _finished(litter, state, priors, rounds)


def _estimated(litter: _Litter, state: _State, priors: _Priors) -> tuple[_State, int]:
    """Go round until nothing moves; return the state and how many rounds it took."""
    rounds, settled = 0, False
    while not settled and rounds < ITERATIONS:
        before, rounds = state, rounds + 1
        state = _round(litter, state, priors)
        settled = _settled(before, state)
    return state, rounds


def _standardised(litter: _Litter, state: _State) -> list[Vector]:
    """Return each puppy's residuals in order of age, over their deviation."""
    rows = []
    for index, one in enumerate(litter.members):
        seen = litter.look(index, state)
        order = np.argsort(one.age)
        rows.append((seen.residuals * np.sqrt(seen.weights))[order])
    return rows


def _round(litter: _Litter, state: _State, priors: _Priors) -> _State:
    everyone = range(len(litter.members))
    means = np.array([litter.stepped(index, state) for index in everyone])
    state = replace(state, means=means)
    looks = [litter.look(index, state) for index in everyone]
    state = litter.centred(looks, state, priors)
    return litter.spread_out(looks, state, priors)


def _settled(before: _State, after: _State) -> bool:
    scale = np.sqrt(np.diag(after.within))
    moved = float(np.max(np.abs(after.means - before.means) / scale))
    spread = float(np.max(np.abs(np.diag(after.within) / np.diag(before.within) - 1.0)))
    return max(moved, spread, abs(after.variance / before.variance - 1.0)) < SETTLED


def _finished(litter: _Litter, state: _State, priors: _Priors, rounds: int) -> LitterFit:
    looks = [litter.look(index, state) for index in range(len(litter.members))]
    fits = {
        member.name: _fit_of(litter, index, state, looks[index],
                             _dof(litter, looks[index], state, priors))
        for index, member in enumerate(litter.members)
    }  # fmt: skip
    moved = np.vstack([seen.moved for seen in looks])
    covariance = moved @ state.centre_covariance @ moved.T
    for index, seen in enumerate(looks):
        own = slice(index * litter.size, (index + 1) * litter.size)
        covariance[own, own] += seen.inverse
    mean = state.centre[: litter.size]
    root = math.sqrt(state.variance)
    return LitterFit(litter.family, MappingProxyType(fits), mean, state.within, root, covariance,
                     rounds)  # fmt: skip


def _dof(litter: _Litter, seen: _Look, state: _State, priors: _Priors) -> float:
    """Return degrees of freedom of the adult size.

    By the parts of its variance that rest on the litters of the population, on the spread of
    siblings and on the scatter of readings: they add as Welch and Satterthwaite say
    (JCGM 100:2008, G.4.1).
    """
    borrowed = float((seen.inverse @ inverted(state.within))[0, 0])
    borrowed = min(max(borrowed, 0.0), 1.0)
    common = float((seen.moved @ state.centre_covariance @ seen.moved.T)[0, 0])
    known = float((state.centre_covariance @ priors.precision)[0, 0])
    group = min(max(known, 0.0), 1.0) * common / (common + float(seen.inverse[0, 0]))
    readings = sum(member.age.size for member in litter.members)
    error = WORTH_OF_ERROR + max(readings - litter.size * len(litter.members), 0)
    parts = (
        (group, priors.litters - 1.0),
        ((1.0 - group) * borrowed, priors.worth + len(litter.members) - 1.0),
        ((1.0 - group) * (1.0 - borrowed), error),
    )
    return 1.0 / sum(part**2 / dof for part, dof in parts)


def _fit_of(litter: _Litter, index: int, state: _State, seen: _Look, dof: float) -> Fit:
    member, family = litter.members[index], litter.family
    parameters = from_working(family, state.means[index])
    unit = working_scale(family, parameters)
    unsure = seen.inverse + seen.moved @ state.centre_covariance @ seen.moved.T
    weights = seen.weights * state.variance * litter.inflation
    return Fit(
        curve=family,
        estimates=parameters,
        covariance=unsure * np.outer(unit, unit),
        dof=dof,
        residual_sd=math.sqrt(state.variance),
        rss=float(weights @ seen.residuals**2),
        age=member.age,
        value=member.value,
        weights=weights,
        error=litter.error,
        borrowed=True,
    )


def fit_one(
    family: Curve,
    days: Vector,
    sizes: Vector,
    weights: ArrayLike | ErrorModel | None,
    shared: Shared,
) -> Fit:
    """Fit one puppy that borrows from a population; see `kit.growth.fitting.fit`."""
    if isinstance(weights, ErrorModel):
        member, error = Member("", days, sizes), weights
        return fit_litter(family, [member], error, shared).fits[""]
    if weights is None:
        raise EstimationError(
            "nothing says how readings scatter", "an error model, or one over the variances",
            do="give weights=error_model(Kind.MASS), for example",
        )  # fmt: skip
    member = Member("", days, sizes, weights=checked_weights(weights, days.size))
    return fit_litter(family, [member], None, shared).fits[""]
