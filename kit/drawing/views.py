"""The dog from the front, from behind and from above."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from kit.drawing.across import HalfLine, views
from kit.drawing.annotations import floor, step_of
from kit.drawing.halves import TOES, Halves, head_halves, tail_behind
from kit.drawing.layout import FLOOR_MARGIN, TOP_MARGIN, Layout
from kit.drawing.outline import Form
from kit.drawing.scene import Circle, Group, Line, Primitive, Scene, Style, Text
from kit.drawing.shading import FAINT_DASH, brush, edge, furrow, lit, path, rounded
from kit.drawing.spline import bezier
from kit.figure.model import Figure

Array = NDArray[np.float64]

MARGIN = 62.0  # px beside a single view, room for the heights
DEPTH = 0.012  # how much higher on the picture the feet behind stand, in parts of the dog's size
LIT_WIDTH, CREASE_WIDTH, FURROW_WIDTH = 0.085, 0.0055, 0.030  # in parts of the dog's size
HOCK = 0.030  # half a hock's breadth from above, in parts of the dog's size
CAPTION = "dashed = breadth not measured: neutral dog"
NAMES = {"side": "from the side", "front": "from the front", "rear": "from behind",
         "above": "from above"}  # fmt: skip
CLEFT = Style("contour", opacity=0.75)
MIRROR = np.array([-1.0, 1.0])
OVER = np.array([1.0, -1.0])


@dataclass(frozen=True)
class Look:
    """One dog seen from one side, on one picture."""

    halves: Halves
    layout: Layout

    @property
    def size(self) -> float:
        """Of the dog, in px."""
        return self.halves.size * self.layout.scale

    @property
    def form(self) -> Form:
        """The dog ready to be drawn."""
        return self.halves.form

    def seen(self, name: str) -> Look:
        """Return the same dog from another side."""
        return Look(replace(self.halves, name=name), self.layout)

    def deeper(self) -> Look:
        """Return the same, standing a little farther off."""
        x, y = self.layout.origin
        return Look(self.halves, replace(self.layout, origin=(x, y - DEPTH * self.size)))


def front_view(
    figure: Figure, *, title: str = "", width: float = 460.0, height: float = 760.0
) -> Scene:
    """Draw a dog from the front.

    Parameters
    ----------
    figure : Figure
        Breadths, spreads, girths and turn-outs are taken from its readings; what was not read
        follows a neutral dog and is dashed.
    title : str
        Heading; empty for none.
    width, height : float
        Size of the scene in px.

    Returns
    -------
    Scene
    """
    return _standing(figure, "front", title, width, height)


def rear_view(
    figure: Figure, *, title: str = "", width: float = 460.0, height: float = 760.0
) -> Scene:
    """Draw a dog from behind; parameters as for the front."""
    return _standing(figure, "rear", title, width, height)


def top_view(
    figure: Figure, *, title: str = "", width: float = 1100.0, height: float = 420.0
) -> Scene:
    """Draw a dog from above, facing right; parameters as for the front."""
    halves = Halves.of(figure, "above")
    drawn = halves.outline.drawn()
    low, high = drawn[:, 0].min(), drawn[:, 0].max()
    half = greatest_half(halves)
    room = height - TOP_MARGIN - FLOOR_MARGIN
    scale = min((width - 2 * MARGIN) / (high - low), room / (2 * half))
    origin = ((width - (low + high) * scale) / 2, TOP_MARGIN + room / 2)
    layout = Layout(width, height, float(scale), origin, (float(low), float(high)), float(half))
    parts = [*plan(layout), *above(Look(halves, layout)), *words(halves, layout, title)]
    return Scene(width, height, tuple(parts), title or "From above", describe(figure, "above"))


def greatest_half(halves: Halves) -> float:
    """Return half the greatest breadth of the dog in any view, in cm."""
    drawn = [replace(halves, name=name).outline.points for name in ("front", "rear")]
    drawn.append(replace(halves, name="above").outline.points[:, ::-1])
    return float(max(np.abs(points[:, 0]).max() for points in drawn)) * 1.06


def _standing(figure: Figure, name: str, title: str, width: float, height: float) -> Scene:
    halves = Halves.of(figure, name)
    half, top = greatest_half(halves), float(halves.form.drawn()[:, 1].max())
    scale = min((width - 2 * MARGIN) / (2 * half), (height - TOP_MARGIN - FLOOR_MARGIN) / top)
    origin = (width / 2, height - FLOOR_MARGIN)
    layout = Layout(width, height, scale, origin, (-half, half), top)
    look = Look(halves, layout)
    parts = [*floor(layout), *DRAWN[name](look), *words(halves, layout, title)]
    return Scene(width, height, tuple(parts), title or NAMES[name], describe(figure, name))


def _front(look: Look) -> Iterator[Primitive]:
    yield from _behind(look.seen("rear").deeper())
    yield from _far(look, look.halves.view.behind["ribs"])
    yield from _whole(look)
    yield from _toes(look)
    yield from _face(look)


def _rear(look: Look) -> Iterator[Primitive]:
    yield from _skull(look, "far_coat")
    yield from _behind(look.seen("front").deeper())
    yield from _far(look, look.halves.view.behind["ribs"])
    yield from _whole(look)
    yield from _toes(look)
    yield from _tail(look)


DRAWN: dict[str, Callable[[Look], Iterator[Primitive]]] = {"front": _front, "rear": _rear}


def _whole(look: Look) -> Iterator[Primitive]:
    outline, view = look.halves.outline, look.halves.view
    body = path(outline.segments, look.layout, Style("coat"), closed=True)
    yield body
    inside: list[Primitive] = list(rounded(outline.segments, look.layout, look.size, 0.7))
    for line in view.lit.values():
        for segments in _both(look, line):
            inside += lit(segments, look.layout, LIT_WIDTH * look.size)
    for line in view.lines.values():
        for segments in _both(look, line):
            inside += furrow(segments, look.layout, FURROW_WIDTH * look.size)
            crease = Style("contour", opacity=0.7)
            inside.append(brush(segments, look.layout, CREASE_WIDTH * look.size, crease))
    yield Group(tuple(inside), body)
    yield from edge(outline.segments, outline.known, look.layout)


def _both(look: Look, line: HalfLine) -> tuple[Array, Array]:
    """Return an open half line and its mirror image as Bézier segments."""
    half = look.halves.carried(line)
    if look.halves.name == "above":
        half = half[:, ::-1]
        return bezier(half, closed=False), bezier(half * OVER, closed=False)
    return bezier(half, closed=False), bezier(half * MIRROR, closed=False)


def _filled(segments: Array, look: Look, role: str, part: float = 0.5) -> Iterator[Primitive]:
    shape = path(segments, look.layout, Style(role), closed=True)
    yield shape
    yield Group(tuple(rounded(segments, look.layout, look.size, part)), shape)
    yield replace(shape, style=Style("", "contour", 1.2))


def _behind(look: Look) -> Iterator[Primitive]:
    yield from _filled(look.halves.outline.segments, look, "far_coat")


def _far(look: Look, line: HalfLine) -> Iterator[Primitive]:
    yield from _filled(look.halves.shape(line), look, "far_coat")


def _toes(look: Look) -> Iterator[Primitive]:
    """Yield the clefts between the toes, which point where the foot points."""
    inside, outside, tall = look.halves.foot_reach()
    turn = sin(radians(look.halves.girt[look.halves.view.foot.turnout]))
    for part in TOES:
        low = outside - (part + 0.06 * (part - 0.42)) * (outside - inside)
        back = low - 0.30 * turn * (outside - inside)
        half = np.array([(low, 0.004 * tall), (low, 0.016 * tall), (back, 0.032 * tall)])
        for segments in (bezier(half, closed=False), bezier(half * MIRROR, closed=False)):
            yield brush(segments, look.layout, 0.7 * CREASE_WIDTH * look.size, CLEFT)


def _skull(look: Look, role: str) -> Iterator[Primitive]:
    head = head_halves(look.form, look.halves.girt)
    known = "skull_breadth" in look.halves.girt.read
    segments = head.shape(head.view.shapes["skull"])
    shape = path(segments, look.layout, Style(role), closed=True)
    yield shape
    yield Group(tuple(rounded(segments, look.layout, look.size, 0.5)), shape)
    look_of = Style("", "ink", 1.8) if known else Style("", "contour", 1.4, FAINT_DASH)
    yield replace(shape, style=look_of)
    ear = head.carried(head.view.shapes["ear"])
    for half in (ear, ear * MIRROR):
        yield from _filled(bezier(half, closed=True), look, "ear_coat", 0.4)


def _face(look: Look) -> Iterator[Primitive]:
    head = head_halves(look.form, look.halves.girt)
    scale = look.layout.scale * look.form.thickness["head"]
    yield _chin_shadow(look, head, scale)
    yield from _skull(look, "coat")
    skull = path(head.shape(head.view.shapes["skull"]), look.layout, Style(), closed=True)
    yield Group(tuple(_modelled(look, head, scale)), skull)
    for line in head.view.lines.values():
        half = head.carried(line)
        for segments in (bezier(half, closed=False), bezier(half * MIRROR, closed=False)):
            yield brush(segments, look.layout, 0.006 * scale, Style("contour"))
    yield path(head.shape(head.view.shapes["nose"]), look.layout, Style("nose"), closed=True)
    yield from _eyes(look, head.carried(head.view.eye), scale, OVER * -1)


def _chin_shadow(look: Look, head: Halves, scale: float) -> Primitive:
    x, y = look.layout.origin
    lower = replace(look.layout, origin=(x, y + 0.030 * scale))
    shade = Style("coat_shade", opacity=0.30)
    dark = path(head.shape(head.view.shapes["skull"]), lower, shade, closed=True)
    body = path(look.halves.outline.segments, look.layout, Style(), closed=True)
    return Group((dark,), body)


def _modelled(look: Look, head: Halves, scale: float) -> Iterator[Primitive]:
    """Yield the light on forehead and muzzle, and the shade beside the muzzle."""
    for line in head.view.behind.values():
        half = head.carried(line)
        for side in (half, half * MIRROR):
            yield from furrow(bezier(side, closed=False), look.layout, 0.036 * scale)
    for line in head.view.lit.values():
        half = head.carried(line)
        for side in (half, half * MIRROR):
            yield from lit(bezier(side, closed=False), look.layout, 0.044 * scale)


def _eyes(look: Look, places: Array, scale: float, mirror: Array) -> Iterator[Primitive]:
    for place in (places[0], places[0] * mirror):
        x, y = look.layout.at((float(place[0]), float(place[1])))
        yield Circle((x, y), 0.0150 * scale, Style("eye"))
        yield Circle((x, y), 0.0115 * scale, Style("iris"))
        yield Circle((x, y), 0.0065 * scale, Style("eye"))
        yield Circle((x + 0.004 * scale, y - 0.005 * scale), 0.0028 * scale, Style("eye_light"))


def _tail(look: Look) -> Iterator[Primitive]:
    yield from _filled(bezier(tail_behind(look.form), closed=True), look, "coat", 0.3)


def above(look: Look) -> Iterator[Primitive]:
    """Yield the dog from above; feet and hocks that stand beyond the body show."""
    for leg in _hind_legs(look):
        yield from _filled(leg, look, "far_coat", 0.3)
    for pad in _pads(look):
        yield from _filled(pad, look, "far_coat", 0.3)
    yield from _whole(look)
    for pad in _pads(look):
        yield path(pad, look.layout, Style("", "contour", 1.0, (3.0, 3.0), 0.8), closed=True)
    halves = look.halves
    ear = halves.carried(halves.view.shapes["ear"])[:, ::-1]
    for half in (ear, ear * OVER):
        yield from _filled(bezier(half, closed=True), look, "ear_coat", 0.4)
    nose = halves.carried(halves.view.shapes["nose"])[:, ::-1]
    closed = bezier(np.vstack([nose, (nose * OVER)[::-1][1:-1]]), closed=True)
    yield path(closed, look.layout, Style("nose"), closed=True)
    scale = look.layout.scale * look.form.thickness["head"]
    yield from _eyes(look, halves.carried(halves.view.eye)[:, ::-1], 0.7 * scale, OVER)
    spine = [look.layout.at((look.form.points[key][0], 0.0)) for key in ("withers", "set_on")]
    yield Line(spine[0], spine[1], Style("", "contour", 1.2, (10.0, 4.0, 2.0, 4.0)))


def _hind_legs(look: Look) -> Iterator[Array]:
    """Yield the hind legs from above as closed Bézier segments, from the hip out over the foot.

    Without them the feet of a dog that stands far back would lie loose behind it.
    """
    at, girt = look.form.points, look.halves.girt
    bone = look.form.thickness["bone"]
    hock = girt["hock_spread"] / 2 - HOCK * bone
    root, heel = at["hip_joint"][0], at["point_of_hock"][0]
    rows = [(root, 0.24 * girt["hip_breadth"], 0.19 * girt["hip_breadth"]),
            (0.4 * root + 0.6 * heel, hock, 1.2 * HOCK * bone),
            (heel, hock, 0.9 * HOCK * bone)]  # fmt: skip
    outer = [(x, y + wide) for x, y, wide in rows]
    inner = [(x, y - wide) for x, y, wide in reversed(rows)]
    leg = np.array([*outer, *inner])
    yield bezier(leg, closed=True)
    yield bezier(leg * OVER, closed=True)


def _pads(look: Look) -> Iterator[Array]:
    """Yield the four feet from above as closed Bézier segments, turned as they were read."""
    girt = look.halves.girt
    long, broad = girt["foot_length"], girt["foot_breadth"]
    for name, toe in (("front", "front_toe"), ("rear", "rear_toe")):
        foot = views()[name].foot
        turn, aside = radians(girt[foot.turnout]), girt[foot.spread] / 2 - broad / 2
        reach = look.form.points[toe][0] - long / 2
        pad = np.array([(0.5 * long, 0.0), (0.36 * long, 0.35 * broad), (0.0, 0.5 * broad),
                        (-0.36 * long, 0.34 * broad), (-0.5 * long, 0.0),
                        (-0.36 * long, -0.34 * broad), (0.0, -0.5 * broad),
                        (0.36 * long, -0.35 * broad)])  # fmt: skip
        matrix = np.array([[cos(turn), sin(turn)], [-sin(turn), cos(turn)]])
        placed = pad @ matrix + np.array([reach, aside])
        yield bezier(placed, closed=True)
        yield bezier(placed * OVER, closed=True)


def plan(layout: Layout) -> Iterator[Primitive]:
    """Yield a grid in cm under a dog seen from above."""
    step, half = step_of(layout), layout.top
    first, last = layout.reach
    left, right = layout.at((first, 0.0))[0], layout.at((last, 0.0))[0]
    bottom = layout.at((0.0, -half))[1]
    for number in range(int((last - first) / step) + 1):
        x = left + number * step * layout.scale
        yield Line((x, layout.at((0.0, half))[1]), (x, bottom + 6), Style("", "hairline", 0.8))
        yield Text((x, bottom + 19), f"{number * step:g}", 10.5, "quiet_text", "middle")
    for number in range(-int(half / step), int(half / step) + 1):
        y = layout.at((0.0, number * step))[1]
        yield Line((left, y), (right, y), Style("", "hairline", 0.8))
        yield Text((left - 8, y + 3.5), f"{abs(number) * step:g}", 10.0, "quiet_text", "end")


def words(halves: Halves, layout: Layout, title: str) -> Iterator[Primitive]:
    """Yield the heading, and what dashes mean where there are any."""
    if title:
        yield Text((layout.left, 38.0), title, 20.0, weight="bold")
    if not all(halves.outline.known):
        yield Text((layout.width - 24.0, layout.height - 14.0), CAPTION, 11.0, "quiet_text", "end")


def describe(figure: Figure, name: str) -> str:
    """Say what a view shows, for who cannot see it."""
    girt = Halves.of(figure, "front").girt
    return (
        f"A dog {NAMES[name]}, drawn to scale, {figure.height:.1f} cm high at the withers; "
        f"{len(girt.read)} of {len(girt.values)} breadths, girths and turn-outs were read."
    )
