"""Observation equations: what a network's points would read, and the derivatives."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kit.figure.sightings import KINDS, sighting
from kit.quantities.errors import GeometryError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Observation:
    """One observed quantity.

    Attributes
    ----------
    kind : str
        One of KINDS.
    points : tuple of str
        Names of the points; for an angle the vertex comes first.
    value, sigma : float
        Observed value and its standard uncertainty: one unit of length throughout, angles in
        radians.
    key : str
        Name used in reports.
    """

    kind: str
    points: tuple[str, ...]
    value: float
    sigma: float
    key: str = ""

    def __post_init__(self) -> None:
        needed = sighting(self.kind).points
        if len(self.points) != needed or len(set(self.points)) != needed:
            raise GeometryError(
                f"observation '{self.key or self.kind}' names the wrong points",
                f"{needed} different points",
                ", ".join(self.points),
            )
        if isinstance(self.points, str) or not _in_range(self.kind, self.value):
            raise GeometryError(
                f"observation '{self.key or self.kind}' is not usable",
                "names of points, a distance of at least zero, an angle from 0 to pi radians",
                f"{self.points}, {self.value}",
            )
        if not (math.isfinite(self.value) and 0 < self.sigma < math.inf):
            raise GeometryError(
                f"observation '{self.key or self.kind}' is not usable",
                "a finite value and a standard uncertainty above zero",
                f"{self.value}, {self.sigma}",
            )


def _in_range(kind: str, value: float) -> bool:
    if kind == "distance":
        return value >= 0
    return kind != "angle" or 0 <= value <= math.pi


@dataclass(frozen=True)
class Network:
    """Observations sorted by kind for vectorised evaluation, and the unknowns.

    Parameters are x and y of each point in turn, then one orientation for each station of
    directions.
    """

    observations: tuple[Observation, ...]
    names: tuple[str, ...]
    start: Array
    unknown: NDArray[np.intp]
    groups: tuple[tuple[str, NDArray[np.intp], NDArray[np.intp]], ...]
    stations: tuple[str, ...]
    held: frozenset[int]

    @classmethod
    def build(
        cls,
        observations: tuple[Observation, ...],
        fixed: Mapping[str, Sequence[float | None]],
        approximate: Mapping[str, Sequence[float]],
    ) -> Network:
        """Return the network with its unknowns numbered and started; see `kit.figure.adjust`."""
        names = tuple(dict.fromkeys(name for one in observations for name in one.points))
        _check_places("fixed", fixed, names)
        _check_places("approximate", approximate, ())
        stations = tuple(
            dict.fromkeys(one.points[0] for one in observations if one.kind == "direction")
        )
        index = {name: number for number, name in enumerate(names)}
        start = np.zeros(2 * len(names) + len(stations))
        held = set()
        for name in names:
            for axis in range(2):
                slot = 2 * index[name] + axis
                hold = fixed[name][axis] if name in fixed else None
                start[slot] = hold if hold is not None else _start(name, axis, approximate,
                                                                   observations)  # fmt: skip
                if hold is not None:
                    held.add(slot)
        groups = tuple(_groups(observations, index))
        unknown = np.array([slot for slot in range(len(start)) if slot not in held], dtype=np.intp)
        network = cls(observations, names, start, unknown, groups, stations, frozenset(held))
        network.orient()
        return network

    def orient(self) -> None:
        """Start each station's orientation at what its first direction implies."""
        if not self.stations:
            return
        values = self.evaluate(self.start)[0]
        for number, station in enumerate(self.stations):
            first = next(
                i for i, one in enumerate(self.observations)
                if one.kind == "direction" and one.points[0] == station
            )  # fmt: skip
            self.start[2 * len(self.names) + number] = (
                values[first] - self.observations[first].value
            )

    def evaluate(self, at: Array) -> tuple[Array, Array]:
        """Return the computed observations, shape (m,), and the design matrix, shape (m, all)."""
        values = np.empty(len(self.observations))
        design = np.zeros((len(self.observations), len(at)))
        offset = 2 * len(self.names)
        for kind, rows, slots in self.groups:
            seen = sighting(kind)
            coordinates = [at[slots[:, column]] for column in range(slots.shape[1])]
            values[rows] = seen.value(*coordinates)
            with np.errstate(divide="ignore", invalid="ignore"):
                slopes = seen.slopes(*coordinates)
            for column, slope in enumerate(slopes):
                design[rows, slots[:, column]] = slope
            if kind == "direction":
                for row in rows:
                    column = offset + self.stations.index(self.observations[row].points[0])
                    values[row] -= at[column]
                    design[row, column] = -1.0
        # Points that coincide see no direction to move in.
        design[~np.isfinite(design)] = 0.0
        return values, design

    @cached_property
    def _observed(self) -> Array:
        return np.array([one.value for one in self.observations])

    @cached_property
    def _turning(self) -> NDArray[np.bool_]:
        return np.array([sighting(one.kind).periodic for one in self.observations])

    def misclosure(self, values: Array) -> Array:
        """Return observed less computed, directions the short way round, shape (m,)."""
        gap: Array = self._observed - values
        turning = self._turning
        gap[turning] = np.remainder(gap[turning] + math.pi, 2 * math.pi) - math.pi
        return gap

    def label(self, slot: int) -> tuple[str, str]:
        """Return the point and axis of a parameter."""
        if slot >= 2 * len(self.names):
            return self.stations[slot - 2 * len(self.names)], "orientation"
        return self.names[slot // 2], "xy"[slot % 2]


def _check_places(
    what: str, places: Mapping[str, Sequence[float | None]], names: Sequence[str]
) -> None:
    """Raise GeometryError for a held point nobody sees, or a place that is not two numbers."""
    for name, place in places.items():
        if names and name not in names:
            raise GeometryError(
                f"no observation sees the {what} point '{name}'", ", ".join(names), name
            )
        if len(place) != 2 or not all(one is None or math.isfinite(one) for one in place):
            raise GeometryError(
                f"the {what} place of '{name}' is not usable", "x and y", f"{place}"
            )


def _start(
    name: str,
    axis: int,
    approximate: Mapping[str, Sequence[float]],
    observations: tuple[Observation, ...],
) -> float:
    if name in approximate:
        return float(approximate[name][axis])
    linear = {"coordinate_x", "height", "height_difference", "horizontal_distance"}
    curved = [one for one in observations if name in one.points and one.kind not in linear]
    if curved:
        raise GeometryError(
            f"point '{name}' has no start value",
            "approximate coordinates of every point seen by a distance, angle or direction",
            ", ".join(approximate) or "none",
            "give it in `approximate`",
        )
    return 0.0


def _groups(
    observations: tuple[Observation, ...], index: Mapping[str, int]
) -> Iterable[tuple[str, NDArray[np.intp], NDArray[np.intp]]]:
    for kind in KINDS:
        rows = [row for row, one in enumerate(observations) if one.kind == kind]
        if rows:
            slots = [
                [2 * index[name] + axis for name in observations[row].points for axis in range(2)]
                for row in rows
            ]
            yield kind, np.array(rows, dtype=np.intp), np.array(slots, dtype=np.intp)
