"""A dog changed in one trait alone: bones keep their lengths, joints turn, the feet stay down.

One weighted least squares over the points of the median plane. The trait is pulled to the value
asked for; bones and all traits that do not go with it are held; the ties of the template, far
looser, decide the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from kit.figure.model import Figure
from kit.figure.template import template
from kit.quantities.errors import GeometryError
from kit.quantities.formatting import with_unit
from kit.quantities.kinds import Kind
from kit.teaching.contrasts import Contrast, contrast
from kit.teaching.plane import NAMES, as_array, readings_at, readings_of, remeasured, traits_of
from kit.traits.declarations import trait

Array = NDArray[np.float64]

# Standard deviations the parts are weighted with; lengths in parts of the dog's size.
ASKED = {Kind.ANGLE: 0.02, Kind.RATIO: 0.0002}  # the trait that is asked for
HELD = {Kind.ANGLE: 0.5, Kind.RATIO: 0.003}  # every other trait
BONE_PLAY = 0.0005
FIRM = 0.0002  # the height and the feet on the floor
# How near a picture must come to what was asked, in the unit of the trait.
TOLERANCE = {Kind.ANGLE: 0.15, Kind.RATIO: 0.0015}
STEP = 1e-6  # of the difference quotient, in parts of the dog's size
PELVIS = ("point_of_hip", "hip_joint", "point_of_buttock")
# Points of one bone that no measurement joins; on a standing dog neither bone turns.
ONE_BONE = frozenset({("hock_joint", "point_of_hock"), ("elbow", "point_of_elbow")})
RIGID = 20.0  # how much more firmly these are tied than in the template
BONES = (
    "blade_length",
    "upper_arm_length",
    "forearm_length",
    "front_pastern_length",
    "head_length",
    "muzzle_length",
    "neck_length",
    "croup_length",
    "point_of_hip_to_hip_joint",
    "hip_joint_to_point_of_buttock",
    "thigh_length",
    "second_thigh_length",
    "tail_length",
)


def changed(figure: Figure, key: str, amount: float) -> Figure:
    """Return the same dog with one trait changed.

    Parameters
    ----------
    figure : Figure
        A standard's target or a measured dog.
    key : str
        A contrast or its trait, such as ``length`` or ``stifle_angle``.
    amount : float
        What is added to the trait: degrees for angles, else the plain ratio.

    Returns
    -------
    Figure
        Of the same height at the withers, standing on the same floor.

    Raises
    ------
    DataFileError
        If the kit draws no such contrast.
    GeometryError
        If no dog with these bones can be so; the message says how far it goes.
    """
    asked = contrast(key)
    if not np.isfinite(amount):
        raise GeometryError("the dog cannot be changed", "a number", f"{amount}")
    value = remeasured(figure)[asked.trait] + amount
    problem = _Problem.around(figure, asked, value)
    points = problem.solved()
    made = _figure(figure, points)
    _check(asked, value, remeasured(made)[asked.trait])
    return made


def series(figure: Figure, key: str, amounts: Sequence[float]) -> tuple[Figure, ...]:
    """Return the same dog changed by each amount, in their order."""
    return tuple(changed(figure, key, amount) for amount in amounts)


def strip_amounts(one: Contrast, count: int = 5) -> tuple[float, ...]:
    """Return amounts from clearly under to clearly over, evenly spaced, zero in the middle."""
    if count < 3 or count % 2 == 0:
        raise GeometryError("a strip cannot be laid out", "3, 5, 7 … dogs", f"{count}")
    return tuple(float(part) * one.step for part in np.linspace(-1.0, 1.0, count))


def _check(asked: Contrast, wanted: float, reached: float) -> None:
    if not abs(wanted - reached) <= TOLERANCE[asked.kind]:
        raise GeometryError(
            f"no dog with these bones can be drawn so in '{asked.title}'",
            with_unit(wanted, asked.kind),
            f"at most {with_unit(reached, asked.kind)}",
            "ask for a smaller change",
        )


def _figure(figure: Figure, points: Array) -> Figure:
    placed = {name: (float(x), float(y)) for name, (x, y) in zip(NAMES, points, strict=True)}
    moved = Figure(
        MappingProxyType(placed),
        figure.measured,
        placed["withers"][1],
        figure.size,
        figure.readings,
    )
    read = readings_at(moved)
    kept = {key: read.get(key, value) for key, value in figure.readings.items()}
    return Figure(moved.points, moved.measured, moved.height, moved.size, MappingProxyType(kept))


@dataclass(frozen=True)
class _Problem:
    """Unknowns: x and y of every point in cm, in the order of NAMES.

    Attributes
    ----------
    matrix, right : arrays of shape (m, 2n) and (m,)
        Weighted linear rows: height, feet, ties.
    start : array of shape (2n,)
    bones, traits : tuple of str
        What is pulled after the pelvis, the asked trait last.
    aims, weights : arrays of shape (k,)
    """

    size: float
    matrix: Array
    right: Array
    start: Array
    bones: tuple[str, ...]
    traits: tuple[str, ...]
    aims: Array
    weights: Array

    @classmethod
    def around(cls, figure: Figure, asked: Contrast, value: float) -> _Problem:
        points = as_array(figure)
        bones = tuple(key for key in BONES if key not in asked.gives)
        now, read = traits_of(points), readings_of(points)
        held = tuple(key for key in now if _is_held(key, asked))
        aims = [float(_pelvis(points)), *(float(read[key]) for key in bones)]
        aims += [float(now[key]) for key in held] + [value]
        weights = [1 / (BONE_PLAY * figure.size)] * (1 + len(bones))
        weights += [1 / HELD[trait(key).kind] for key in held] + [1 / ASKED[asked.kind]]
        matrix = _rows(figure.size)
        start = points.ravel()
        return cls(figure.size, matrix, matrix @ start, start, bones, (*held, asked.trait),
                   np.array(aims), np.array(weights))  # fmt: skip

    def solved(self) -> Array:
        """Return the points, shape (n, 2)."""
        found = least_squares(self.residuals, self.start, self.jacobian, method="lm",
                              max_nfev=80, ftol=1e-9, xtol=1e-9)  # fmt: skip
        return np.asarray(found.x, np.float64).reshape(-1, 2)

    def residuals(self, unknowns: Array) -> Array:
        pulls = (self._values(unknowns) - self.aims) * self.weights
        return np.concatenate([self.matrix @ unknowns - self.right, pulls])

    def jacobian(self, unknowns: Array) -> Array:
        """Return the slopes by difference quotients, all unknowns moved at once."""
        step = STEP * self.size
        moved = unknowns + step * np.eye(len(unknowns))
        slopes = (self._values(moved) - self._values(unknowns)[:, None]) / step
        return np.vstack([self.matrix, slopes * self.weights[:, None]])

    def _values(self, unknowns: Array) -> Array:
        """Return what is pulled, shape (k,) or (k, m) for unknowns (2n,) or (m, 2n)."""
        points = unknowns.reshape(*unknowns.shape[:-1], -1, 2)
        read, known = readings_of(points), traits_of(points)
        rows = [_pelvis(points), *(read[key] for key in self.bones)]
        rows += [known[key] for key in self.traits]
        return np.array([np.broadcast_to(row, unknowns.shape[:-1]) for row in rows])


def _pelvis(points: Array) -> Array:
    """Return how far the hip joint lies below the line of the croup, in cm.

    The three points of the pelvis lie almost in line: their distances alone would let the joint
    flip over to the other side.
    """
    hip, joint, buttock = (points[..., NAMES.index(name), :] for name in PELVIS)
    along, across = buttock - hip, joint - hip
    cross = along[..., 0] * across[..., 1] - along[..., 1] * across[..., 0]
    result: Array = cross / np.hypot(along[..., 0], along[..., 1])
    return result


def _is_held(key: str, asked: Contrast) -> bool:
    free = {asked.trait, *asked.follows}
    return key not in free and trait(key).kind in HELD


@cache
def _tie_rows() -> Array:
    """Return the rows of the template's ties for a dog of size 1, shape (2 ties, 2 points)."""
    ties = template().ties
    rows = np.zeros((2 * len(ties), 2 * len(NAMES)))
    for number, tie in enumerate(ties):
        firmer = RIGID if (tie.start, tie.end) in ONE_BONE else 1.0
        for axis, play in enumerate((tie.play_x, tie.play_y)):
            rows[2 * number + axis, 2 * NAMES.index(tie.end) + axis] = firmer / play
            rows[2 * number + axis, 2 * NAMES.index(tie.start) + axis] = -firmer / play
    return rows


def _rows(size: float) -> Array:
    firm = [(name, 1) for name in ("withers", *template().floor)] + [("elbow", 0)]
    rows = np.zeros((len(firm), 2 * len(NAMES)))
    for number, (name, axis) in enumerate(firm):
        rows[number, 2 * NAMES.index(name) + axis] = 1 / FIRM
    result: Array = np.vstack([rows, _tie_rows()]) / size
    return result
