"""The dog a standard describes: readings that meet its clauses, neutral in all it does not say.

One weighted least squares over the points of the median plane and the breadths. Every clause pulls
through the trait's own SymPy declaration; the ties of the neutral template hold what is left, far
more loosely. Clauses that contradict each other end in the compromise of least squares.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, isfinite, log
from types import MappingProxyType

import numpy as np
import sympy
from numpy.typing import NDArray
from scipy.optimize import least_squares

from kit.estimation.propagation import Model, compile_model
from kit.figure.breadths import breadths_of, neutral_breadths
from kit.figure.model import Figure
from kit.figure.observations import observations, reading_at
from kit.figure.placement import HEADWISE, place
from kit.figure.template import Observation, Point, template
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import GeometryError
from kit.quantities.kinds import Kind
from kit.standards.standard import Clause, Standard
from kit.traits.declarations import traits
from kit.traits.inputs import DEGREES, scale_of
from kit.traits.trait import RIGHT_ANGLE, Trait

# How closely a clause is met: standard deviations it is weighted with, far below any reading's.
ANGLE_SPREAD = 0.05  # degrees
RATIO_SPREAD = 0.0005
# How freely what the standard does not say gives way: breadths by part, turn-outs in degrees.
BREADTH_PLAY = 0.08
TURNOUT_PLAY = 3.0
OWN_HEIGHT = 45.0  # cm; for a standard that names none
FIRM = 1e-4  # the height and the floor, in parts of the dog's height
# The first pass finds how long and how low the dog is, the others dress it to suit and add the open
# clauses the neutral dog would break.
PASSES = 3
NOT_DRAWN = {
    "height_at_withers": "the picture is drawn at the height it is asked for",
    "weight": "a picture has no weight; it only makes the dog broader or finer",
}

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Demand:
    """A trait in measurements alone, with where it should lie, in the unit of its kind."""

    trait: Trait
    model: Model
    scale: float
    low: float
    high: float

    @property
    def spread(self) -> float:
        return ANGLE_SPREAD if self.trait.kind is Kind.ANGLE else RATIO_SPREAD

    def missed(self, value: float) -> float:
        """Return how far a value lies outside, zero within."""
        return value - min(max(value, self.low), self.high)

    def bound(self, value: float) -> _Demand:
        """Close an open demand at the limit the value breaks."""
        limit = self.low if value < self.low else self.high
        return replace(self, low=limit, high=limit)


def not_drawn(standard: Standard) -> Mapping[int, str]:
    """Return the clauses no picture can meet, by number, each with the reason."""
    return MappingProxyType(
        {c.number: NOT_DRAWN[c.trait] for c in standard.clauses if c.trait in NOT_DRAWN}
    )


def drawn_clauses(standard: Standard, sex: str = "") -> tuple[Clause, ...]:
    """Return the clauses a target meets; without a sex those of both sexes are weighed together."""
    return tuple(
        clause
        for clause in standard.clauses
        if clause.trait not in NOT_DRAWN and (not sex or clause.sex in ("both", sex))
    )


def aim(clause: Clause) -> tuple[float, float]:
    """Return the span a target may lie in: a point for a closed clause, half a line for an open."""
    if clause.target is not None:
        return clause.target, clause.target
    if clause.low is not None and clause.high is not None:
        middle = (clause.low + clause.high) / 2
        return middle, middle
    low = -np.inf if clause.low is None else clause.low
    return low, np.inf if clause.high is None else clause.high


def target_values(standard: Standard, height: float, sex: str = "") -> Mapping[str, float]:
    """Return the readings of a dog that meets the standard.

    Parameters
    ----------
    standard : Standard
    height : float
        At the withers, in cm.
    sex : str
        ``dog`` or ``bitch``; empty for clauses of both sexes weighed together.

    Returns
    -------
    Mapping of str to float
        Measurement key to cm, or degrees for pastern slopes and turn-outs. Angles a trait is
        derived from lengths for are left out, so that nothing is said twice.

    Raises
    ------
    GeometryError
        If the height is not a positive number.
    """
    figure = target_figure(standard, height, sex)
    return MappingProxyType({**figure.readings, **breadths_of(figure).values})


def target_figure(standard: Standard, height: float, sex: str = "") -> Figure:
    """Return the placed points of a dog that meets the standard; arguments as above.

    Its measured points, and the breadths among its readings, are those the clauses speak of. A
    weight clause gives substance, scaled from the standard's own height with its cube.
    """
    if not isfinite(height) or height <= 0:
        raise GeometryError("no target can be drawn", "a height above zero in cm", f"{height}")
    demands = [_demand(clause) for clause in drawn_clauses(standard, sex)]
    said = frozenset(name for demand in demands for name in demand.model.names)
    figure, weight = place({"height_at_withers": height}), _weight(standard, height, sex)
    bound = [demand for demand in demands if demand.low == demand.high]
    open_ones = [demand for demand in demands if demand.low < demand.high]
    for _ in range(PASSES):
        problem = _Problem.around(_dressed(figure, said, weight), bound, height)
        unknowns = problem.solved()
        figure = problem.figure(unknowns, said, weight)
        values = [problem.value(demand, unknowns) for demand in open_ones]
        bound += [one.bound(v) for one, v in zip(open_ones, values, strict=True) if one.missed(v)]
        open_ones = [one for one, v in zip(open_ones, values, strict=True) if not one.missed(v)]
    return figure


def own_height(standard: Standard, sex: str = "", otherwise: float = OWN_HEIGHT) -> float:
    """Return the height a standard aims at, in cm; `otherwise` where it names none."""
    aims = _middles(standard, "height_at_withers", sex)
    return sum(aims) / len(aims) if aims else otherwise


def _middles(standard: Standard, key: str, sex: str) -> list[float]:
    """Return what the clauses about one trait aim at; an open one aims at its limit."""
    spans = [
        aim(clause)
        for clause in standard.clauses
        if clause.trait == key and (not sex or clause.sex in ("both", sex))
    ]
    return [sum(ends) / len(ends) for span in spans if (ends := [e for e in span if isfinite(e)])]


def _weight(standard: Standard, height: float, sex: str) -> dict[str, float]:
    """Return the weight the standard gives a dog of this height, in kg, where it can be said."""
    weights, tall = _middles(standard, "weight", sex), own_height(standard, sex, 0.0)
    if not weights or not tall:
        return {}
    return {"weight": sum(weights) / len(weights) * (height / tall) ** 3}


def _dressed(figure: Figure, said: frozenset[str], weight: Mapping[str, float]) -> Figure:
    """Return the neutral dog of this length, leg and, where the standard names it, head."""
    keys = ["height_at_withers", "body_length_from_prosternum", "height_at_brisket"]
    keys += [key for key in HEADWISE if key in said]
    read = {key: reading_at(observations()[key], figure.points) for key in keys}
    return place({**read, **weight})


def _demand(clause: Clause) -> _Demand:
    declared = traits()[clause.trait]
    scale = DEGREES if declared.kind is Kind.ANGLE else 1.0
    low, high = aim(clause)
    return _Demand(declared, compile_model(_in_measurements(declared)), scale, low, high)


def _in_measurements(declared: Trait) -> sympy.Expr:
    """Write a declaration in measurements alone; what is assumed of every dog becomes its value."""
    expression = declared.expression.subs(RIGHT_ANGLE, sympy.pi / 2)
    for symbol in declared.expression.free_symbols - {RIGHT_ANGLE}:
        name = symbol.name
        if name in catalogue().assumptions:
            value = catalogue().assumptions[name].value / scale_of(name)
            expression = expression.subs(symbol, value)
        elif name in traits() and name != declared.key:
            expression = expression.subs(symbol, _in_measurements(traits()[name]))
    return expression


@dataclass(frozen=True)
class _Problem:
    """Unknowns: x and y of every point in cm, then the breadths (logs) and turn-outs (degrees).

    Attributes
    ----------
    matrix, right : arrays of shape (m, n) and (m,)
        The weighted linear rows that hold the neutral dog.
    start : array of shape (n,)
    """

    names: tuple[str, ...]
    extras: tuple[str, ...]
    size: float
    matrix: Array
    right: Array
    start: Array
    demands: list[_Demand]

    @classmethod
    def around(cls, neutral: Figure, demands: list[_Demand], height: float) -> _Problem:
        names = tuple(neutral.points)
        girt = breadths_of(neutral)
        extras = tuple(girt.values)
        start = np.array(
            [value for name in names for value in neutral[name]]
            + [_unknown(key, girt[key]) for key in extras]
        )
        matrix = _prior(names, extras, height, neutral.size)
        right = matrix @ start
        right[0] = height / (FIRM * height)
        return cls(names, extras, neutral.size, matrix, right, start, demands)

    def solved(self) -> Array:
        found = least_squares(self.residuals, self.start, self.jacobian, method="lm", max_nfev=60,
                              ftol=1e-7, xtol=1e-6)  # fmt: skip
        return np.asarray(found.x, np.float64)

    def figure(self, unknowns: Array, said: frozenset[str], weight: Mapping[str, float]) -> Figure:
        points = self.points(unknowns)
        values = {
            key: reading_at(seen, points)
            for key, seen in observations().items()
            if key not in traits() or key in _AS_READ
        }
        values.update({key: self.breadth(unknowns, key)[0] for key in self.extras if key in said})
        values.update(weight)
        touched = frozenset(
            name for key in said if key in observations() for name in observations()[key].points
        )
        return Figure(
            MappingProxyType(points),
            touched,
            points["withers"][1],
            self.size,
            MappingProxyType(values),
        )

    def points(self, unknowns: Array) -> dict[str, Point]:
        at = unknowns[: 2 * len(self.names)].reshape(-1, 2)
        return {name: (float(x), float(y)) for name, (x, y) in zip(self.names, at, strict=True)}

    def breadth(self, unknowns: Array, key: str) -> tuple[float, float]:
        """Return a breadth or turn-out and its derivative by its unknown."""
        value = float(unknowns[self._column(key)])
        return (value, 1.0) if key in neutral_breadths().turnouts else (exp(value), exp(value))

    def _column(self, key: str) -> int:
        return 2 * len(self.names) + self.extras.index(key)

    def residuals(self, unknowns: Array) -> Array:
        pulls = [self._pull(demand, unknowns)[0] for demand in self.demands]
        return np.concatenate([self.matrix @ unknowns - self.right, pulls])

    def jacobian(self, unknowns: Array) -> Array:
        rows = [self._pull(demand, unknowns)[1] for demand in self.demands]
        return np.vstack([self.matrix, *rows])

    def value(self, demand: _Demand, unknowns: Array) -> float:
        """Return a trait in the unit of its kind."""
        points = self.points(unknowns)
        inputs = [self._seen(name, points, unknowns)[0] for name in demand.model.names]
        return demand.model.value(inputs) * demand.scale

    def _pull(self, demand: _Demand, unknowns: Array) -> tuple[float, Array]:
        """Return how far a trait lies from its target, weighted, and the slopes of that."""
        points, slopes = self.points(unknowns), np.zeros(len(unknowns))
        seen = [self._seen(name, points, unknowns) for name in demand.model.names]
        inputs = [value for value, _ in seen]
        value, steps = demand.model.point(inputs)
        for step, (_, parts) in zip(steps, seen, strict=True):
            for column, part in parts.items():
                slopes[column] += step * part * demand.scale / demand.spread
        return demand.missed(value * demand.scale) / demand.spread, slopes

    def _seen(
        self, name: str, points: Mapping[str, Point], unknowns: Array
    ) -> tuple[float, dict[int, float]]:
        """Return a measurement as an expression takes it, and its slopes by column."""
        if name in observations():
            seen = observations()[name]
            slopes = _slopes(seen, points)
            columns = {
                2 * self.names.index(point) + axis: slope / scale_of(name)
                for point, by_axis in slopes.items()
                for axis, slope in enumerate(by_axis)
            }
            return reading_at(seen, points) / scale_of(name), columns
        value, slope = self.breadth(unknowns, name)
        return value / scale_of(name), {self._column(name): slope / scale_of(name)}


# Angles an instrument reads and no length gives: part of a target's readings.
_AS_READ = frozenset(key for key, one in traits().items() if one.source == "as read")


def _unknown(key: str, value: float) -> float:
    return value if key in neutral_breadths().turnouts else log(value)


def _prior(names: tuple[str, ...], extras: tuple[str, ...], height: float, size: float) -> Array:
    """Return the rows that hold the neutral dog: height, elbow, floor, ties, breadths."""
    index = {name: 2 * number for number, name in enumerate(names)}
    neutral, width = template(), 2 * len(names) + len(extras)
    rows = [(index["withers"] + 1, 1 / (FIRM * height)), (index["elbow"], 1 / (FIRM * height))]
    rows += [(index[name] + 1, 1 / (FIRM * height)) for name in neutral.floor]
    for number, key in enumerate(extras):
        play = TURNOUT_PLAY if key in neutral_breadths().turnouts else BREADTH_PLAY
        rows.append((2 * len(names) + number, 1 / play))
    matrix = np.zeros((len(rows) + 2 * len(neutral.ties), width))
    for row, (column, weight) in enumerate(rows):
        matrix[row, column] = weight
    for number, tie in enumerate(neutral.ties):
        for axis, play in enumerate((tie.play_x, tie.play_y)):
            row = len(rows) + 2 * number + axis
            matrix[row, index[tie.end] + axis] = 1 / (play * size)
            matrix[row, index[tie.start] + axis] = -1 / (play * size)
    return matrix


def _slopes(seen: Observation, points: Mapping[str, Point]) -> dict[str, Point]:
    """Return the derivative of a reading by each of its points, per cm (degrees for slopes)."""
    if seen.kind == "vertical":
        return {seen.points[0]: (0.0, 1.0)}
    if seen.kind == "horizontal":
        return {seen.points[0]: (1.0, 0.0), seen.points[1]: (-1.0, 0.0)}
    (x1, y1), (x2, y2) = (points[name] for name in seen.points[:2])
    dx, dy = x2 - x1, y2 - y1
    square = max(dx * dx + dy * dy, 1e-12)
    if seen.kind in ("straight", "skin"):
        along = (dx / square**0.5, dy / square**0.5)
        return {seen.points[0]: (-along[0], -along[1]), seen.points[1]: along}
    if seen.kind != "from_vertical":
        raise GeometryError(f"no clause is drawn through a reading of kind '{seen.kind}'")
    # atan2(forward, fall): x2 - x1 over y1 - y2.
    turn = (-dy / square * DEGREES, dx / square * DEGREES)
    return {seen.points[0]: (-turn[0], -turn[1]), seen.points[1]: turn}
