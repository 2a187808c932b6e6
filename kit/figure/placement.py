"""Put the landmarks where the readings say, and the rest where a neutral dog has them.

Weighted least squares: one residual per reading and one per template tie and axis. The ties hold
whole vectors, not lengths, so a bone never flips to its mirror image.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from math import isfinite, sqrt
from statistics import median
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import leastsq

from kit.figure.algebra import one_thread
from kit.figure.model import Figure
from kit.figure.observations import observations, reading_at
from kit.figure.reason import beyond_reason
from kit.figure.residuals import Residuals, Sight, Under
from kit.figure.template import Point, Tie, template
from kit.quantities.errors import GeometryError

DEFAULT_HEIGHT = 50.0  # cm; a medium dog, used when not one length was read
LENGTHWISE = (
    "body_length_from_prosternum",
    "body_length_from_point_of_shoulder",
    "back_length",
    "withers_to_point_of_hip",
    "blade_top_to_point_of_hip",
    "elbow_to_point_of_buttock",
)
HEADWISE = ("head_length", "muzzle_length")
ELBOWS = ("height_at_elbow", "height_at_point_of_elbow")
LEG_SHARES = {"trunk": 1.0, "limb": 1.0, "hind": 0.45}  # how far a short leg bears on each group
FOOT = 0.128  # length of the template's foot, in parts of its height
# Standard deviations the readings are weighted with: lengths in parts of the dog's size. They are
# small beside the play of the ties, so readings win; they say nothing about real uncertainty.
SPREADS = {"vertical": 0.003, "straight": 0.003, "horizontal": 0.003, "skin": 0.02}
ANGLE_SPREAD = 1.5  # degrees
FLOOR_SPREAD = 0.001
NEAR = 0.03  # of the size: a figure that differs by more is no start for another
TOLERANCE = 1e-8  # of the squared residuals, the points and the gradient, relative
# The search for a reading that would tear the dog apart: how much wider the readings' deviations
# are taken (about a centimetre on a medium dog), and how many deviations are too far. Plausible
# dogs from long and low to leggy stay below 3; ends and head can be of any length and tear nothing.
SLACK, FARTHEST = 8.0, 5.5
HARMLESS = {"height_at_withers", "tail_length", "neck_length", "head_length", "muzzle_length"}

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scales:
    """How this dog differs from the template as a whole.

    Attributes
    ----------
    upright, lengthwise, head, foot : float
        Centimetres per template unit.
    leg : float
        Height of brisket and elbow in parts of the template's, for the same height at withers.
    """

    upright: float
    lengthwise: float
    head: float
    foot: float
    leg: float

    @property
    def size(self) -> float:
        """Scale of parts that belong to neither axis: the geometric mean."""
        return sqrt(self.upright * self.lengthwise)

    def height_of(self, neutral: float, group: str) -> float:
        """Return where a height of the template lies on a dog of this leg, in template units.

        Legs give way more the nearer they are to the elbow, the hind leg less than the fore; the
        trunk fills what is left.
        """
        turn = template().points["brisket"][1]
        leg = 1 - (1 - self.leg) * LEG_SHARES.get(group, 0.0)
        if neutral < turn:
            return neutral * (1 - (1 - leg) * neutral / turn)
        return 1 - (1 - neutral) * (1 - leg * turn) / (1 - turn)

    def of(self, group: str) -> tuple[float, float]:
        """Return the scales in x and y of one group of ties."""
        return {
            "trunk": (self.lengthwise, self.upright),
            "limb": (self.size, self.upright),
            "hind": (self.size, self.upright),
            "even": (self.head, self.head),
            "foot": (self.foot, self.foot),
        }[group]


def usable(values: Mapping[str, float]) -> dict[str, float]:
    """Keep the readings that place points.

    Raises
    ------
    GeometryError
        For a reading that is not finite, or a length that is not positive.
    """
    kept = {key: float(values[key]) for key in observations() if key in values}
    for key, value in kept.items():
        length = observations()[key].kind in ("vertical", "straight", "skin")
        if not isfinite(value) or (length and value <= 0):
            raise GeometryError(
                f"'{key}' cannot be drawn",
                "a positive length" if length else "a number",
                f"{value}",
            )
    return kept


def _ratios(readings: Mapping[str, float], kinds: Iterable[str]) -> dict[str, float]:
    neutral = template().points
    return {
        key: value / reading_at(observations()[key], neutral)
        for key, value in readings.items()
        if observations()[key].kind in kinds
    }


def _typical(ratios: Mapping[str, float], keys: Iterable[str], otherwise: float) -> float:
    found = [ratios[key] for key in keys if key in ratios]
    return median(found) if found else otherwise


def scales(values: Mapping[str, float]) -> Scales:
    """Work out how large this dog is, and how long for its height, in cm per template unit."""
    readings = usable(values)
    upright, lengths = _ratios(readings, ["vertical"]), _ratios(readings, ["straight", "skin"])
    tall = _typical(upright, upright, _typical(lengths, lengths, DEFAULT_HEIGHT))
    tall = upright.get("height_at_withers", tall)
    long = _typical(lengths, LENGTHWISE, tall)
    size = sqrt(tall * long)
    foot = values.get("foot_length", FOOT * size) / FOOT
    leg = _typical(upright, ("height_at_brisket",), _typical(upright, ELBOWS, tall)) / tall
    return Scales(tall, long, _typical(lengths, HEADWISE, size), foot, min(max(leg, 0.6), 1.3))


def place(values: Mapping[str, float], near: Figure | None = None) -> Figure:
    """Place every point of one dog.

    A reading no dog could have, or one far from what all the others and the template leave room
    for, is set aside, so that no reading tears the dog apart.

    Parameters
    ----------
    values : Mapping of str to float
        Measurement key to reading: cm, or degrees for angles. Any subset, even none; keys that
        place no point are passed through.
    near : Figure, optional
        The same dog before its last reading, to start from.

    Returns
    -------
    Figure

    Raises
    ------
    GeometryError
        For a reading that is not finite, or a length that is not positive.
    """
    usable(values)
    aside = list(beyond_reason(values))
    while True:
        kept = {key: one for key, one in values.items() if key not in aside}
        readings, scale = usable(kept), scales(kept)
        with one_thread():
            at, odd = _settled(readings, scale, _start(near, scale))
        if not odd:
            break
        aside.append(odd)
    names, places = template().points, at.reshape(-1, 2)
    points = {name: (float(x), float(y)) for name, (x, y) in zip(names, places, strict=True)}
    return Figure(
        MappingProxyType(points),
        _measured(readings),
        points["withers"][1],
        scale.size,
        MappingProxyType(kept),
        tuple(aside),
    )


def roughly(values: Mapping[str, float]) -> dict[str, Point]:
    """Place every point near enough to start an adjustment from: the right way round, not exact.

    Arguments and errors are those of `place`.
    """
    readings, scale = usable(values), scales(values)
    problem = _problem(readings, scale, SLACK)
    start = problem.linear_start()
    near = _settle(problem, start, 5)
    names, places = template().points, near.reshape(-1, 2)
    return {name: (float(x), float(y)) for name, (x, y) in zip(names, places, strict=True)}


def _problem(readings: Mapping[str, float], scale: Scales, slack: float) -> Residuals:
    names = tuple(template().points)
    return Residuals.build(
        names,
        _sights(readings, scale, names, slack),
        *_linear(scale, names),
        scale.size,
        _unders(readings, scale, names),
    )


def _solved(problem: Residuals, start: Array | None) -> Array:
    return _settle(problem, problem.linear_start() if start is None else start, 60)


def _start(near: Figure | None, scale: Scales) -> Array | None:
    """Return the points of a figure near enough to start from, shape (2n,)."""
    if near is None or abs(scale.size / near.size - 1.0) > NEAR:
        return None
    return np.array(list(near.points.values())).ravel()


def _settle(problem: Residuals, start: Array, evaluations: int) -> Array:
    """Return the points of least squared residuals, shape (2n,), or how far it came by then."""
    # The plain call to MINPACK: its newer dress costs as much as the work on a problem this small.
    found: Array = leastsq(
        problem.values, start, Dfun=problem.jacobian, full_output=True,
        ftol=TOLERANCE, xtol=TOLERANCE, gtol=TOLERANCE, maxfev=evaluations,
        diag=np.ones_like(start),
    )[0]  # fmt: skip
    return found


def _settled(
    readings: Mapping[str, float], scale: Scales, start: Array | None
) -> tuple[Array, str]:
    """Return the solved points, shape (2n,), and the reading that tears them apart, or nothing.

    Readings trusted fully show misfits larger than they are: only where one seems far is it asked
    again with every reading trusted no more than a tape deserves.
    """
    problem = _problem(readings, scale, 1.0)
    at = _solved(problem, start)
    if not _farthest(readings, problem, at):
        return at, ""
    slack = _problem(readings, scale, SLACK)
    return at, _farthest(readings, slack, _solved(slack, start))


def _farthest(readings: Mapping[str, float], problem: Residuals, at: Array) -> str:
    """Name the reading too far from what the others and the ties expect; empty where none is.

    Each is held against the dog without it: its residual over the part of it that is its own.
    """
    if not readings:
        return ""
    basis = np.linalg.qr(problem.jacobian(at))[0]
    own = np.sqrt(np.maximum(1 - (basis**2).sum(axis=1), 1e-9))
    misfits = np.abs(problem.values(at) / own)[list(problem.rows)]
    far = {
        key: misfit
        for key, misfit in zip(readings, misfits, strict=True)
        if misfit > FARTHEST and key not in HARMLESS
    }
    return max(far, key=lambda key: far[key], default="")


def _sights(
    readings: Mapping[str, float], scale: Scales, names: tuple[str, ...], slack: float = 1.0
) -> list[Sight]:
    index = {name: number for number, name in enumerate(names)}
    neutral = template().points
    found = []
    for key, value in readings.items():
        seen = observations()[key]
        spread = slack * (SPREADS.get(seen.kind, 0.0) * scale.size or np.radians(ANGLE_SPREAD))
        points = tuple(index[name] for name in seen.points)
        along = [neutral[name] for name in seen.points]
        found.append(Sight.build(seen.kind, points, value, float(spread), along))
    return found


def _unders(
    readings: Mapping[str, float], scale: Scales, names: tuple[str, ...]
) -> tuple[Under, ...]:
    read = {observations()[key].points[0] for key in readings if key.startswith("height_at_")}
    return tuple(
        Under(
            (names.index(one.upper), names.index(one.lower)),
            one.fall * scale.size,
            one.play * scale.size,
        )
        for one in template().ceilings
        if one.lower not in read
    )


@dataclass(frozen=True)
class _Ties:
    """The template's ties as arrays.

    Attributes
    ----------
    steps : array of shape (2t, 2n)
        One row for each tie and axis: from one end to the other, not weighted.
    plays : array of shape (2t,)
        In parts of the dog's size.
    """

    steps: Array
    plays: Array

    @classmethod
    def of(cls, ties: tuple[Tie, ...], names: tuple[str, ...]) -> _Ties:
        """Gather ties between named points."""
        steps = np.zeros((2 * len(ties), 2 * len(names)))
        for row, tie in enumerate(ties):
            for axis in range(2):
                steps[2 * row + axis, 2 * names.index(tie.end) + axis] = 1.0
                steps[2 * row + axis, 2 * names.index(tie.start) + axis] = -1.0
        return cls(steps, np.array([(tie.play_x, tie.play_y) for tie in ties]).ravel())


@cache
def _ties() -> _Ties:
    return _Ties.of(template().ties, tuple(template().points))


def _linear(scale: Scales, names: tuple[str, ...]) -> tuple[Array, Array]:
    """Return the ties as rows of a linear system: matrix (m, 2n) and right side (m,), weighted."""
    neutral, ties = template(), _ties()
    floor, count = neutral.floor, len(ties.plays)
    matrix = np.zeros((count + len(floor) + 2, 2 * len(names)))
    right = np.zeros(len(matrix))
    index = {name: 2 * number for number, name in enumerate(names)}
    weights = 1 / (ties.plays * scale.size)
    matrix[:count] = ties.steps * weights[:, None]
    right[:count] = np.array([_gap(tie, scale) for tie in neutral.ties]).ravel() * weights
    for row, name in enumerate(floor, start=count):
        matrix[row, index[name] + 1] = 1 / (FLOOR_SPREAD * scale.size)
        right[row] = neutral.points[name][1] * scale.foot / (FLOOR_SPREAD * scale.size)
    _anchor(matrix, right, scale, index)
    return matrix, right


def _gap(tie: Tie, scale: Scales) -> Point:
    """Return the step from one end of a tie to the other on a dog of these scales, in cm."""
    (x1, y1), (x2, y2) = template().points[tie.start], template().points[tie.end]
    across, up = scale.of(tie.group)
    y1, y2 = scale.height_of(y1, tie.group), scale.height_of(y2, tie.group)
    return (x2 - x1) * across, (y2 - y1) * up


def _anchor(matrix: Array, right: Array, scale: Scales, index: Mapping[str, int]) -> None:
    """Hold the elbow in x (the origin is free) and the withers loosely at their height."""
    elbow = template().points["elbow"][0] * scale.lengthwise
    for row, column, place_at, spread in (
        (-2, index["elbow"], elbow, 0.01),
        (-1, index["withers"] + 1, scale.upright, 0.03),
    ):
        matrix[row, column] = 1 / (spread * scale.size)
        right[row] = place_at / (spread * scale.size)


def _measured(readings: Mapping[str, float]) -> frozenset[str]:
    neutral = template()
    touched = Counter(name for key in readings for name in observations()[key].points)
    placed = {name for name, times in touched.items() if times > 1 or name in neutral.one_is_enough}
    standing = {foot for foot, joint in neutral.stands_under.items() if joint in placed}
    return frozenset(placed | standing)
