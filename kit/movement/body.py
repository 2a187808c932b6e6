"""What movement needs to know of the standing dog: hip, weight, stance, length of body."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from kit.estimation.components import Component
from kit.movement.estimate import Measured
from kit.movement.observations import kept, movement_tables
from kit.standards.assessment import Assessment
from kit.traits.estimates import TraitEstimate

CENTIMETRES = 100.0
FINDING_THE_JOINT = 0.005  # m, standard uncertainty of feeling for the joint (common practice)


@dataclass(frozen=True)
class Body:
    """The standing dog, in SI units.

    Attributes
    ----------
    hip_height : Measured or None
        Height of the hip joint, in m; None where nothing tells it.
    hip_origin : str
        How it was had.
    mass : Measured or None
        kg.
    stance : mapping of ``front`` and ``rear`` to Measured
        Spread of the standing feet, in m.
    length : TraitEstimate or None
        Body length to height.
    """

    hip_height: Measured | None
    hip_origin: str
    mass: Measured | None
    stance: Mapping[str, Measured]
    length: TraitEstimate | None = None


def body_of(assessment: Assessment) -> Body:
    """Gather what an assessed dog's readings tell of its body."""
    hip, origin = _hip(assessment)
    known = assessment.traits.known
    length = known.get("length_to_height_from_prosternum") or known.get(
        "length_to_height_from_point_of_shoulder"
    )
    spreads = {"front": "front_foot_spread", "rear": "rear_foot_spread"}
    stance = {end: _metres(assessment, key) for end, key in spreads.items()}
    return Body(hip, origin, _mass(assessment),
                {end: spread for end, spread in stance.items() if spread}, length)  # fmt: skip


def _hip(assessment: Assessment) -> tuple[Measured | None, str]:
    for figure in assessment.figures.values():
        if "hip_joint" in figure.points and "hip_joint" in figure.covariances:
            height = figure.points["hip_joint"][1] / CENTIMETRES
            placed = math.sqrt(float(figure.covariances["hip_joint"][1, 1])) / CENTIMETRES
            parts = (Component("figure", placed), Component("finding the joint", FINDING_THE_JOINT))
            return Measured(height, parts), "placed by the dog’s own readings"
    withers = _metres(assessment, "height_at_withers")
    if withers is None:
        return None, "neither the hip nor the withers was measured"
    table = movement_tables().table("hip")
    part, doubt = table.number("of_withers"), table.number("uncertainty")
    spread = Component("neutral dog", doubt * withers.value)
    scaled = Component("withers", part * withers.uncertainty)
    said = f"taken as {part:g} of the height at withers, as a neutral dog has it"
    return Measured(part * withers.value, (spread, scaled)), said


def hip_as_read(metres: float) -> Measured:
    """Return a hip height somebody measured."""
    return Measured(metres, (Component("reading", kept()["hip_height"].error),))


def _metres(assessment: Assessment, key: str) -> Measured | None:
    for side in ("", "left", "right"):
        if (key, side) in assessment.estimates:
            one = assessment.estimates[(key, side)]
            return Measured(one.value / CENTIMETRES,
                            (Component("reading", one.uncertainty / CENTIMETRES),))  # fmt: skip
    return None


def _mass(assessment: Assessment) -> Measured | None:
    one = assessment.estimates.get(("weight", ""))
    return None if one is None else Measured(one.value, (Component("reading", one.uncertainty),))
