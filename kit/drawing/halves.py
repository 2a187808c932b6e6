"""The half lines of the views carried onto one dog, and closed to outlines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from kit.drawing.across import HalfLine, Row, View, views
from kit.drawing.outline import Form
from kit.drawing.spline import bezier, flatten
from kit.figure.breadths import Girt, breadths_of, neutral_breadths
from kit.figure.model import Figure
from kit.figure.template import Point, template

Array = NDArray[np.float64]

LEAST_GAP = 0.012  # between the middle and a leg, in parts of the dog's size
LEAST_STEP = 0.02  # between stations, likewise
WHOLE_ARCH = 0.05  # from the middle to the inside of a leg, likewise
CLEARANCE = 0.02  # of the leg's inside under the chest, likewise
# The foot: [part of its breadth inwards from the outside, height in parts of the template].
SOLE = ((0.10, 0.0), (0.28, 0.0), (0.34, 0.006), (0.40, 0.0), (0.60, 0.0), (0.66, 0.006),
        (0.72, 0.0), (0.90, 0.0))  # fmt: skip
SIDES = ((0.0, 0.020), (0.02, 0.046))
TOES = (0.22, 0.42, 0.64)
TURNED = 0.55  # how much of a turned-out foot's length is seen from the front
CARRIED = (0.20, 0.13)  # a leg leans over its turned-out foot below this height, over this depth


@dataclass(frozen=True)
class Outline:
    """A closed line: points (n, 2) in cm, and for each whether a reading places it.

    What is `standing` never dips under the floor.
    """

    points: Array
    known: tuple[bool, ...]
    standing: bool = True

    @property
    def segments(self) -> Array:
        """Bézier segments (n, 4, 2)."""
        segments = bezier(self.points, closed=True)
        if self.standing:
            segments[..., 1] = np.maximum(segments[..., 1], 0.0)
        return segments

    def drawn(self, steps: int = 6) -> Array:
        """Return the outline as a polygon, (n, 2) in cm."""
        return flatten(self.segments, steps)


@dataclass(frozen=True)
class Halves:
    """One dog seen from one side.

    Attributes
    ----------
    form : Form
    girt : Girt
    name : str
        ``front``, ``rear``, ``above``.
    """

    form: Form
    girt: Girt
    name: str

    @classmethod
    def of(cls, figure: Figure, name: str) -> Halves:
        """Prepare a figure for one view."""
        return cls(Form.of(figure), breadths_of(figure), name)

    @property
    def view(self) -> View:
        """What is known of this direction of looking."""
        return views()[self.name]

    @property
    def size(self) -> float:
        """Of the dog, in cm."""
        return self.form.figure.size

    @cached_property
    def outline(self) -> Outline:
        """The silhouette of the whole body."""
        if self.name == "above":
            half = self.carried(self.view.outer)[:, ::-1]
            return self._mirrored(half, [self._known(row) for row in self.view.outer.rows], 1)
        half, known = self._leg()
        return self._mirrored(half, known, 0)

    def carried(self, line: HalfLine) -> Array:
        """Return the right half of a line, (n, 2) in cm: distance from the middle, place."""
        places = self.places([row.place for row in line.rows])
        halves = [self.widened(row) for row in line.rows]
        return np.column_stack([halves, places])

    def shape(self, line: HalfLine) -> Array:
        """Return a closed shape across the middle from its half, as Bézier segments."""
        half = self.carried(line)
        return bezier(np.vstack([half, _across(half)[::-1][1:-1]]), closed=True)

    def widened(self, row: Row) -> float:
        """Return the distance of a row from the middle, in cm."""
        first, second = self.cm_of(row.first), self.cm_of(row.second)
        return row.half * ((1 - row.share) * first + row.share * second)

    def cm_of(self, key: str) -> float:
        """Return the cm of one template unit across what this breadth widens."""
        if key == "muzzle":
            return self.form.thickness["muzzle"]
        if key == "bone":
            return self.form.thickness["bone"]
        return self.girt[key] / neutral_breadths().lengths[key].value

    def places(self, neutral: Sequence[float]) -> Array:
        """Carry heights (from above: places along the body) from the template to this dog."""
        if not self.view.stations:
            head = np.asarray(neutral) * self.form.thickness["head"]
            risen: Array = self.form.points["nose"][1] + head
            return risen
        old, new = self._stations
        found = np.interp(neutral, old, new)
        given = np.asarray(neutral)
        under, beyond = np.minimum(given - old[0], 0.0), np.maximum(given - old[-1], 0.0)
        result: Array = found + (under + beyond) * self.size
        return result

    @cached_property
    def _stations(self) -> tuple[Array, Array]:
        axis = 0 if self.name == "above" else 1
        old = [template().points[name][axis] for name in self.view.stations]
        new = [self.form.points[name][axis] for name in self.view.stations]
        if axis == 1:
            old, new = [0.0, *old], [0.0, *new]
        for number in range(1, len(new)):
            # A neck carried upright puts the occiput above the shoulder: the order is kept.
            new[number] = max(new[number], new[number - 1] + LEAST_STEP * self.size)
        return np.array(old), np.array(new)

    def _known(self, row: Row) -> bool:
        return self._reads(row.first) and self._reads(row.second)

    def _reads(self, key: str) -> bool:
        if key == "muzzle":
            return self.form.figure.has_measured("occiput", "nose")
        return ("front_pastern_girth" if key == "bone" else key) in self.girt.read

    def _leg(self) -> tuple[Array, list[bool]]:
        """Return the right half from the middle of the crotch down, round the foot and up."""
        outer = self._outer()
        rows = self.view.outer.rows
        inner, ground = self._inner(outer), self.foot()
        crotch = self._crotch(inner[-1] if len(inner) else ground[0])
        spread = self.view.foot.spread in self.girt.read
        deep = self.form.figure.has_measured(self.view.crotch.point)
        known = [deep] * len(crotch) + [spread] * (len(inner) + len(ground))
        half = np.vstack([crotch[::-1], inner[::-1], ground, outer])
        return half, known + [self._known(row) for row in rows]

    def _outer(self) -> Array:
        half = self.carried(self.view.outer)
        neutral = np.array([row.place for row in self.view.outer.rows])
        lean = np.clip((CARRIED[0] - neutral) / CARRIED[1], 0.0, 1.0)
        turn = sin(radians(self.girt[self.view.foot.turnout]))
        half[:, 0] -= lean * 0.30 * self.girt["foot_length"] * turn
        half[:, 0] = np.maximum(half[:, 0], 3 * LEAST_GAP * self.size)
        return half

    def _inner(self, outer: Array) -> Array:
        """Return the inside of the leg upwards, as far as the chest or the thighs leave it."""
        rows = self.view.inner.rows
        heights = self.places([row.place for row in rows])
        widths = np.array([self.widened(row) for row in rows])
        outside = np.interp(heights, outer[:, 1], outer[:, 0])
        inside = np.maximum(outside - widths, LEAST_GAP * self.size)
        free = heights < self._ceiling() - CLEARANCE * self.size
        return np.column_stack([inside, heights])[free]

    def _ceiling(self) -> float:
        crotch = self.view.crotch
        rise = min(rise for _, rise in crotch.rows)
        return max(self.form.points[crotch.point][1] + rise * self.size, 0.12 * self.size)

    def _crotch(self, leg: Array) -> Array:
        """Return the line from the leg to the middle, upwards or inwards."""
        crotch = self.view.crotch
        lowest = min(rise for _, rise in crotch.rows)
        # Between legs that nearly touch the arch is as small as the gap.
        arch = self.size * min(1.0, leg[0] / (WHOLE_ARCH * self.size))
        return np.array(
            [
                (leg[0] * (1 - part), self._ceiling() + (rise - lowest) * arch)
                for part, rise in crotch.rows
            ]
        )

    def foot(self) -> Array:
        """Return the right foot from its inside over the sole to its outside, (n, 2) in cm."""
        inside, outside, tall = self.foot_reach()
        wide = outside - inside
        rising = [(inside + part * wide, y * tall) for part, y in reversed(SIDES)]
        sole = [(outside - part * wide, y * tall) for part, y in reversed(SOLE)]
        falling = [(outside - part * wide, y * tall) for part, y in SIDES]
        return np.array([*rising, *sole, *falling])

    def foot_reach(self) -> tuple[float, float, float]:
        """Return where the right foot begins and ends from the middle, and the cm of its height."""
        turn = radians(self.girt[self.view.foot.turnout])
        long, broad = self.girt["foot_length"], self.girt["foot_breadth"]
        wide = broad * cos(turn) + TURNED * long * abs(sin(turn))
        outside = max(self.girt[self.view.foot.spread] / 2, 4 * LEAST_GAP * self.size)
        inside = max(outside - wide, LEAST_GAP * self.size)
        return inside, outside, self.form.thickness["foot"]

    def _mirrored(self, half: Array, known: Sequence[bool], axis: int) -> Outline:
        """Close a half line by its mirror image; points in the middle are not doubled."""
        sign = np.array([-1.0, 1.0]) if axis == 0 else np.array([1.0, -1.0])
        off = [number for number in range(len(half)) if abs(half[number, axis]) > 1e-9]
        other = (half[off] * sign)[::-1]
        flags = [*known, *[known[number] for number in off][::-1]]
        return Outline(np.vstack([half, other]), tuple(flags), standing=axis == 0)


def _across(half: Array) -> Array:
    result: Array = half * np.array([-1.0, 1.0])
    return result


def head_halves(form: Form, girt: Girt) -> Halves:
    """Return the head seen straight from the front; places are rises about the tip of the nose."""
    return Halves(form, girt, "head")


def tail_behind(form: Form) -> Array:
    """Return the tail seen from behind, closed, (n, 2) in cm."""
    (_, root), (_, tip) = form.points["set_on"], form.points["tail_tip"]
    thick = form.thickness["bone"]
    rows: tuple[Point, ...] = (
        (0.034, 0.0),
        (0.026, 0.25),
        (0.020, 0.6),
        (0.013, 0.9),
        (0.006, 1.0),
    )
    right = [(half * thick, root + part * (tip - root)) for half, part in rows]
    top = root + (0.022 * thick if tip < root else -0.022 * thick)
    left = [(-x, y) for x, y in reversed(right)]
    return np.array([(0.0, top), *right, *left])
