"""Declarations of every ratio."""

from __future__ import annotations

import sympy

from kit.quantities.kinds import Kind
from kit.traits.trait import Trait, measured, over

PRACTICE = "common practice"
HEIGHT = "height_at_withers"


def _ratio(
    key: str,
    title: str,
    expression: sympy.Expr,
    definition: str,
    source: str = PRACTICE,
    family: str = "",
) -> Trait:
    return Trait(key, title, Kind.RATIO, expression, definition, source, family or key)


def _difference(upper: str, lower: str, base: str) -> sympy.Expr:
    return (measured(upper) - measured(lower)) / measured(base)


def _along_topline(position: str) -> sympy.Expr:
    """Height of the straight line from withers to point of hip at an assumed position on it."""
    withers, hip = measured(HEIGHT), measured("height_at_point_of_hip")
    return withers + (hip - withers) * measured(position)


def _spread(wide: str, narrow: str) -> sympy.Expr:
    return (measured(wide) - measured(narrow)) / measured(narrow)


LENGTH_AND_DEPTH = (
    _ratio("length_to_height_from_prosternum", "body length to height (from the forechest)",
           over("body_length_from_prosternum", HEIGHT),
           "prosternum to point of buttock, over height at withers", family="length_to_height"),
    _ratio("length_to_height_from_point_of_shoulder", "body length to height (from the shoulder)",
           over("body_length_from_point_of_shoulder", HEIGHT),
           "point of shoulder to point of buttock, over height at withers",
           family="length_to_height"),
    _ratio("forechest_to_height", "forechest to height",
           _difference("body_length_from_prosternum", "body_length_from_point_of_shoulder", HEIGHT),
           "how much longer the body is from the prosternum than from the point of shoulder"),
    _ratio("chest_depth_to_height", "chest depth to height", over("chest_depth", HEIGHT),
           "withers to brisket, over height at withers"),
    _ratio("elbow_height_to_height", "elbow height to height", over("height_at_elbow", HEIGHT),
           "elbow joint above the floor, over height at withers"),
    _ratio("elbow_to_brisket", "elbow above brisket",
           _difference("height_at_point_of_elbow", "height_at_brisket", HEIGHT),
           "point of elbow above the lowest point of the chest, over height at withers"),
    _ratio("brisket_clearance_to_height", "ground clearance to height",
           over("height_at_brisket", HEIGHT), "brisket above the floor, over height at withers"),
    _ratio("girth_to_height", "chest girth to height", over("chest_girth", HEIGHT),
           "tape behind the elbows, over height at withers"),
    _ratio("tuck_up_rise", "rise of the tuck-up",
           _difference("height_at_tuck_up", "height_at_brisket", "chest_depth"),
           "tuck-up above brisket, over chest depth"),
    _ratio("overbuilt", "croup above withers",
           _difference("height_at_point_of_hip", HEIGHT, HEIGHT),
           "point of hip above withers, over height at withers; below zero where lower"),
    _ratio("back_dip", "dip of the back",
           (_along_topline("back_position") - measured("height_at_back")) / measured(HEIGHT),
           "lowest back below the straight line from withers to point of hip, over height"),
    _ratio("loin_rise", "rise of the loin",
           (measured("height_at_loin") - _along_topline("loin_position")) / measured(HEIGHT),
           "highest loin above the straight line from withers to point of hip, over height"),
)  # fmt: skip

HEAD_AND_NECK = (
    _ratio("head_to_height", "head to height", over("head_length", HEIGHT),
           "occiput to nose, over height at withers"),
    _ratio("neck_to_head", "neck to head", over("neck_length", "head_length"),
           "occiput to withers, over occiput to nose"),
    _ratio("muzzle_to_head", "muzzle to head", over("muzzle_length", "head_length"),
           "stop to nose, over occiput to nose", family="muzzle"),
    _ratio("muzzle_to_skull", "muzzle to skull",
           measured("muzzle_length") / (measured("head_length") - measured("muzzle_length")),
           "stop to nose, over the rest of the head length", family="muzzle"),
    _ratio("skull_breadth_to_head", "skull breadth to head",
           over("skull_breadth", "head_length"), "widest skull, over occiput to nose",
           family="skull_breadth"),
    _ratio("skull_breadth_to_skull", "skull breadth to skull length",
           measured("skull_breadth") / (measured("head_length") - measured("muzzle_length")),
           "widest skull, over head length less muzzle", family="skull_breadth"),
    _ratio("neck_girth_to_neck", "neck girth to neck", over("neck_girth", "neck_length"),
           "tape round the middle of the neck, over occiput to withers"),
)  # fmt: skip

BODY = (
    _ratio("back_to_height", "back to height", over("back_length", HEIGHT),
           "withers to set-on of tail, over height at withers"),
    _ratio("head_to_back", "head to back", over("head_length", "back_length"),
           "occiput to nose, over withers to set-on of tail"),
    _ratio("loin_to_back", "loin to back", over("loin_length", "back_length"),
           "last rib to point of hip, over withers to set-on of tail"),
    _ratio("rib_cage_to_underline", "rib cage to underline",
           over("rib_cage_length", "underline_length"),
           "front of brisket to last rib, over front of brisket to tuck-up"),
    _ratio("croup_to_height", "croup to height", over("croup_length", HEIGHT),
           "point of hip to point of buttock, over height at withers"),
    _ratio("tail_to_hock", "tail to hock", over("tail_length", "set_on_to_point_of_hock"),
           "tail length, over set-on to point of hock"),
    _ratio("chest_breadth_to_depth", "chest breadth to depth",
           over("chest_breadth", "chest_depth"),
           "between the points of shoulder, over withers to brisket"),
    _ratio("rib_breadth_to_depth", "rib breadth to depth", over("rib_breadth", "chest_depth"),
           "widest ribs, over withers to brisket"),
    _ratio("rib_breadth_to_height", "rib breadth to height", over("rib_breadth", HEIGHT),
           "widest ribs, over height at withers"),
    _ratio("shoulder_to_hip_breadth", "shoulder breadth to hip breadth",
           over("shoulder_breadth", "hip_breadth"), "both seen from above"),
    _ratio("loin_to_hip_breadth", "loin breadth to hip breadth",
           over("loin_breadth", "hip_breadth"), "both seen from above"),
)  # fmt: skip

LIMBS = (
    _ratio("upper_arm_to_blade", "upper arm to shoulder blade",
           over("upper_arm_length", "blade_length"),
           "point of shoulder to elbow, over top of blade to point of shoulder"),
    _ratio("blade_to_height", "shoulder blade to height", over("blade_length", HEIGHT),
           "top of blade to point of shoulder, over height at withers"),
    _ratio("upper_arm_to_height", "upper arm to height", over("upper_arm_length", HEIGHT),
           "point of shoulder to elbow, over height at withers"),
    _ratio("forearm_to_height", "forearm to height", over("forearm_length", HEIGHT),
           "elbow to wrist, over height at withers"),
    _ratio("front_pastern_to_forearm", "front pastern to forearm",
           over("front_pastern_length", "forearm_length"), "pastern length, over elbow to wrist"),
    _ratio("bone_index", "bone", over("front_pastern_girth", HEIGHT),
           "girth of the front pastern, over height at withers"),
    _ratio("thigh_to_blade_breadth", "thigh breadth to blade breadth",
           over("thigh_breadth", "blade_breadth"), "both seen from the side"),
    _ratio("thigh_to_height", "thigh to height", over("thigh_length", HEIGHT),
           "hip joint to stifle, over height at withers"),
    _ratio("thigh_to_second_thigh", "thigh to second thigh",
           over("thigh_length", "second_thigh_length"),
           "hip joint to stifle, over stifle to hock joint"),
    _ratio("hock_height_to_height", "hock height to height",
           over("height_at_point_of_hock", HEIGHT),
           "point of hock above the floor, over height at withers"),
    _ratio("foot_form", "foot length to breadth", over("foot_length", "foot_breadth"),
           "front foot, length over breadth"),
    _ratio("rear_toe_offset_to_height", "rear toes behind the plumb line",
           over("rear_toe_offset", HEIGHT),
           "toes behind the line dropped from the point of buttock, over height at withers"),
    _ratio("front_stance", "front stance", _spread("front_foot_spread", "elbow_spread"),
           "front feet apart beyond the elbows, over the elbows"),
    _ratio("rear_stance", "rear stance", _spread("rear_foot_spread", "hock_spread"),
           "rear feet apart beyond the hocks, over the hocks"),
)  # fmt: skip

RATIOS = LENGTH_AND_DEPTH + HEAD_AND_NECK + BODY + LIMBS
