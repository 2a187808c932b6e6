"""A joint taken with three tapes: the triangle, and the fan of angles the tapes allow."""

from __future__ import annotations

import math
from dataclasses import dataclass

from kit.drawing.scene import Circle, Line, Path, Point, Primitive, Scene, Style, Text
from kit.drawing.wording import best_value, interval_text, value_text
from kit.quantities.formatting import number
from kit.traits.estimates import TraitEstimate

WIDTH, HEIGHT = 540.0, 384.0
APEX = (356.0, 200.0)  # where the point of shoulder lies, px
LONGEST = 164.0  # px of the longer segment
ARC = 52.0  # px, radius of the angle's arc
STEPS = 40  # straight pieces of an arc
STRAIGHT = 180.0
SOLID = Style("", "ink", 5.0)
TAPE = Style("", "plumb", 2.0, (7.0, 5.0))
EDGE = Style("", "accent", 1.2)


@dataclass(frozen=True)
class _Triangle:
    """The triangle on the picture: px per cm, and the directions of its two segments in degrees."""

    scale: float
    blade: float
    angle: float
    lengths: tuple[float, float, float]

    def end(self, length: float, direction: float) -> Point:
        turned = math.radians(direction)
        reach = length * self.scale
        return APEX[0] + reach * math.cos(turned), APEX[1] - reach * math.sin(turned)

    @property
    def top(self) -> Point:
        return self.end(self.lengths[0], self.blade)

    def elbow(self, angle: float) -> Point:
        """Where the elbow would lie at some angle, the blade held still."""
        return self.end(self.lengths[1], self.blade + angle)


def joint(estimate: TraitEstimate, lengths: tuple[float, float, float]) -> Scene:
    """Draw the shoulder from three tapes with what its angle may be.

    Parameters
    ----------
    estimate : TraitEstimate
        The angle, in degrees.
    lengths : three floats
        Blade, upper arm and the distance across, in cm.

    Returns
    -------
    Scene
        The light fan is where the true angle lies with 95 % probability, the dark one is one
        standard uncertainty to either side.
    """
    shown = _Triangle(
        LONGEST / max(lengths[:2]), STRAIGHT - estimate.value / 2.0, estimate.value, lengths
    )
    parts: list[Primitive] = [*_fan(shown, estimate), *_bones(shown), *_words(shown, estimate)]
    said = f"A triangle of three tapes; the angle is {value_text(estimate)}"
    return Scene(WIDTH, HEIGHT, tuple(parts), "The shoulder from three tapes", said)


def _fan(shown: _Triangle, estimate: TraitEstimate) -> list[Primitive]:
    low, high = estimate.low95, min(STRAIGHT, estimate.high95)
    one = max(low, estimate.value - estimate.uncertainty)
    other = min(high, estimate.value + estimate.uncertainty)
    return [
        _sector(shown, low, high, 0.16),
        _sector(shown, one, other, 0.26),
        Line(APEX, shown.elbow(low), EDGE),
        Line(APEX, shown.elbow(high), EDGE),
    ]


def _sector(shown: _Triangle, low: float, high: float, opacity: float) -> Path:
    points = [shown.elbow(low + (high - low) * step / STEPS) for step in range(STEPS + 1)]
    return Path.polyline([APEX, *points], Style("accent", opacity=opacity), closed=True)


def _bones(shown: _Triangle) -> list[Primitive]:
    elbow, arc = shown.elbow(shown.angle), ARC / shown.scale
    curve = [shown.end(arc, shown.blade + shown.angle * step / STEPS) for step in range(STEPS + 1)]
    joints = [Circle(point, 7.0, Style("white", "ink", 2.5)) for point in (shown.top, APEX, elbow)]
    return [
        Line(shown.top, elbow, TAPE),
        Path.polyline(curve, Style("", "accent", 2.0)),
        Line(APEX, shown.top, SOLID),
        Line(APEX, elbow, SOLID),
        *joints,
    ]


def _words(shown: _Triangle, estimate: TraitEstimate) -> list[Primitive]:
    blade, arm, across = shown.lengths
    elbow = shown.elbow(shown.angle)
    middle = _middle(shown.top, elbow)
    left = min(middle[0], APEX[0] - ARC)
    return [
        Text((24.0, 40.0), best_value(estimate), 30.0, weight="bold"),
        Text((24.0, 64.0), f"95 % sure: {interval_text(estimate)}", 15.0, "quiet_text"),
        _beside(_middle(APEX, shown.top), f"blade {_cm(blade)}", (14.0, -6.0), "start"),
        _beside(_middle(APEX, elbow), f"upper arm {_cm(arm)}", (14.0, 14.0), "start"),
        _beside((left, middle[1]), f"across {_cm(across)}", (-12.0, 5.0), "end", "plumb"),
        _beside(shown.top, "top of blade", (13.0, -8.0), "start", "quiet_text"),
        _beside(elbow, "elbow", (-14.0, 18.0), "end", "quiet_text"),
        _beside(APEX, "point of", (14.0, -2.0), "start", "quiet_text"),
        _beside(APEX, "shoulder", (14.0, 15.0), "start", "quiet_text"),
    ]


def _middle(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2.0, (one[1] + other[1]) / 2.0


def _beside(point: Point, words: str, by: Point, anchor: str, role: str = "text") -> Text:
    return Text((point[0] + by[0], point[1] + by[1]), words, 14.0, role, anchor, halo="paper")


def _cm(length: float) -> str:
    return f"{number(length, 1)} cm"
