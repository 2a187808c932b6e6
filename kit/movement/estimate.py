"""Figures of movement with their uncertainty, from inputs that carry theirs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kit.estimation.components import Component, combined
from kit.estimation.propagation import compile_model, evaluate
from kit.estimation.simulation import Simulation, is_linear_enough, simulate
from kit.movement.figure import CONSTANTS, GaitFigure
from kit.movement.gait import GRAVITY, GRAVITY_UNCERTAINTY, expanded, gait_figure
from kit.quantities.errors import EstimationError
from kit.standards.conformity import Probabilities, probabilities

NORMAL_95 = float(special.ndtri(0.975))
SHARED = frozenset({"hip_height", "gravity", "mass", "stance_width", "distance"})


@dataclass(frozen=True)
class Measured:
    """One input: its best value in SI units (angles in degrees) and its sources of error."""

    value: float
    components: tuple[Component, ...]

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty."""
        return combined(self.components)


@dataclass(frozen=True)
class GaitEstimate:
    """One figure of one dog, in the unit of the figure.

    Attributes
    ----------
    low95, high95 : float
        Interval expected to hold the true value with 95 % probability.
    parts : mapping of str to float
        What each input adds to the standard uncertainty, signed as the figure moves with it.
    runs : int
        How many runs it is the mean of.
    simulation : Simulation, optional
        The draws, where it was simulated.
    """

    figure: GaitFigure
    value: float
    uncertainty: float
    low95: float
    high95: float
    parts: Mapping[str, float]
    runs: int = 1
    simulation: Simulation | None = None

    def chances(self, low: float | None, high: float | None) -> Probabilities:
        """Return the probabilities of the true value lying below, within and above two limits."""
        if self.simulation is None:
            return probabilities(self.value, self.uncertainty, low, high)
        within = self.simulation.probability(low, high)
        above = 0.0 if high is None else 1.0 - self.simulation.probability(None, high)
        return Probabilities(max(0.0, 1.0 - within - above), within, above)

    @property
    def largest_doubt(self) -> str:
        """The input that limits it most; empty where nothing is known of it."""
        return max(self.parts, key=lambda name: abs(self.parts[name]), default="")


def gravity() -> Measured:
    """Return gravity, whose value differs a little from place to place."""
    return Measured(GRAVITY, (Component("place on earth", GRAVITY_UNCERTAINTY),))


def estimate(key: str, inputs: Mapping[str, Measured]) -> GaitEstimate:
    """Work out one figure.

    Raises
    ------
    EstimationError
        If an input is missing.
    """
    figure, expression = gait_figure(key), expanded(key)
    model = compile_model(expression)
    known = {"gravity": gravity(), **_constants(), **inputs}
    missing = [name for name in model.names if name not in known]
    if missing:
        raise EstimationError(f"{figure.title} cannot be worked out", ", ".join(model.names),
                              f"no {', '.join(missing)}")  # fmt: skip
    point = {name: known[name].value for name in model.names}
    value, slopes = evaluate(expression, point)
    parts = {name: slopes[name] * known[name].uncertainty for name in model.names
             if name not in CONSTANTS}  # fmt: skip
    linear = _normal(figure, value, parts)
    directions = np.diag([known[name].uncertainty for name in model.names])
    ordered = [slopes[name] for name in model.names]
    if is_linear_enough(model, list(point.values()), value, ordered, directions):
        return linear
    return _drawn(linear, simulate(expression, {name: known[name] for name in model.names}))


def _constants() -> dict[str, Measured]:
    return {name: Measured(value, ()) for name, value in CONSTANTS.items()}


def _normal(figure: GaitFigure, value: float, parts: Mapping[str, float]) -> GaitEstimate:
    uncertainty = math.sqrt(sum(part**2 for part in parts.values()))
    reach = NORMAL_95 * uncertainty
    return GaitEstimate(figure, value, uncertainty, value - reach, value + reach, parts)


def _drawn(linear: GaitEstimate, drawn: Simulation) -> GaitEstimate:
    low, high = drawn.interval()
    return replace(linear, uncertainty=drawn.uncertainty, low95=low, high95=high, simulation=drawn)


def from_draws(figure: GaitFigure, value: float, draws: NDArray[np.float64]) -> GaitEstimate:
    """Return the estimate of a figure that was evaluated on draws of its inputs, shape (k,)."""
    drawn = Simulation(np.sort(draws), 0.0)
    low, high = drawn.interval()
    return GaitEstimate(figure, value, drawn.uncertainty, low, high, {}, simulation=drawn)


def pooled(runs: Sequence[GaitEstimate]) -> GaitEstimate:
    """Return the mean of one figure over several runs.

    What the runs share (the marked distance, the hip, the stance) does not shrink with their
    number; the rest does, and is widened where the runs scatter more than their errors explain.

    Source: JCGM 100:2008, 5.2; widening by the Birge ratio (from memory).
    """
    if len(runs) == 1:
        return runs[0]
    count = len(runs)
    value = sum(run.value for run in runs) / count
    names = dict.fromkeys(name for run in runs for name in run.parts)
    parts: dict[str, float] = {}
    for name in names:
        each = [run.parts.get(name, 0.0) for run in runs]
        own = math.sqrt(sum(part**2 for part in each)) / count
        parts[name] = sum(each) / count if name in SHARED else own
    own_part = math.sqrt(sum(part**2 for name, part in parts.items() if name not in SHARED))
    scatter = math.sqrt(sum((run.value - value) ** 2 for run in runs) / (count - 1) / count)
    if scatter > own_part:
        parts["scatter of the runs"] = math.sqrt(scatter**2 - own_part**2)
    return replace(_normal(runs[0].figure, value, parts), runs=count)
