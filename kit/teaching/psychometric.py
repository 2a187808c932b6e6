"""How an eye's answers rise with the difference: the psychometric function, fitted with lapses.

psi(x) = guess + (1 - guess - lapse) F((x - location) / scale). Wichmann and Hill 2001, Perception
& Psychophysics 63:1293-1313. A lapse rate left wholly free still biases the fit (Prins 2012,
Journal of Vision 12(6):25), so it is held below a limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special
from scipy.optimize import minimize

from kit.quantities.errors import EstimationError
from kit.teaching.resampling import SCALES, fit_many

Array = NDArray[np.float64]
SHAPES = ("normal", "logistic")
LAPSE_LIMIT = 0.06  # most of the answers anybody who looks at the dogs gives by mistake
DRAWS = 400  # bootstrap samples
COVERAGE = 0.95
RELIABLE = 0.75  # part of the answers that are right where a difference is seen reliably
_TINY = 1e-12


@dataclass(frozen=True)
class Answers:
    """Answers at some levels: each level, how often it was shown, how often said "over".

    All arrays have shape (levels,).
    """

    levels: Array
    over: Array
    shown: Array

    @classmethod
    def of(cls, levels: ArrayLike, over: ArrayLike, shown: ArrayLike = 1.0) -> Answers:
        """Gather answers, single ones or counts; equal levels are put together.

        Raises
        ------
        EstimationError
            If there are none, or counts that cannot be.
        """
        at = np.atleast_1d(np.asarray(levels, np.float64))
        said = np.broadcast_to(np.asarray(over, np.float64), at.shape)
        times = np.broadcast_to(np.asarray(shown, np.float64), at.shape)
        if at.size == 0 or not np.all(np.isfinite(at)):
            raise EstimationError("no answers to fit", "answers at finite levels")
        if np.any(said < 0) or np.any(said > times):
            raise EstimationError("these answers cannot be", "no more answers than drawings shown")
        found, where = np.unique(np.round(at, 9), return_inverse=True)
        over_each = np.bincount(where, said).astype(np.float64)
        return cls(found, over_each, np.bincount(where, times).astype(np.float64))

    @property
    def total(self) -> int:
        """How many answers there are."""
        return int(self.shown.sum())


@dataclass(frozen=True)
class Psychometric:
    """A fitted function.

    Attributes
    ----------
    shape : str
        ``normal`` or ``logistic``.
    location : float
        Where half of the seen answers are "over", in the unit of the levels.
    scale : float
        Standard deviation (normal) or spread (logistic), in the same unit.
    guess, lapse : float
        How far the function stays from 0 and from 1.
    cost : float
        Negative logarithm of the likelihood, without the binomial constant.
    """

    shape: str
    location: float
    scale: float
    guess: float
    lapse: float
    cost: float = math.nan

    def __call__(self, levels: ArrayLike) -> Array:
        """Return the probability of "over" at some levels."""
        z = (np.asarray(levels, np.float64) - self.location) / self.scale
        rise = special.ndtr(z) if self.shape == "normal" else special.expit(z)
        result: Array = self.guess + (1 - self.guess - self.lapse) * rise
        return result

    @property
    def reliable(self) -> float:
        """How far from the location three answers in four are right, lapses aside."""
        point = special.ndtri(RELIABLE) if self.shape == "normal" else special.logit(RELIABLE)
        return float(self.scale * point)


@dataclass(frozen=True)
class Fitted:
    """A function with 95 % bootstrap intervals.

    Attributes
    ----------
    location95, scale95, reliable95 : (float, float)
    trials : int
    """

    function: Psychometric
    location95: tuple[float, float]
    scale95: tuple[float, float]
    reliable95: tuple[float, float]
    trials: int


def fit(
    answers: Answers, *, shape: str = "normal", guess: float | None = None,
    lapse_limit: float = LAPSE_LIMIT,
) -> Psychometric:  # fmt: skip
    """Fit a psychometric function by maximum likelihood.

    Parameters
    ----------
    answers : Answers
    shape : str
        One of SHAPES.
    guess : float, optional
        The lower end; without it a mistake is as likely at the lower end as at the upper.
    lapse_limit : float
        The lapse rate lies between zero and this; zero fixes it.

    Raises
    ------
    EstimationError
        If the answers do not rise or fall anywhere.
    """
    _check(answers, shape, lapse_limit)
    made = [_fit_from(start, answers, shape, guess, lapse_limit) for start in _starts(answers)]
    return min(made, key=lambda one: one.cost)


def bootstrap(
    answers: Answers, *, shape: str = "normal", guess: float | None = None,
    lapse_limit: float = LAPSE_LIMIT, draws: int = DRAWS, seed: int = 7,
) -> Fitted:  # fmt: skip
    """Fit, and find 95 % intervals by drawing the answers anew from the fitted function.

    Arguments as for `fit`; `seed` makes the same answers give the same interval.
    """
    best = fit(answers, shape=shape, guess=guess, lapse_limit=lapse_limit)
    generator = np.random.default_rng(seed)
    counts = (draws, len(answers.levels))
    drawn = generator.binomial(answers.shown.astype(int), best(answers.levels), counts)
    mixed = drawn[(drawn.sum(axis=1) > 0) & (drawn.sum(axis=1) < answers.total)]
    if len(mixed) < draws / 2:
        raise EstimationError("no interval", "answers of both kinds", f"{answers.total} answers",
                              "go on practising")  # fmt: skip
    made = fit_many(answers.levels, mixed.astype(np.float64), answers.shown, shape, guess,
                    lapse_limit, (best.location, best.scale))  # fmt: skip
    part = best.reliable / best.scale
    scale = _interval(made.scale)
    return Fitted(best, _interval(made.location), scale, (scale[0] * part, scale[1] * part),
                  answers.total)  # fmt: skip


def _interval(values: Array) -> tuple[float, float]:
    tail = (1 - COVERAGE) / 2
    low, high = np.quantile(values, [tail, 1 - tail])
    return float(low), float(high)


def _check(answers: Answers, shape: str, lapse_limit: float) -> None:
    if shape not in SHAPES:
        raise EstimationError("no such shape", " or ".join(SHAPES), shape)
    if not 0.0 <= lapse_limit < 0.5:
        raise EstimationError("the lapse limit makes no sense", "0 to 0.5", f"{lapse_limit}")
    if len(answers.levels) < 2 or not 0 < answers.over.sum() < answers.shown.sum():
        raise EstimationError("nothing can be fitted", "answers of both kinds at several levels",
                              f"{answers.total} answers", "go on practising")  # fmt: skip


def _starts(answers: Answers) -> list[tuple[float, float, float]]:
    span = float(np.ptp(answers.levels))
    middle = float(np.average(answers.levels, weights=answers.shown))
    return [(middle + shift * span, math.log(part * span), 0.01)
            for shift in (-0.15, 0.0, 0.15) for part in (0.05, 0.2)]  # fmt: skip


def _fit_from(
    start: tuple[float, float, float], answers: Answers, shape: str, guess: float | None,
    lapse_limit: float,
) -> Psychometric:  # fmt: skip
    span = float(np.ptp(answers.levels))
    low, high = float(answers.levels.min()), float(answers.levels.max())

    def cost(unknowns: Array) -> float:
        return _cost(_function(unknowns, shape, guess, span), answers)

    scaled = np.array([start[0] / span, start[1] - math.log(span), start[2]])
    bounds = [
        ((low - span) / span, (high + span) / span),
        (math.log(SCALES[0]), math.log(SCALES[1])),
        (0.0, lapse_limit),
    ]
    found = minimize(cost, scaled, method="L-BFGS-B", bounds=bounds)
    return replace(_function(found.x, shape, guess, span), cost=float(found.fun))


def _function(unknowns: Array, shape: str, guess: float | None, span: float) -> Psychometric:
    lapse = float(unknowns[2])
    floor = lapse if guess is None else guess
    return Psychometric(
        shape, float(unknowns[0]) * span, math.exp(float(unknowns[1])) * span, floor, lapse
    )


def _cost(function: Psychometric, answers: Answers) -> float:
    chance = np.clip(function(answers.levels), _TINY, 1 - _TINY)
    missed = answers.shown - answers.over
    return -float(np.sum(answers.over * np.log(chance) + missed * np.log1p(-chance)))
