"""How each catalogued measurement sees the landmarks of the network."""

from __future__ import annotations

from functools import cache

from kit.figure.observations import observations

_KINDS = {"vertical": "height", "straight": "distance", "horizontal": "horizontal_distance",
          "angle": "angle", "falls_forward": "falls_forward", "falls_backward": "falls_backward",
          "from_vertical": "from_vertical"}  # fmt: skip
# The caliper is held upright for the depth of the chest: it compares two heights.
_UPRIGHT = {"chest_depth": ("brisket", "withers")}


@cache
def seen_by(key: str) -> tuple[str, tuple[str, ...]] | None:
    """Return kind and points of a measurement in the network; None where it sees no point."""
    if key in _UPRIGHT:
        return "height_difference", _UPRIGHT[key]
    observation = observations().get(key)
    if observation is None or observation.kind not in _KINDS:
        return None
    points = observation.points
    if observation.kind == "angle":
        points = (points[1], points[0], points[2])
    return _KINDS[observation.kind], points
