"""The drawn form of one dog: pins of the anatomy carried onto its figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import atan2, cos, hypot, pi, radians, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from kit.drawing.anatomy import Bone, Pin, anatomy
from kit.drawing.pins import Lines, helping_pin, shape_pins
from kit.drawing.spline import bezier, flatten
from kit.figure.breadths import neutral_breadths, substance
from kit.figure.model import Figure
from kit.figure.template import Point, template

Array = NDArray[np.float64]

# Thickness of the drawn template where a reading can stand against it, in parts of the height.
DRAWN = {"front_pastern": 0.064, "neck": 0.215, "thigh": 0.255}

MUZZLE_DEPTHS, SKULL_DEPTHS = (0.80, 1.35), (0.88, 1.18)  # how far from neutral they may go
CLEARANCE = 0.015  # least rise from pin to pin of a leg, in parts of the dog's size
FOOT_TOPS = {"clear_heel": 0.068, "clear_toes": 0.095}  # in parts of the height of the template
LEAST_FLANK = 0.085  # of the fold of the flank before the stifle, in parts of the template
LEAST_TAIL_ANGLE = radians(17.0)  # between the tail and the line from its root to the buttock


@dataclass(frozen=True)
class Form:
    """A figure ready to be drawn.

    Attributes
    ----------
    figure : Figure
    points : Mapping of str to (float, float)
        The figure's points and the drawing's helping points, in cm.
    thickness : Mapping of str to float
        Centimetres per template unit across each kind of frame.
    """

    figure: Figure
    points: Mapping[str, Point]
    thickness: Mapping[str, float]

    @classmethod
    def of(cls, figure: Figure) -> Form:
        """Prepare a figure."""
        thick = _thicknesses(figure)
        points = {
            **figure.points,
            "tail_tip": _lifted_tail(figure),
            "tuck_up": _cleared_flank(figure, thick["thigh"]),
        }
        for key in anatomy().points:
            place = helping_pin(key).carried(Lines.of(points), _across(thick))
            points[key] = (float(place[0, 0]), float(place[0, 1]))
        return cls(figure, points, thick)

    @cached_property
    def _places(self) -> Mapping[str, Array]:
        """Every shape's pins on this dog, (n, 2) in cm."""
        pins, rows = shape_pins()
        places = pins.carried(Lines.of(self.points), _across(self.thickness))
        return {name: places[part] for name, part in rows.items()}

    def kept(self, name: str) -> tuple[tuple[Pin, ...], Array]:
        """Return the pins of a shape drawn on this dog and their places, (n, 2) in cm."""
        pins, places = anatomy().shapes[name].pins, self._places[name]
        heights: list[float] = places[:, 1].tolist()
        rows: list[int] = []
        for row, pin in enumerate(pins):
            if not pin.only or self._keeps(pin.only, heights[rows[-1]], heights[row]):
                rows.append(row)
        return tuple(pins[row] for row in rows), places[rows]

    def shape(self, name: str) -> Array:
        """Return the Bézier segments of a named shape, (segments, 4, 2) in cm."""
        return self.curve(name, self.kept(name)[1])

    def drawn(self, steps: int = 4) -> Array:
        """Return the closed outline of the near side as a polygon, (n, 2) in cm."""
        return flatten(self.shape("outline"), steps)

    def curve(self, name: str, places: Array) -> Array:
        """Join places of a shape by Bézier segments that never dip under the floor."""
        shape = anatomy().shapes[name]
        segments = bezier(places, closed=shape.closed)
        segments[..., 1] = np.maximum(segments[..., 1], 0.0)
        result: Array = segments + np.array(shape.shift) * self.figure.size
        return result

    def bone(self, bone: Bone) -> Array:
        """Return the closed Bézier segments of a bone, (segments, 4, 2) in cm."""
        left = [(place, one) for place, one, _ in bone.profile]
        right = [(place, -other) for place, _, other in reversed(bone.profile)]
        return bezier(self._beside(bone, left + right), closed=True)

    def ridge(self, bone: Bone) -> Array:
        """Return the Bézier segments of the line on a bone, (segments, 4, 2) in cm."""
        return bezier(self._beside(bone, bone.ridge), closed=False)

    def measured(self, pin: Pin) -> bool:
        """Tell whether the points a pin hangs on are placed by readings."""
        frames = (anatomy().frames[pin.first], anatomy().frames[pin.second])
        ends = {name for frame in frames for name in (frame.start, frame.end)}
        return self.figure.has_measured(*(ends - set(anatomy().points)))

    def _keeps(self, rule: str, last: float, here: float) -> bool:
        """Tell whether a pin at this height follows one at that height, in cm."""
        step = CLEARANCE * self.figure.size
        if rule == "under":
            return here < last - step
        if rule == "over":
            return here > last + step
        clear = here > FOOT_TOPS[rule] * self.thickness["foot"]
        # A heel's line runs down: on thick short pasterns a pin may come to lie above the last.
        return clear and (rule == "clear_toes" or here < last)

    def _beside(self, bone: Bone, rows: Sequence[Sequence[float]]) -> Array:
        start, end = (np.array(self.points[name]) for name in bone.ends)
        way = end - start
        across = np.array([-way[1], way[0]]) / max(hypot(way[0], way[1]), 1e-9)
        places = np.array(rows)
        thick = self.thickness[bone.thickness]
        result: Array = start + places[:, :1] * way + places[:, 1:] * thick * across
        return result


def _across(thickness: Mapping[str, float]) -> Array:
    """Return the thickness of every frame, shape (frames,)."""
    return np.array([thickness[frame.thickness] for frame in anatomy().frames.values()])


def _lifted_tail(figure: Figure) -> Point:
    """Carry the tail clear of the buttock; its direction is drawn, never measured."""
    root, tip, buttock = (figure[key] for key in ("set_on", "tail_tip", "point_of_buttock"))
    tail = atan2(tip[1] - root[1], root[0] - tip[0])
    rump = atan2(buttock[1] - root[1], root[0] - buttock[0])
    angle, length = max(tail, rump + LEAST_TAIL_ANGLE), hypot(tip[0] - root[0], tip[1] - root[1])
    return root[0] - length * cos(angle), root[1] + length * sin(angle)


def _cleared_flank(figure: Figure, thigh: float) -> Point:
    """Carry the fold of the flank clear of the knee; only its height is ever measured."""
    x, y = figure["tuck_up"]
    return max(x, figure["stifle"][0] + LEAST_FLANK * thigh), y


def _thicknesses(figure: Figure) -> dict[str, float]:
    def read(key: str, drawn: float, part: float = 1.0) -> float:
        """Use a girth or breadth where it was read, as long as it is within reason."""
        plain = drawn * figure.size * heavy / part
        ratio = figure.readings.get(key, plain) * part / drawn
        return figure.size * min(max(ratio / figure.size, 0.7), 1.5)

    neutral, heavy = template().points, substance(figure)
    head = _head_scale(figure)
    bone = read("front_pastern_girth", DRAWN["front_pastern"], 1.1 / pi)
    foot = figure["front_pastern_bottom"][1] / neutral["front_pastern_bottom"][1]
    return {
        "head": head,
        "skull": head * _skull_depth(figure, head),
        "muzzle": head * _muzzle_depth(figure),
        "neck": read("neck_girth", DRAWN["neck"], 1.15 / pi),
        "trunk": figure.height,
        "size": figure.size,
        "bone": bone,
        "thigh": read("thigh_breadth", DRAWN["thigh"]),
        "foot": foot * sqrt(bone / figure.size),
    }


def _head_scale(figure: Figure) -> float:
    return _apart(figure.points, "occiput", "nose") / _apart(template().points, "occiput", "nose")


def _apart(points: Mapping[str, Point], one: str, other: str) -> float:
    return hypot(points[one][0] - points[other][0], points[one][1] - points[other][1])


def _muzzle_depth(figure: Figure) -> float:
    """Return how much deeper than neutral a muzzle is: the shorter of the head, the deeper."""
    share, plain = (
        _apart(points, "stop", "nose") / _apart(points, "occiput", "nose")
        for points in (figure.points, template().points)
    )
    return float(min(max(sqrt(plain / share), MUZZLE_DEPTHS[0]), MUZZLE_DEPTHS[1]))


def _skull_depth(figure: Figure, head: float) -> float:
    """Return how much deeper than neutral a skull is: a broad one is also deeper."""
    neutral = neutral_breadths().lengths["skull_breadth"].value * head
    part = sqrt(figure.readings.get("skull_breadth", neutral) / neutral)
    return float(min(max(part, SKULL_DEPTHS[0]), SKULL_DEPTHS[1]))


def outline(figure: Figure, steps: int = 6) -> Array:
    """Return the closed outline of the near side as a polygon.

    Parameters
    ----------
    figure : Figure
    steps : int
        Points per curve segment.

    Returns
    -------
    array of shape (n, 2)
        In cm, without repeating the first point.
    """
    return Form.of(figure).drawn(steps)
