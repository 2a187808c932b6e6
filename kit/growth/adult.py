"""How large a grown puppy will be, with an interval, or why that cannot be said yet."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from kit.growth.curves import from_working, to_working, working_slopes
from kit.growth.errors import NotSupportedError
from kit.growth.fitted import Fit, quantile
from kit.growth.fitting import refit
from kit.quantities.errors import KitError
from kit.quantities.kinds import Kind

Vector = NDArray[np.float64]

LEVEL = 0.90
# Part of the adult size that an interval may reach above the best value. A length goes as the
# cube root of a weight (geometry), so a quarter of a weight is as much as 8 % of a length.
WIDEST, WIDEST_LENGTH = 0.25, 0.08
LOOK_AHEAD = 7.0  # days between the further readings that are imagined
LATEST = 6.0  # paces after the midpoint; nothing grows noticeably later
GROWN = 550.0  # days, at which even large dogs weigh nearly what they ever will (Posada: T99)
MARGIN = 0.7  # of the limit, in advice: the curve that is taken as true will still move
SEARCH = 0.8  # natural logarithm of the ratio searched to either side for a limit


@dataclass(frozen=True)
class AdultSize:
    """Where the grown size lies.

    Attributes
    ----------
    value, low, high : float
        In the unit of the readings.
    level : float
        Probability the interval aims at.
    reached : float
        Part of `value` that the last reading is.
    deviation : float
        Standard deviation of the natural logarithm, for ranking.
    """

    value: float
    low: float
    high: float
    level: float
    reached: float
    deviation: float


def widest_of(kind: Kind) -> float:
    """Return how wide an interval of a kind of measurement may be (the kit's own limit)."""
    return WIDEST_LENGTH if kind is Kind.LENGTH else WIDEST


def adult_size(fitted: Fit, level: float = LEVEL, widest: float = WIDEST) -> AdultSize:
    """Predict the adult size.

    For a puppy fitted by itself the interval holds the adult sizes whose best curve is not much
    worse than the best of all (profile of the sum of squares against Student's t); for one that
    borrows it is Student's t on the logarithm.

    Raises
    ------
    NotSupportedError
        Where the interval would reach further than `widest` of the best value, the curve has
        not turned yet, or the puppy has no reading of its own; the error says until what age
        measuring would be enough.

    Source: profile t of Bates and Watts 1988, chapter 6 (from memory).
    """
    value = fitted.parameters["adult"]
    if not fitted.age.size:
        raise NotSupportedError(
            "the adult size cannot be predicted: no reading of its own goes into a curve",
            "readings from weaning on", "none", "measure it weekly from its fourth week on",
        )  # fmt: skip
    if not fitted.borrowed and not _has_turned(fitted):
        raise _refusal(fitted, level, widest, "its growth has not slowed down yet")
    low, high = _borrowed(fitted, level) if fitted.borrowed else _profiled(fitted, level, widest)
    if not (high <= value * (1.0 + widest) and low >= value / (1.0 + widest)):
        raise _refusal(fitted, level, widest, "the interval would be too wide to be of use")
    reached = float(fitted.value[np.argmax(fitted.age)]) / value
    deviation = math.log(high / low) / (2.0 * quantile(level, fitted.dof))
    return AdultSize(value, low, high, level, reached, deviation)


def _has_turned(fitted: Fit) -> bool:
    """Tell whether readings reach beyond the steepest growth."""
    return bool(fitted.age.max() > fitted.parameters["midpoint"])


def _borrowed(fitted: Fit, level: float) -> tuple[float, float]:
    half = quantile(level, fitted.dof) * math.sqrt(fitted.working_covariance()[0, 0])
    value = fitted.parameters["adult"]
    return value * math.exp(-half), value * math.exp(half)


def _profiled(fitted: Fit, level: float, widest: float) -> tuple[float, float]:
    """Return where the profile t of the adult size passes its critical value."""
    critical = quantile(level, fitted.dof)
    best = math.log(fitted.parameters["adult"])
    reach = math.log(1.0 + widest)

    def beyond(offset: float) -> float:
        return abs(_profile_t(fitted, math.exp(best + offset))) - critical

    ends = []
    for way in (-1.0, 1.0):
        if beyond(way * reach) < 0:
            ends.append(best + way * SEARCH)
            continue
        ends.append(best + float(optimize.brentq(beyond, 0.0, way * reach, xtol=1e-5)))
    return math.exp(ends[0]), math.exp(ends[1])


def _profile_t(fitted: Fit, adult: float) -> float:
    """Return by how many residual deviations the best curve with this adult size is worse."""
    try:
        held = refit(fitted, {"adult": adult})
    except KitError:
        return math.inf
    worse = max(held.rss - fitted.rss, 0.0)
    return math.sqrt(worse) / fitted.residual_sd


def _refusal(fitted: Fit, level: float, widest: float, because: str) -> NotSupportedError:
    last = f"{fitted.age.size} readings up to {_weeks(float(fitted.age.max()))}"
    return NotSupportedError(
        f"the adult size cannot be predicted: {because}",
        f"an interval within {widest:.0%} of the best value".replace("%", " %"),
        last,
        _what_would(fitted, level, widest),
    )


def _what_would(fitted: Fit, level: float, widest: float) -> str:
    """Say until what age weekly readings would bring the interval inside the limit.

    The present curve is taken as true; the interval is that of the linearised curve.
    """
    begin = float(fitted.age.max())
    latest = fitted.parameters["midpoint"] + LATEST * fitted.parameters["pace"]
    working = to_working(fitted.curve, fitted.estimates)
    factor = quantile(level, fitted.dof)
    for last in np.arange(begin + LOOK_AHEAD, min(max(latest, begin), GROWN) + 1.0, LOOK_AHEAD):
        ahead = np.arange(begin + LOOK_AHEAD, last + 1.0, LOOK_AHEAD)
        if _deviation_with(fitted, working, ahead) * factor < MARGIN * np.log1p(widest):
            return f"measure weekly until about {_weeks(float(last))}, then ask again"
    if begin >= GROWN:
        return "it is grown: measure it a few times more, that is its adult size"
    return "measure weekly and ask again every month; grown litters of its kind would help"


def _deviation_with(fitted: Fit, working: Vector, ahead: Vector) -> float:
    """Return the standard deviation of the logarithm of the adult size with further readings."""
    days = np.concatenate([fitted.age, ahead])
    sizes = fitted.curve.value(days, from_working(fitted.curve, working))
    sd = fitted.error.deviation(sizes) if fitted.error else np.full(days.size, _usual_sd(fitted))
    slopes = working_slopes(fitted.curve, days, working) / (sd * fitted.residual_sd)[:, None]
    information = slopes.T @ slopes
    if fitted.borrowed:
        new = slopes[fitted.age.size :]
        information = np.linalg.inv(fitted.working_covariance()) + new.T @ new
    if np.linalg.cond(information) > 1.0 / np.finfo(float).eps:
        return math.inf
    return math.sqrt(np.linalg.inv(information)[0, 0])


def _usual_sd(fitted: Fit) -> float:
    return float(np.mean(fitted.weights) ** -0.5)


def _weeks(days: float) -> str:
    weeks = round(days / 7.0)
    return "1 week" if weeks == 1 else f"{weeks} weeks"
