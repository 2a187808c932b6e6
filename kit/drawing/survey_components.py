"""What a principal component does to the dog: the mean dog moved both ways along it."""

from __future__ import annotations

from kit.drawing.pairs import Named, overlaid
from kit.drawing.scene import Scene
from kit.figure.placement import place
from kit.survey.shape import Shape

REACH = 2.0
"""Standard deviations each way: about one dog in fifty lies farther out."""


def component_picture(
    shape: Shape, component: int, *, width: float = 900.0, height: float = 640.0
) -> Scene:
    """Draw the mean dog two standard deviations up (full) and down (dashed) a component."""
    up, down = (place(shape.moved(component, sign * REACH)) for sign in (1.0, -1.0))
    one = shape.components[component - 1]
    title = f"Component {component}: {one.share:.0%} of all differences".replace("%", " %")
    return overlaid(
        Named("two deviations up", up), Named("two deviations down", down),
        title=title, bones=False, width=width, height=height,
    )  # fmt: skip
