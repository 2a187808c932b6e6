"""Measurements as the fitted figure gives them, with what each reading adds to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from kit.estimation.repeats import Estimate
from kit.figure.adjustment import Adjustment
from kit.figure.seen import seen_by
from kit.figure.sightings import sighting
from kit.figure.template import Point
from kit.protocol.catalogue import catalogue
from kit.quantities.kinds import Kind
from kit.traits.inputs import Fitted, Key, scale_of

Array = NDArray[np.float64]
ESTIMABLE = 1e-6


def adjusted_measurements(
    adjusted: Adjustment, taken: Mapping[str, Estimate], known: Mapping[str, Point]
) -> dict[str, Fitted]:
    """Return every measurement of which the figure says more than its own reading does.

    Parameters
    ----------
    taken : mapping of measurement to Estimate
        The readings behind the figure.
    known : mapping of landmark to position
        The landmarks the figure determines.
    """
    keys = [key for key in catalogue().measurements if _is_asked(key, adjusted, taken, known)]
    if not keys:
        return {}
    values, design = _equations(keys, adjusted)
    sigmas = np.array([one.sigma for one in adjusted.observations])
    # Correction of the parameters for one unit of each observation.
    gain = adjusted.cofactors @ adjusted.design.T / sigmas**2
    slopes = design @ gain
    lost = np.max(np.abs(slopes @ adjusted.design - design), axis=1)
    sizes = np.linalg.norm(slopes * sigmas, axis=1)
    readings = [_reading(one.key, taken) for one in adjusted.observations]
    own_scales = np.array([scale_of(key) for key, _ in readings])
    found = {}
    for row, key in enumerate(keys):
        scale = scale_of(key)
        by_reading = _named(slopes[row] * scale / own_scales, readings)
        if lost[row] < ESTIMABLE and _tells_more(key, by_reading, taken):
            found[key] = Fitted(float(values[row]) * scale, float(sizes[row]) * scale, by_reading)
    return found


def _is_asked(
    key: str, adjusted: Adjustment, taken: Mapping[str, Estimate], known: Mapping[str, Point]
) -> bool:
    """Tell whether the figure may be asked for a measurement.

    An angle nobody read is left to its formula, which knows how crooked its error is.
    """
    seen = seen_by(key)
    if seen is None:
        return False
    if key in taken:
        return all(name in adjusted.positions for name in seen[1])
    placed = all(name in known for name in seen[1])
    return placed and catalogue().measurement(key).kind is not Kind.ANGLE


def _tells_more(key: str, slopes: Mapping[Key, float], taken: Mapping[str, Estimate]) -> bool:
    if key not in taken:
        return True
    own = slopes.get((key, taken[key].side), 0.0)
    return abs(own - 1.0) > ESTIMABLE or len(slopes) > 1


def _equations(keys: Sequence[str], adjusted: Adjustment) -> tuple[Array, Array]:
    """Return values, shape (k,), and design rows, shape (k, n), of measurements on the figure."""
    rows = {label: row for row, label in enumerate(adjusted.parameters)}
    values, design = np.empty(len(keys)), np.zeros((len(keys), len(rows)))
    for row, key in enumerate(keys):
        kind, points = seen_by(key) or ("", ())
        at = [part for name in points for part in adjusted.positions[name]]
        declared = sighting(kind)
        values[row] = declared.value(*at)
        slots = [rows[(name, axis)] for name in points for axis in "xy"]
        design[row, slots] = declared.slopes(*at)
    design[:, ~adjusted.design.any(axis=0)] = 0.0
    return values, design


def _reading(key: str, taken: Mapping[str, Estimate]) -> Key:
    return key, taken[key].side if key in taken else ""


def _named(slopes: Array, readings: Sequence[Key]) -> dict[Key, float]:
    rows = np.flatnonzero(np.abs(slopes) > ESTIMABLE**2).tolist()
    return {readings[row]: float(slopes[row]) for row in rows}
