"""Monte Carlo propagation (JCGM 101) for where the linear one fails its own check."""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

import numpy as np
import sympy
from numpy.typing import NDArray

from kit.estimation.components import Component
from kit.estimation.propagation import Model, compile_model
from kit.quantities.errors import EstimationError

DRAWS = 20_000
# The linear interval may be off by this part of the standard uncertainty at either end, about
# half a unit of one significant digit of it (JCGM 101:2008, 7.9.2 and 8.1).
LINEAR_TOLERANCE = 0.15
WIDTH = 2.0


class Uncertain(Protocol):
    """Anything with a value and components of uncertainty, such as an Estimate."""

    @property
    def value(self) -> float:
        """Best value."""

    @property
    def components(self) -> Sequence[Component]:
        """Sources of error, independent of one another."""


@dataclass(frozen=True)
class Simulation:
    """Draws of one derived value.

    Attributes
    ----------
    draws : array, shape (k,)
        Sorted; only draws that are possible.
    impossible : float
        Part of all draws in which the readings could not belong together.
    """

    draws: NDArray[np.float64]
    impossible: float

    @property
    def mean(self) -> float:
        """Mean of the draws."""
        return float(self.draws.mean())

    @property
    def uncertainty(self) -> float:
        """Standard deviation of the draws."""
        return float(self.draws.std(ddof=1))

    def interval(self, coverage: float = 0.95) -> tuple[float, float]:
        """Return the interval with equal tails (JCGM 101:2008, 7.7)."""
        tail = (1.0 - coverage) / 2.0
        low, high = np.quantile(self.draws, [tail, 1.0 - tail])
        return float(low), float(high)

    def probability(self, low: float | None, high: float | None) -> float:
        """Return the part of all draws between two limits.

        Impossible draws lie nowhere: they count against every decision.
        """
        start = 0 if low is None else int(np.searchsorted(self.draws, low, "left"))
        end = self.draws.size if high is None else int(np.searchsorted(self.draws, high, "right"))
        return max(0, end - start) / self.draws.size * (1.0 - self.impossible)


def simulate(
    expression: sympy.Expr, inputs: Mapping[str, Uncertain], draws: int = DRAWS
) -> Simulation:
    """Draw every component of every input from its own distribution and evaluate.

    Each input's generator is seeded from its name: the same readings give the same figures.

    Raises
    ------
    EstimationError
        If fewer than half of the draws are possible.

    Source: JCGM 101:2008, clause 7.
    """
    drawn = {
        name: inputs[name].value + draw_errors(name, tuple(inputs[name].components), draws)
        for name in compile_model(expression).names
    }
    return evaluate_draws(expression, drawn)


def evaluate_draws(expression: sympy.Expr, drawn: Mapping[str, NDArray[np.float64]]) -> Simulation:
    """Evaluate an expression on draws of its inputs, each of shape (k,); see `simulate`."""
    model = compile_model(expression)
    with np.errstate(all="ignore"):
        results = np.asarray(
            model.function(*(drawn[name] for name in model.names)), dtype=np.float64
        )
    possible = np.sort(results[np.isfinite(results)])
    if possible.size < results.size / 2:
        raise EstimationError(
            "no interval can be given: most draws of these readings cannot belong together",
            do="repeat the readings",
        )
    return Simulation(possible, 1.0 - possible.size / results.size)


@lru_cache(maxsize=512)
def draw_errors(
    name: str, components: tuple[Component, ...], count: int = DRAWS
) -> NDArray[np.float64]:
    """Draw the error of one input, shape (count,).

    Whatever shares an input shares its draws, so that traits stay correlated as they are.
    """
    generator = np.random.default_rng(zlib.crc32(name.encode()))
    drawn = np.zeros(count)
    for component in components:
        if component.uncertainty > 0:
            drawn += component.sample(generator, count)
    drawn.flags.writeable = False
    return drawn


def is_linear_enough(
    model: Model,
    point: Sequence[float],
    value: float,
    slopes: Sequence[float],
    directions: NDArray[np.float64],
) -> bool:
    """Tell whether the first-order result can be trusted around a point.

    The expression is evaluated two standard uncertainties away, along each source of error and
    along the steepest direction; the linear result must meet it there within LINEAR_TOLERANCE.

    Parameters
    ----------
    point, slopes : sequences of n floats
        Inputs and the derivatives by them.
    value : float
        The expression at the point.
    directions : array, shape (k, n)
        How the inputs move for one standard uncertainty of each independent source of error.
    """
    along = directions @ np.array(slopes)
    total = math.sqrt(along @ along)
    if total == 0.0:
        return True
    count = len(directions) + 1
    offsets = np.empty((2 * count, len(point)))
    offsets[: count - 1] = WIDTH * directions
    offsets[count - 1] = WIDTH * (along @ directions) / total
    np.negative(offsets[:count], out=offsets[count:])
    with np.errstate(all="ignore"):
        actual = model.function(*(offsets + point).T)
    linear = value + offsets @ np.array(slopes)
    return bool(np.abs(actual - linear).max() <= LINEAR_TOLERANCE * total)
