"""The shoulder angle from three tapes, for any three tapes: to try what an error does to it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kit.estimation.components import Component
from kit.estimation.propagation import propagate
from kit.estimation.repeats import Estimate
from kit.estimation.simulation import Simulation, simulate
from kit.quantities.errors import EstimationError, GeometryError
from kit.traits.declarations import trait
from kit.traits.derive import derive
from kit.traits.estimates import TraitEstimate
from kit.traits.inputs import DEGREES

ANGLE = "shoulder_angle"
TAPES = ("blade_length", "upper_arm_length", "blade_top_to_elbow")


@dataclass(frozen=True)
class TwoWays:
    """One angle and its uncertainty by the straight-line rule and by drawing. All in degrees.

    Attributes
    ----------
    value, uncertainty : float
        The angle, and its standard uncertainty to first order.
    drawn : Simulation, optional
        What the same tapes allow when every error is drawn; None where most draws close no
        triangle, so that nothing can be said.
    """

    value: float
    uncertainty: float
    drawn: Simulation | None


def distance_across(first: float, second: float, angle: float) -> float:
    """Return the third side of a triangle from two sides and the angle between them in degrees."""
    cosine = math.cos(angle / DEGREES)
    return math.sqrt(first**2 + second**2 - 2.0 * first * second * cosine)


def angle_from_tapes(
    lengths: tuple[float, float, float], errors: tuple[float, float, float]
) -> TraitEstimate:
    """Return the shoulder angle the kit makes of three tapes.

    Parameters
    ----------
    lengths, errors : three floats each
        Blade, upper arm, and from the top of the blade to the elbow, with their standard
        uncertainties, in cm.

    Raises
    ------
    GeometryError
        If the tapes cannot close a triangle.
    """
    table = derive({(tape.measurement, "left"): tape for tape in _tapes(lengths, errors)})
    if ANGLE not in table.known:
        raise GeometryError(table.faults[ANGLE])
    return table.known[ANGLE]


def two_ways(lengths: tuple[float, float, float], errors: tuple[float, float, float]) -> TwoWays:
    """Return the same angle with its uncertainty by both rules, whichever the kit would take."""
    tapes = {tape.measurement: tape for tape in _tapes(lengths, errors)}
    expression = trait(ANGLE).expression
    value, covariance = propagate(expression, tapes, np.diag(np.square(errors)))
    uncertainty = math.sqrt(covariance[0, 0]) * DEGREES
    try:
        raw = simulate(expression, tapes)
    except EstimationError:
        return TwoWays(float(value[0]) * DEGREES, uncertainty, None)
    drawn = Simulation(raw.draws * DEGREES, raw.impossible)
    return TwoWays(float(value[0]) * DEGREES, uncertainty, drawn)


def _tapes(
    lengths: tuple[float, float, float], errors: tuple[float, float, float]
) -> list[Estimate]:
    return [
        Estimate(key, "left", length, (Component("tape", error),))
        for key, length, error in zip(TAPES, lengths, errors, strict=True)
    ]
