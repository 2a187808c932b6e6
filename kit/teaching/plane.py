"""Every trait of the median plane, re-measured on any number of figures at once."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from kit.estimation.propagation import Model, compile_model
from kit.figure.breadths import breadths_of
from kit.figure.model import Figure
from kit.figure.observations import observations, reading_at
from kit.figure.template import Observation, template
from kit.protocol.catalogue import catalogue
from kit.quantities.errors import GeometryError
from kit.traits.declarations import traits
from kit.traits.inputs import scale_of
from kit.traits.trait import RIGHT_ANGLE

Array = NDArray[np.float64]
NAMES = tuple(template().points)


@cache
def plane_traits() -> tuple[str, ...]:
    """Return the keys of all traits that lie in the median plane, in an order they build on."""
    known = set(observations()) | set(catalogue().assumptions) | {RIGHT_ANGLE.name}
    found: list[str] = []
    for key, declared in traits().items():
        if {symbol.name for symbol in declared.expression.free_symbols} <= known | set(found):
            found.append(key)
    return tuple(found)


@cache
def _models() -> Mapping[str, Model]:
    return {key: compile_model(traits()[key].expression) for key in plane_traits()}


def readings_of(points: Array) -> dict[str, Array]:
    """Return every reading of the median plane.

    Parameters
    ----------
    points : array of shape (..., n, 2)
        In cm, the points in the order of NAMES.

    Returns
    -------
    dict of str to array of shape (...)
        By measurement key, in cm or degrees.
    """
    index = {name: number for number, name in enumerate(NAMES)}
    return {
        key: _reading(seen, [points[..., index[name], :] for name in seen.points])
        for key, seen in observations().items()
        if seen.kind in _LENGTHS or key in _AS_READ
    }


_LENGTHS = frozenset({"vertical", "straight", "skin", "horizontal"})
# Angles an instrument reads and no length gives.
_AS_READ = frozenset({"front_pastern_slope", "rear_pastern_slope"})


def _reading(seen: Observation, at: list[Array]) -> Array:
    if seen.kind == "vertical":
        return at[0][..., 1]
    if seen.kind == "horizontal":
        return at[0][..., 0] - at[1][..., 0]
    step = at[1] - at[0]
    if seen.kind == "from_vertical":
        return np.degrees(np.arctan2(step[..., 0], -step[..., 1]))
    return np.hypot(step[..., 0], step[..., 1])


def traits_of(points: Array) -> dict[str, Array]:
    """Return every trait of the median plane; `points` as for `readings_of`.

    Returns
    -------
    dict of str to array of shape (...)
        By trait key, in the unit of the trait's kind; nan where no dog can be so.
    """
    values: dict[str, Array] = {
        key: value / scale_of(key) for key, value in readings_of(points).items()
    }
    for one in catalogue().assumptions.values():
        values[one.key] = np.asarray(one.value / scale_of(one.key))
    values[RIGHT_ANGLE.name] = np.asarray(np.pi / 2)
    found: dict[str, Array] = {}
    with np.errstate(all="ignore"):
        for key, model in _models().items():
            value = np.asarray(model.function(*(values[name] for name in model.names)), np.float64)
            values[key] = value
            found[key] = value * scale_of(key)
    return found


def as_array(figure: Figure) -> Array:
    """Return a figure's points, shape (n, 2) in cm, in the order of NAMES."""
    return np.array([figure[name] for name in NAMES])


def remeasured(figure: Figure) -> Mapping[str, float]:
    """Measure a drawn dog as a hand would and return every trait of the median plane.

    Raises
    ------
    GeometryError
        If a trait has no real value on it.
    """
    values = {key: float(value) for key, value in traits_of(as_array(figure)).items()}
    broken = [key for key, value in values.items() if not np.isfinite(value)]
    if broken:
        raise GeometryError("the drawn dog cannot be measured", "real values", ", ".join(broken))
    return values


def readings_at(figure: Figure) -> dict[str, float]:
    """Return what a hand would read on a drawn dog, breadths too, in cm and degrees.

    Angles that lengths give are left out, so that nothing is said twice.
    """
    plane = {
        key: reading_at(seen, figure.points)
        for key, seen in observations().items()
        if key not in traits() or key in _AS_READ or key == "height_at_withers"
    }
    return {**breadths_of(figure).values, **plane}
