"""Declarations of every angle, and of the figures that are taken as read."""

from __future__ import annotations

import sympy

from kit.quantities.kinds import Kind
from kit.traits.trait import RIGHT_ANGLE, Trait, angle_between, derived, measured, slope

COSINE_RULE = "cosine rule (identity)"
SINE = "right triangle (identity)"
SUM = "angle sum at the joint (identity)"
READ = "as read"


def _angle(key: str, title: str, expression: sympy.Expr, definition: str, source: str,
           family: str = "", *, direct: bool = True) -> Trait:  # fmt: skip
    return Trait(key, title, Kind.ANGLE, expression, definition, source, family or key, direct)


def _as_read(key: str, title: str, kind: Kind, definition: str) -> Trait:
    return Trait(key, title, kind, measured(key), definition, READ, key)


FRONT = (
    _angle("blade_slope", "slope of the shoulder blade",
           slope("height_at_blade_top", "height_at_point_of_shoulder", "blade_length"),
           "top of the spine of the blade to the point of shoulder, from the horizontal", SINE,
           "blade_slope"),
    _angle("blade_layback", "layback of the shoulder blade", RIGHT_ANGLE - derived("blade_slope"),
           "top of the spine of the blade to the point of shoulder, from the vertical", SUM,
           "blade_slope"),
    _angle("upper_arm_slope", "slope of the upper arm",
           slope("height_at_point_of_shoulder", "height_at_elbow", "upper_arm_length"),
           "point of shoulder to elbow joint, from the horizontal", SINE),
    _angle("shoulder_angle", "shoulder angle",
           angle_between("blade_length", "upper_arm_length", "blade_top_to_elbow"),
           "top of the spine of the blade, point of shoulder, elbow joint; three distances",
           COSINE_RULE),
    _angle("shoulder_angle_by_heights", "shoulder angle (by heights)",
           derived("blade_slope") + derived("upper_arm_slope"),
           "slope of the blade plus slope of the upper arm", SUM, "shoulder_angle", direct=False),
    _angle("elbow_angle", "elbow angle",
           RIGHT_ANGLE + derived("upper_arm_slope") + measured("forearm_lean"),
           "upper arm against the forearm, which stands vertical", SUM),
)  # fmt: skip

REAR = (
    _angle("croup_slope", "slope of the croup",
           slope("height_at_point_of_hip", "height_at_point_of_buttock", "croup_length"),
           "point of hip to point of buttock, from the horizontal", SINE),
    _angle("hip_angle", "hip angle",
           angle_between("point_of_hip_to_hip_joint", "thigh_length", "point_of_hip_to_stifle"),
           "point of hip, hip joint, stifle; three distances", COSINE_RULE),
    _angle("stifle_angle", "stifle angle",
           angle_between("thigh_length", "second_thigh_length", "hip_joint_to_hock_joint"),
           "hip joint, stifle, hock joint; three distances", COSINE_RULE),
    _angle("second_thigh_slope", "slope of the second thigh",
           slope("height_at_stifle", "height_at_hock_joint", "second_thigh_length"),
           "stifle to hock joint, from the horizontal", SINE, direct=False),
    _angle("hock_angle", "hock angle",
           RIGHT_ANGLE + derived("second_thigh_slope") + measured("rear_pastern_lean"),
           "second thigh against the rear pastern, which stands vertical", SUM),
    _angle("front_rear_balance", "shoulder angle less hip angle",
           derived("shoulder_angle") - derived("hip_angle"),
           "above zero where the front is more open than the rear", SUM, direct=False),
)  # fmt: skip

TOPLINE = (
    _angle("topline_slope", "slope of the topline",
           slope("height_at_withers", "height_at_set_on", "back_length"),
           "withers to set-on of tail, from the horizontal; above zero where it falls to the rear",
           SINE),
)  # fmt: skip

AS_READ = (
    _as_read("front_pastern_slope", "slope of the front pastern", Kind.ANGLE, "from the vertical"),
    _as_read("rear_pastern_slope", "slope of the rear pastern", Kind.ANGLE, "from the vertical"),
    _as_read("front_foot_turnout", "turn-out of the front foot", Kind.ANGLE,
             "from straight ahead, out is above zero"),
    _as_read("rear_foot_turnout", "turn-out of the rear foot", Kind.ANGLE,
             "from straight ahead, out is above zero"),
    _as_read("height_at_withers", "height at withers", Kind.LENGTH, "withers above the floor"),
    _as_read("weight", "weight", Kind.MASS, "on the scales"),
)  # fmt: skip

ANGLES = FRONT + REAR + TOPLINE + AS_READ
