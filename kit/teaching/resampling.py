"""Many psychometric functions fitted at once, for the bootstrap.

Fisher scoring with damping in location and logarithm of the scale, for every sample in one array;
the lapse rate takes the best of a few values. One fit at a time would take a hundred times longer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Array = NDArray[np.float64]
LAPSES = 4  # values of the lapse rate that are tried, evenly from 0 to its limit
ROUNDS = 40
SCALES = (0.005, 5.0)  # in parts of the span of the levels
_TINY = 1e-9


@dataclass(frozen=True)
class Many:
    """Fitted functions, one a sample.

    Attributes
    ----------
    location, scale, cost : arrays of shape (samples,)
    """

    location: Array
    scale: Array
    cost: Array


def fit_many(levels: Array, over: Array, shown: Array, shape: str, guess: float | None,
             lapse_limit: float, start: tuple[float, float]) -> Many:  # fmt: skip
    """Fit every row of `over`, shape (samples, levels), to answers shown `shown` times a level.

    `start` is the location and scale of the function the samples were drawn from.
    """
    best = Many(*(np.full(len(over), value) for value in (start[0], start[1], np.inf)))
    for lapse in np.linspace(0.0, lapse_limit, LAPSES if lapse_limit > 0 else 1):
        floor = float(lapse) if guess is None else guess
        one = _Scoring(levels, over, shown, shape, floor, float(lapse)).run(start)
        better = one.cost < best.cost
        best = Many(
            *(
                np.where(better, new, old)
                for new, old in (
                    (one.location, best.location),
                    (one.scale, best.scale),
                    (one.cost, best.cost),
                )
            )
        )
    return best


@dataclass(frozen=True)
class _Scoring:
    levels: Array
    over: Array
    shown: Array
    shape: str
    guess: float
    lapse: float

    def run(self, start: tuple[float, float]) -> Many:
        """Fit all samples; each keeps a step only where it lowers its own cost."""
        samples, span = len(self.over), float(np.ptp(self.levels))
        location, log_scale = np.full(samples, start[0]), np.full(samples, np.log(start[1]))
        damping = np.full(samples, 1e-3)
        cost = self._cost(location, log_scale)
        low, high = self.levels.min() - span, self.levels.max() + span
        least, most = (np.log(part * span) for part in SCALES)
        for _ in range(ROUNDS):
            step = self._step(location, log_scale, damping)
            nearer = np.clip(location + step[0], low, high)
            wider = np.clip(log_scale + step[1], least, most)
            new = self._cost(nearer, wider)
            better = new < cost
            location, log_scale = np.where(better, nearer, location), np.where(
                better, wider, log_scale)  # fmt: skip
            cost = np.where(better, new, cost)
            damping = np.clip(np.where(better, damping / 5, damping * 8), 1e-9, 1e9)
        return Many(location, np.exp(log_scale), cost)

    def _chance(self, location: Array, log_scale: Array) -> tuple[Array, Array, Array]:
        """Return z, the probability of "over" and its density, shape (samples, levels)."""
        z = (self.levels - location[:, None]) / np.exp(log_scale)[:, None]
        if self.shape == "normal":
            rise, density = special.ndtr(z), np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
        else:
            rise = special.expit(z)
            density = rise * (1 - rise)
        part = 1 - self.guess - self.lapse
        return z, np.clip(self.guess + part * rise, _TINY, 1 - _TINY), part * density

    def _cost(self, location: Array, log_scale: Array) -> Array:
        _, chance, _ = self._chance(location, log_scale)
        said = self.over * np.log(chance) + (self.shown - self.over) * np.log1p(-chance)
        result: Array = -said.sum(axis=1)
        return result

    def _step(self, location: Array, log_scale: Array, damping: Array) -> tuple[Array, Array]:
        z, chance, density = self._chance(location, log_scale)
        by_location, by_scale = -density / np.exp(log_scale)[:, None], -density * z
        weight = 1 / (chance * (1 - chance))
        missed = (self.over - self.shown * chance) * weight
        informed = self.shown * weight
        pull = (missed * by_location).sum(axis=1), (missed * by_scale).sum(axis=1)
        first = (informed * by_location**2).sum(axis=1) * (1 + damping) + _TINY
        other = (informed * by_scale**2).sum(axis=1) * (1 + damping) + _TINY
        both = (informed * by_location * by_scale).sum(axis=1)
        size = np.maximum(first * other - both**2, _TINY)
        return (other * pull[0] - both * pull[1]) / size, (first * pull[1] - both * pull[0]) / size
