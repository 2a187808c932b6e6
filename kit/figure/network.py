"""One dog as a survey network: its readings adjusted together, its misread tapes searched."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from kit.estimation.repeats import Estimate, estimates_of
from kit.figure.adjustment import Adjustment, adjust
from kit.figure.algebra import RANK_TOLERANCE, one_thread
from kit.figure.equations import Observation
from kit.figure.fitted import adjusted_measurements
from kit.figure.placement import roughly
from kit.figure.seen import seen_by
from kit.figure.sightings import sighting
from kit.figure.snooping import TESTABLE, Suspect, search
from kit.figure.template import Point, template
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading
from kit.quantities.errors import GeometryError
from kit.traits.inputs import DEGREES, Estimates, Fitted, scale_of

Array = NDArray[np.float64]

# A standing forearm is vertical within what the catalogue assumes of it.
_LEAN = ("forearm_lean", ("elbow", "wrist"))
# A point is said to be determined where its position is known at least this well, in parts of the
# height: worse than that, the readings only seem to place it.
KNOWN = 0.06
LOOSE = 1e-6  # of a coordinate in what the readings leave free
# A promise is made where a point would be known this much better than it must be: where it lies
# before the reading is taken, and so the way two readings cross there, is a guess.
SURE = 0.5
USUAL = 25.0  # cm or degrees: a reading whose uncertainty stands for those nobody took
NO_SIGHT = "no reading that sees a landmark"
# Joints that must bend the way a dog's do: first, vertex, last.
_JOINTS = (("blade_top", "point_of_shoulder", "elbow"), ("point_of_hip", "hip_joint", "stifle"),
           ("hip_joint", "stifle", "hock_joint"))  # fmt: skip


@dataclass(frozen=True)
class FittedFigure:
    """The figure fitted to all readings of one side of a dog.

    Attributes
    ----------
    points : mapping of str to (float, float)
        Determined landmarks, in cm: x forward, y up from the floor.
    covariances : mapping of str to array, shape (2, 2)
        Of each determined landmark, relative to the figure as a whole.
    suspects : tuple of Suspect
        Readings that do not fit, in cm or degrees, set aside from the figure.
    unchecked : tuple of str
        Readings that no other reading checks.
    adjusted : mapping of str to Fitted
        Measurements the figure changes or adds: readings that others check, and heights and
        distances nobody took but the figure determines.
    taken : frozenset of str
        Measurements that were read, suspects among them.
    most : float
        Largest uncertainty, in cm, of a landmark that counts as determined.
    """

    side: str
    adjustment: Adjustment
    points: Mapping[str, Point]
    covariances: Mapping[str, Array]
    suspects: tuple[Suspect, ...]
    unchecked: tuple[str, ...]
    adjusted: Mapping[str, Fitted]
    taken: frozenset[str]
    most: float

    @cached_property
    def undetermined(self) -> Mapping[str, tuple[str, ...]]:
        """Landmarks not placed, and measurements of each any one of which would place it."""
        return _undetermined(self.adjustment, self.points, self.taken, self.most)


def fit(estimates: Estimates, side: str = "left") -> FittedFigure:
    """Fit one figure to all readings of one side.

    Raises
    ------
    GeometryError
        If no reading sees a landmark, or the readings do not settle on a figure.
    """
    taken = tuple(
        (key, estimate)
        for (key, of), estimate in estimates.items()
        if of in {"", side} and seen_by(key) is not None
    )
    if not taken:
        raise GeometryError("no figure can be fitted", "heights, distances or angles", NO_SIGHT)
    with one_thread():
        return _fit(side, taken)


@lru_cache(maxsize=64)
def _fit(side: str, readings: tuple[tuple[str, Estimate], ...]) -> FittedFigure:
    """Fit, or remember: after an entry on the left, the right side is as it was."""
    taken = dict(readings)
    listed = [_observation(key, one) for key, one in taken.items()] + _assumed(taken)
    start = roughly({key: one.value for key, one in taken.items()})
    anchor = _anchor(listed)

    def solve(some: Sequence[Observation]) -> Adjustment:
        held = {anchor: (start[anchor][0], None)}
        return adjust(some, held if anchor in _points(some) else None, start)

    first = solve(listed)
    suspects, clean = search(listed, first, solve)
    _check_bends(clean)
    return _figure(side, clean, first, suspects, taken, KNOWN * start["withers"][1])


def _points(some: Sequence[Observation]) -> list[str]:
    return [name for one in some for name in one.points]


def _anchor(listed: Sequence[Observation]) -> str:
    """Return the point most readings see: its x is held, because nobody measures x."""
    seen = _points(listed)
    return max(dict.fromkeys(seen), key=seen.count)


def _observation(key: str, estimate: Estimate) -> Observation:
    seen = seen_by(key)
    assert seen is not None  # noqa: S101  (the caller kept only what is seen)
    scale = scale_of(key)
    return Observation(*seen, estimate.value / scale, estimate.uncertainty / scale, key)


def _assumed(taken: Mapping[str, Estimate]) -> list[Observation]:
    """Add the upright forearm where the wrist would else hang from one distance."""
    name, points = _LEAN
    seen = {point for key in taken for point in (seen_by(key) or ("", ()))[1]}
    if not set(points) <= seen:
        return []
    lean = catalogue().assumptions[name]
    return [Observation("from_vertical", points, lean.value / DEGREES, lean.uncertainty / DEGREES,
                        name)]  # fmt: skip


def _check_bends(adjusted: Adjustment) -> None:
    """Raise GeometryError where a joint came out as its mirror image."""
    neutral = template().points
    for joint in _JOINTS:
        if all(name in adjusted.coordinates for name in joint):
            turned = _turn([adjusted.coordinates[name] for name in joint])
            if turned * _turn([neutral[name] for name in joint]) < 0:
                raise GeometryError(
                    f"the readings bend {joint[1]} the wrong way",
                    "a joint that bends as a dog's",
                    do="read the lengths around it again",
                )


def _turn(points: Sequence[Point]) -> float:
    (ax, ay), (bx, by), (cx, cy) = points
    turned = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
    return 0.0 if math.isnan(turned) else turned


def _figure(
    side: str,
    clean: Adjustment,
    first: Adjustment,
    suspects: tuple[Suspect, ...],
    taken: Mapping[str, Estimate],
    most: float,
) -> FittedFigure:
    covariances = _point_covariances(clean)
    known = {
        name: block for name, block in covariances.items()
        if math.sqrt(float(np.max(np.linalg.eigvalsh(block)))) < most
    }  # fmt: skip
    points = {name: clean.coordinates[name] for name in known}
    return FittedFigure(
        side,
        clean,
        points,
        known,
        tuple(_in_degrees(one) for one in suspects),
        _unchecked(first, taken),
        adjusted_measurements(clean, taken, points),
        frozenset(taken),
        most,
    )


def _in_degrees(suspect: Suspect) -> Suspect:
    scale = scale_of(suspect.key) if suspect.key in catalogue().measurements else DEGREES
    return Suspect(
        suspect.key,
        suspect.observed * scale,
        suspect.expected * scale,
        suspect.uncertainty * scale,
        suspect.test,
        suspect.critical,
        suspect.alternatives,
    )


def _point_covariances(adjusted: Adjustment) -> dict[str, Array]:
    rows = {label: row for row, label in enumerate(adjusted.parameters)}
    blocks = {}
    for name, (x, y) in adjusted.coordinates.items():
        if not (math.isnan(x) or math.isnan(y)):
            pick = [rows[(name, "x")], rows[(name, "y")]]
            blocks[name] = adjusted.covariance[np.ix_(pick, pick)]
    return blocks


def _unchecked(adjusted: Adjustment, taken: Mapping[str, Estimate]) -> tuple[str, ...]:
    """Name the readings no other reading checks."""
    return tuple(
        one.key
        for one, redundancy in zip(adjusted.observations, adjusted.redundancy_numbers, strict=True)
        if redundancy <= TESTABLE and one.key in taken
    )


def _undetermined(
    adjusted: Adjustment, known: Mapping[str, Point], taken: Collection[str], most: float
) -> dict[str, tuple[str, ...]]:
    """Name for each point not placed the measurements of it any one of which would place it."""
    missing = [name for name in adjusted.coordinates if name not in known]
    placed_by = {key: _would_place(key, adjusted, most) for key in _open(adjusted, missing, taken)}
    return {
        name: tuple(key for key, placed in placed_by.items() if name in placed) for name in missing
    }


def _open(adjusted: Adjustment, missing: Sequence[str], taken: Collection[str]) -> list[str]:
    """Return the measurements nobody took that tie a missing point to points of the network."""
    found = []
    for key in catalogue().measurements:
        seen = seen_by(key)
        # A point new to the network brings two unknowns for one equation: it helps no other.
        if seen is None or key in taken or not set(seen[1]) <= set(adjusted.coordinates):
            continue
        if not set(seen[1]).isdisjoint(missing):
            found.append(key)
    return found


def _would_place(key: str, adjusted: Adjustment, most: float) -> set[str]:
    """Return the points of one more reading that it would determine, by rank and by size.

    Another reading may change which point is held; that alone places nothing, so the points must
    be determined with either held.
    """
    _, points = seen_by(key) or ("", ())
    design = np.vstack([_weighted(adjusted), _row(key, adjusted) / _expected_sigma(key)])
    anchors = (_points(adjusted.observations), [*_points(adjusted.observations), *points])
    held = {max(dict.fromkeys(seen), key=seen.count) for seen in anchors}
    return set.intersection(*(_determined(points, one, design, adjusted, most) for one in held))


def _determined(
    points: Sequence[str], held: str, design: Array, adjusted: Adjustment, most: float
) -> set[str]:
    """Return those of some points a weighted design determines where x of one is held."""
    column = {label: slot for slot, label in enumerate(adjusted.parameters)}
    free = [slot for slot in range(len(column)) if slot != column[(held, "x")]]
    _, singular, right = np.linalg.svd(design[:, free])
    rank = int(np.sum(singular > RANK_TOLERANCE * max(1.0, float(singular[0]))))
    gain, null = np.zeros((len(column), rank)), np.zeros((len(column), len(free) - rank))
    gain[free], null[free] = right[:rank].T / singular[:rank], right[rank:].T
    found = set()
    for name in points:
        pick = [column[(name, "x")], column[(name, "y")]]
        spread = math.sqrt(float(np.max(np.linalg.eigvalsh(gain[pick] @ gain[pick].T))))
        if np.abs(null[pick]).max(initial=0.0) < LOOSE and spread < SURE * most:
            found.add(name)
    return found


def _weighted(adjusted: Adjustment) -> Array:
    """Return the weighted design with the column of the held x put back.

    Moving the whole dog along changes no reading, so the columns of x sum to zero.
    """
    sigmas = np.array([one.sigma for one in adjusted.observations])
    design: Array = adjusted.design / sigmas[:, None]
    along = [slot for slot, (_, axis) in enumerate(adjusted.parameters) if axis == "x"]
    held = next(slot for slot in along if not design[:, slot].any())
    design[:, held] = -design[:, along].sum(axis=1)
    return design


def _row(key: str, adjusted: Adjustment) -> Array:
    kind, points = seen_by(key) or ("", ())
    at = [part for name in points for part in adjusted.positions[name]]
    row = np.zeros(len(adjusted.parameters))
    column = {label: slot for slot, label in enumerate(adjusted.parameters)}
    row[[column[(name, axis)] for name in points for axis in "xy"]] = sighting(kind).slopes(*at)
    return row


@cache
def _expected_sigma(key: str) -> float:
    """Return the standard uncertainty one reading of a measurement usually has, cm or radians."""
    definition = catalogue().measurement(key)
    side = "left" if definition.sided else ""
    usual = estimates_of([Reading("", key, USUAL, side=side)], catalogue())
    return usual[(key, side)].uncertainty / scale_of(key)
