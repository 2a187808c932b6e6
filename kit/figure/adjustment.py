"""Least-squares adjustment of a network of points in a plane.

All observations are used at once, each weighted with its own uncertainty. What comes back is what
a surveyor expects: coordinates with covariance, residuals, redundancy numbers, the global test,
and a plain statement of what the observations do not determine.

Source: adjustment by parametric least squares, for example Ghilani, Adjustment Computations,
5th edition, chapters 11 to 16 and 21.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy import special

from kit.figure.algebra import RANK_TOLERANCE, shortest
from kit.figure.equations import Array, Network, Observation
from kit.figure.sightings import sighting
from kit.figure.template import template
from kit.quantities.errors import GeometryError

Point = tuple[float, float]
MOST_ITERATIONS = 60
# Probability below which the global test is reported as a problem.
MISFIT = 0.001
# Kinds that look from one point to another and need them apart to know where to.
STRAIGHT = {"distance", "angle", "direction", "falls_forward", "falls_backward", "from_vertical"}
# Corrections are done when they fall below this part of an observation's own uncertainty.
CONVERGED = 1e-7
FLAT = 1e-11


@dataclass(frozen=True)
class Problem:
    """Something the adjustment cannot vouch for: what, about which points or observations."""

    what: str
    about: tuple[str, ...]


@dataclass(frozen=True)
class Adjustment:
    """The adjusted network. Arrays over observations are in the order given.

    Attributes
    ----------
    coordinates : mapping of str to (float, float)
        Adjusted points; a coordinate that is not determined is nan.
    positions : mapping of str to (float, float)
        The same, undetermined coordinates where the adjustment left them.
    parameters : tuple of (str, str)
        Point and axis (``x``, ``y`` or ``orientation``) of each row of `covariance`.
    cofactors : array, shape (n, n)
        Of the adjusted parameters, from the observations' own uncertainties; zero where held,
        and of the smallest norm where undetermined.
    undetermined : frozenset of int
        Rows of the parameters the observations do not determine.
    design : array, shape (m, n)
        Derivative of each observation by each parameter; zero where held.
    residuals : array, shape (m,)
        Adjusted less observed.
    redundancy_numbers : array, shape (m,)
        From 0 (nothing else checks it) to 1; they sum to `degrees_of_freedom`.
    standardised_residuals : array, shape (m,)
        Residual over its own standard deviation; nan where nothing checks the observation.
    residual_cofactors : array, shape (m, m)
        Covariance of the residuals, weighted: symmetric, with the redundancy numbers in its
        diagonal.
    degrees_of_freedom : int
    variance_factor : float
        Weighted squares of the residuals over the degrees of freedom; nan without redundancy.
    problems : tuple of Problem
    """

    observations: tuple[Observation, ...]
    coordinates: Mapping[str, Point]
    positions: Mapping[str, Point]
    parameters: tuple[tuple[str, str], ...]
    cofactors: Array
    undetermined: frozenset[int]
    design: Array
    residuals: Array
    residual_cofactors: Array
    degrees_of_freedom: int
    variance_factor: float
    problems: tuple[Problem, ...]

    @cached_property
    def covariance(self) -> Array:
        """Covariance of the parameters, shape (n, n); infinite where one is undetermined."""
        covariance = self.cofactors.copy()
        rows = sorted(self.undetermined)
        covariance[rows, rows] = math.inf
        return covariance

    @cached_property
    def redundancy_numbers(self) -> Array:
        """Part of each observation's error that shows in its own residual, shape (m,)."""
        return np.clip(np.diag(self.residual_cofactors), 0.0, 1.0)

    @cached_property
    def standardised_residuals(self) -> Array:
        """Residuals over their own standard deviations (Baarda's w), shape (m,)."""
        sigmas = np.array([one.sigma for one in self.observations])
        checked = self.redundancy_numbers > RANK_TOLERANCE**0.5
        scale = np.sqrt(np.where(checked, self.redundancy_numbers, np.nan)) * sigmas
        standardised: Array = self.residuals / scale
        return standardised

    @property
    def global_test(self) -> float:
        """Probability of residuals at least this large if every uncertainty is as stated."""
        if self.degrees_of_freedom == 0:
            return math.nan
        squares = self.variance_factor * self.degrees_of_freedom
        return float(special.chdtrc(self.degrees_of_freedom, squares))


def adjust(
    observations: Iterable[Observation | Mapping[str, Any]],
    fixed: Mapping[str, Sequence[float | None]] | None = None,
    approximate: Mapping[str, Sequence[float]] | None = None,
) -> Adjustment:
    """Adjust a network by weighted least squares.

    Parameters
    ----------
    observations : iterable of Observation
        Or mappings with the same keys.
    fixed : mapping of str to (x, y), optional
        Points held; None for an axis leaves that axis free. Without any, the datum is free and
        inner constraints hold the network to its start values.
    approximate : mapping of str to (x, y), optional
        Start values. Where every point is a landmark of the dog they may be left out: the
        template dog, scaled to the distances and heights, gives them. Other points seen by
        distances, angles or directions need them.

    Raises
    ------
    GeometryError
        If an observation is not usable, a start value is missing or iteration does not settle.
    """
    listed = tuple(_observation(one) for one in observations)
    if not listed:
        raise GeometryError("nothing to adjust", "at least one observation")
    start = approximate or _template_start(listed)
    network = Network.build(listed, fixed or {}, start)
    _check_apart(listed, start)
    return _solve(network)


def _template_start(observations: tuple[Observation, ...]) -> Mapping[str, Point]:
    """Place landmarks of the dog as the template has them, at the size the observations show."""
    neutral = template().points
    if not all(name in neutral for one in observations for name in one.points):
        return {}
    sizes = [
        one.value / float(sighting(one.kind).value(*_at(one, neutral)))
        for one in observations
        if one.kind in {"distance", "height"}
    ]
    size = float(np.median(sizes)) if sizes else 1.0
    return {name: (x * size, y * size) for name, (x, y) in neutral.items()}


def _at(one: Observation, places: Mapping[str, Point]) -> list[float]:
    return [coordinate for name in one.points for coordinate in places[name]]


def _check_apart(
    observations: tuple[Observation, ...], start: Mapping[str, Sequence[float]]
) -> None:
    """Raise GeometryError where two points seen together start in one place."""
    for one in observations:
        if one.kind in STRAIGHT:
            places = [tuple(start[name]) for name in one.points if name in start]
            if len(set(places)) < len(places):
                raise GeometryError(
                    f"{' and '.join(one.points)} start in the same place",
                    "start values apart",
                    do="give better ones in `approximate`",
                )


def _observation(given: Observation | Mapping[str, Any]) -> Observation:
    if isinstance(given, Observation):
        return given
    try:
        points = given["points"]
        return Observation(
            **{**given, "points": points if isinstance(points, str) else tuple(points)}
        )
    except (KeyError, TypeError) as fault:
        raise GeometryError(
            "an observation is not usable", "kind, points, value, sigma", repr(given)
        ) from fault


def _solve(network: Network) -> Adjustment:
    sigmas = np.array([one.sigma for one in network.observations])
    at = network.start.copy()
    values, design = network.evaluate(at)
    squares = float(np.sum((network.misclosure(values) / sigmas) ** 2))
    for _ in range(MOST_ITERATIONS):
        weighted = design[:, network.unknown] / sigmas[:, None]
        gap = network.misclosure(values) / sigmas
        step = shortest(weighted, gap)
        before = squares
        at, values, design, squares = _advance(network, at, step, sigmas, squares)
        small = float(np.max(np.abs(weighted @ step), initial=0.0)) < CONVERGED
        # Readings that cannot quite close a triangle lay it flat, where steps shrink but slowly.
        if small or before - squares <= FLAT * (1.0 + before):
            return _results(network, at, values, design, sigmas)
    return _damped(network, at, sigmas)


def _damped(network: Network, at: Array, sigmas: Array) -> Adjustment:
    """Settle a stubborn network, as of readings that lay a triangle flat, by damped steps."""

    def placed(unknowns: Array) -> Array:
        full = at.copy()
        full[network.unknown] = unknowns
        return full

    def misfit(unknowns: Array) -> Array:
        return network.misclosure(network.evaluate(placed(unknowns))[0]) / sigmas

    def slopes(unknowns: Array) -> Array:
        design = network.evaluate(placed(unknowns))[1]
        weighted: Array = -design[:, network.unknown] / sigmas[:, None]
        return weighted

    from scipy.optimize import least_squares  # slow to load, and seldom needed

    found = least_squares(misfit, at[network.unknown], slopes, method="trf", x_scale="jac")
    if not found.success:
        raise GeometryError(
            "the adjustment does not settle", do="check the readings and the start values"
        )
    settled = placed(found.x)
    return _results(network, settled, *network.evaluate(settled), sigmas)


def _advance(
    network: Network, at: Array, step: Array, sigmas: Array, squares: float
) -> tuple[Array, Array, Array, float]:
    """Take the step, halved until the fit does not get worse."""
    for halving in range(12):
        trial = at.copy()
        trial[network.unknown] += step * 0.5**halving
        values, design = network.evaluate(trial)
        found = float(np.sum((network.misclosure(values) / sigmas) ** 2))
        if found <= squares * (1 + 1e-12) + 1e-12:
            return trial, values, design, found
    return at, *network.evaluate(at), squares


def _results(
    network: Network, at: Array, values: Array, design: Array, sigmas: Array
) -> Adjustment:
    weighted = design[:, network.unknown] / sigmas[:, None]
    left, singular, right = np.linalg.svd(weighted, full_matrices=True)
    keep = singular > RANK_TOLERANCE * max(1.0, float(singular.max(initial=0.0)))
    rank = int(np.sum(keep))
    inverse = np.zeros((len(at), rank))
    inverse[network.unknown] = right[:rank].T / singular[:rank]
    design[:, sorted(network.held)] = 0.0
    hat = left[:, :rank] @ left[:, :rank].T
    gap = network.misclosure(values)
    freedom = len(network.observations) - rank
    squares = float(np.sum((gap / sigmas) ** 2))
    loose = _loose(network, right[rank:], at)
    return Adjustment(
        network.observations,
        _coordinates(network, at, loose),
        _coordinates(network, at, set()),
        tuple(network.label(slot) for slot in range(len(at))),
        inverse @ inverse.T,
        frozenset(loose),
        design,
        -gap,
        np.eye(len(gap)) - hat,
        freedom,
        squares / freedom if freedom else math.nan,
        (*_problems(network, loose), *_misfit(network, freedom, squares)),
    )


def _loose(network: Network, null: Array, at: Array) -> set[int]:
    """Return the parameters the observations do not determine, apart from a free datum."""
    if len(null) == 0:
        return set()
    datum = _datum(network, at)
    inside = datum[:, np.linalg.norm(null @ datum, axis=0) > 1 - 1e-6] if datum.size else datum
    if inside.size:
        null = null - (null @ inside) @ np.linalg.pinv(inside)
    extent = np.linalg.norm(null, axis=0)
    return {int(slot) for slot, size in zip(network.unknown, extent, strict=True) if size > 1e-6}


def _datum(network: Network, at: Array) -> Array:
    """Return unit vectors of moving all points together: along x, along y, turning."""
    if network.held:
        return np.empty((len(network.unknown), 0))
    size = 2 * len(network.names)
    moves = np.zeros((len(at), 3))
    moves[0:size:2, 0] = 1.0
    moves[1:size:2, 1] = 1.0
    moves[0:size:2, 2] = -at[1:size:2]
    moves[1:size:2, 2] = at[0:size:2]
    moves[size:, 2] = 1.0
    basis, _ = np.linalg.qr(moves)
    return basis[network.unknown]


def _coordinates(network: Network, at: Array, loose: set[int]) -> dict[str, Point]:
    shown = at.copy()
    shown[list(loose)] = math.nan
    return {
        name: (float(shown[2 * number]), float(shown[2 * number + 1]))
        for number, name in enumerate(network.names)
    }


def _misfit(network: Network, freedom: int, squares: float) -> Iterable[Problem]:
    """Say where the observations cannot all be true, as of a triangle that does not close."""
    limit = float(special.chdtri(freedom, MISFIT)) if freedom else -math.log(MISFIT)
    if squares > limit:
        about = tuple(one.key or one.kind for one in network.observations)
        yield Problem("the observations do not fit together within their uncertainties", about)


def _problems(network: Network, loose: set[int]) -> Iterable[Problem]:
    for name in network.names:
        axes = [axis for slot, axis in (
            (2 * network.names.index(name), "x"), (2 * network.names.index(name) + 1, "y")
        ) if slot in loose]  # fmt: skip
        if axes:
            yield Problem(f"{name} is not determined in {' and '.join(axes)}", (name,))
