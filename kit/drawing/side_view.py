"""The dog in profile, drawn to scale from its figure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from kit.drawing.anatomy import Bone, anatomy
from kit.drawing.annotations import angle_marks, floor, plumb_lines
from kit.drawing.layout import Layout
from kit.drawing.outline import Form
from kit.drawing.scene import Circle, Group, Path, Primitive, Scene, Segment, Style, Text
from kit.drawing.spline import tapered
from kit.figure.model import Figure
from kit.figure.template import Point

Array = NDArray[np.float64]

INK_WIDTH = 2.0  # px
FAINT_DASH = (5.0, 4.0)
# Soft inner furrows of the body, with their greatest width in parts of the dog's size.
FURROWS = {
    "neck_shoulder": 0.075,
    "shoulder": 0.085,
    "arm": 0.050,
    "ribs": 0.060,
    "flank": 0.080,
    "thigh": 0.075,
    "calf": 0.040,
    "tendon": 0.022,
    "cheek": 0.034,
}
LIT = {
    "lit_neck": 0.13,
    "lit_shoulder": 0.15,
    "lit_ribs": 0.17,
    "lit_loin": 0.075,
    "lit_thigh": 0.16,
    "lit_calf": 0.075,
    "lit_forearm": 0.034,
    "lit_head": 0.055,
}
CREASES = {
    "neck_shoulder": 0.0045,
    "arm": 0.0055,
    "calf": 0.005,
    "cheek": 0.004,
    "elbow": 0.0065,
    "tendon": 0.004,
    "thigh": 0.0035,
    "rear_toes": 0.0055,
    "rear_toes_behind": 0.0055,
    "front_toes": 0.0055,
    "front_toes_behind": 0.0055,
}
# Opacities whose eighth-bit steps round all three colours alike, so thin layers keep their tint.
SHADE_OPACITY = 16 / 255
LIGHT_OPACITY = 26 / 255
SOFT = (1.0, 0.85, 0.7, 0.55, 0.4, 0.22)  # nested widths of one soft stroke
# Shade inside the edge of the body, as strokes of the outline moved towards the light: widths in
# parts of the dog's size, each laid on with this opacity.
RINGS = (0.178, 0.148, 0.121, 0.096, 0.073, 0.052, 0.033)
LIGHT = (0.010, -0.020)  # towards the light, in parts of the dog's size on the picture
CAPTION = "dashed = not measured: neutral template"


def side_view(
    figure: Figure,
    *,
    title: str = "",
    angles: Mapping[str, tuple[float, float]] | None = None,
    show_bones: bool = True,
    show_plumb: bool = True,
    width: float = 1100.0,
    height: float = 760.0,
) -> Scene:
    """Draw a dog from the side, facing right.

    Parameters
    ----------
    figure : Figure
    title : str
        Heading; empty for none.
    angles : Mapping of str to (float, float), optional
        Trait key to value and standard uncertainty in degrees; drawn as arcs with 95 % limits.
    show_bones, show_plumb : bool
        Whether to lay the bones over the body, and the plumb lines.
    width, height : float
        Size of the scene in px.

    Returns
    -------
    Scene
    """
    form = Form.of(figure)
    layout = Layout.fit(form, width, height)
    primitives = [
        *floor(layout),
        *_far_side(form, layout),
        *_body(form, layout),
        *(_bones(form, layout) if show_bones else ()),
        *(plumb_lines(form, layout) if show_plumb else ()),
        *angle_marks(form, layout, angles or {}),
        *_lettering(figure, layout, title),
    ]
    return Scene(width, height, tuple(primitives), title or "Side view", _describe(figure))


def path(segments: Array, layout: Layout, style: Style, *, closed: bool) -> Path:
    """Turn Bézier segments in cm into a path of the scene."""
    return placed_path(layout.many(segments), style, closed=closed)


def placed_path(placed: Array, style: Style, *, closed: bool) -> Path:
    """Turn Bézier segments in px, (segments, 4, 2), into a path."""
    pieces = tuple(
        Segment(_pair(end), _pair(first), _pair(second)) for _, first, second, end in placed
    )
    return Path(_pair(placed[0, 0]), pieces, style, closed)


def _pair(point: Array) -> Point:
    return float(point[0]), float(point[1])


def _far_side(form: Form, layout: Layout) -> Iterator[Primitive]:
    for name in ("far_fore", "far_hind"):
        shape = form.shape(name)
        leg = path(shape, layout, Style("far_coat"), closed=True)
        yield leg
        yield Group(tuple(_shade(form, layout, shape, 0.5)), leg)
        yield replace(leg, style=Style("", "contour", 1.2))


def _body(form: Form, layout: Layout) -> Iterator[Primitive]:
    shape = form.shape("outline")
    body = path(shape, layout, Style("coat"), closed=True)
    yield body
    yield Group((*_shade(form, layout, shape), *_modelling(form, layout)), body)
    yield from _edge(form, layout)
    for name in ("rear_nail", "front_nail"):
        yield path(form.shape(name), layout, Style("nose"), closed=True)
    yield from _head(form, layout)


def _shade(form: Form, layout: Layout, shape: Array, part: float = 1.0) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    moved = layout.many(shape) + np.array(LIGHT) * size * part
    ring = placed_path(moved, Style(), closed=True)
    for width in RINGS:
        look = Style("", "coat_shade", width * size * part, opacity=SHADE_OPACITY)
        yield replace(ring, style=look)


def _modelling(form: Form, layout: Layout) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    light = Style("", "coat_light", opacity=LIGHT_OPACITY)
    for name, width in LIT.items():
        yield from _soft(form.shape(name), layout, width * size, light, SOFT)
    shade = Style("", "coat_shade", opacity=SHADE_OPACITY)
    for name, width in FURROWS.items():
        yield from _soft(form.shape(name), layout, width * size, shade, SOFT[::2])
    for name, width in CREASES.items():
        yield _brush(form.shape(name), layout, width * size, Style("contour", opacity=0.7))


def _soft(
    shape: Array, layout: Layout, width: float, look: Style, parts: tuple[float, ...]
) -> Iterator[Primitive]:
    """Lay on one soft stroke as nested strokes of the same line."""
    line = path(shape, layout, look, closed=False)
    for part in parts:
        yield replace(line, style=replace(look, width=width * part))


def _brush(shape: Array, layout: Layout, width: float, look: Style) -> Path:
    points = tapered(layout.many(shape), width)
    return Path.polyline([_pair(point) for point in points], look, closed=True)


def _edge(form: Form, layout: Layout) -> Iterator[Primitive]:
    """Stroke the outline: full where measured, dashed where it is the template's."""
    pins, places = form.kept("outline")
    segments = form.curve("outline", places)
    known = [form.measured(pin) for pin in pins]
    flags = [one and two for one, two in zip(known, known[1:] + known[:1], strict=True)]
    for solid, run in groupby(range(len(segments)), key=lambda number: flags[number]):
        look = Style("", "ink", INK_WIDTH) if solid else Style("", "contour", 1.4, FAINT_DASH)
        yield path(segments[list(run)], layout, look, closed=False)


def _head(form: Form, layout: Layout) -> Iterator[Primitive]:
    size = layout.scale * form.thickness["head"]
    yield from _ear(form, layout)
    yield path(form.shape("nose"), layout, Style("nose"), closed=True)
    yield _brush(form.shape("mouth"), layout, 0.0055 * size, Style("ink"))
    yield from _eye(form, layout, size)


def _ear(form: Form, layout: Layout) -> Iterator[Primitive]:
    shape = form.shape("ear")
    ear = path(shape, layout, Style("ear_coat"), closed=True)
    yield ear
    yield Group(tuple(_shade(form, layout, shape, 0.6)), ear)
    yield replace(ear, style=Style("", "ink", 1.4))
    fold = 0.006 * layout.scale * form.thickness["head"]
    yield _brush(form.shape("ear_fold"), layout, fold, Style("contour"))


def _eye(form: Form, layout: Layout, size: float) -> Iterator[Primitive]:
    shape = form.shape("eye")
    x, y = _pair(layout.many(shape[:, 0]).mean(axis=0))
    lids = path(shape, layout, Style("eye"), closed=True)
    yield lids
    yield Group((Circle((x, y), 0.0135 * size, Style("iris")),), lids)
    yield Circle((x, y), 0.0075 * size, Style("eye"))
    yield Circle((x + 0.0045 * size, y - 0.0050 * size), 0.0030 * size, Style("eye_light"))
    yield replace(lids, style=Style("", "ink", 1.2))
    yield _brush(form.shape("brow"), layout, 0.006 * size, Style("contour"))


def _bones(form: Form, layout: Layout) -> Iterator[Primitive]:
    for bone in anatomy().bones.values():
        known = form.figure.has_measured(*bone.ends)
        shape = path(
            form.bone(bone), layout, Style("bone", opacity=0.95 if known else 0.5), closed=True
        )
        yield shape
        yield Group(tuple(_bone_shade(form, layout, bone)), shape)
        yield replace(shape, style=Style("", "bone_line", 1.2, () if known else (3.0, 2.5)))
        if bone.ridge:
            yield _brush(form.ridge(bone), layout, 2.6, Style("bone_line", opacity=0.7))


def _bone_shade(form: Form, layout: Layout, bone: Bone) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    moved = layout.many(form.bone(bone)) + np.array(LIGHT) * size * 0.25
    ring = placed_path(moved, Style(), closed=True)
    for width in (0.022, 0.012):
        yield replace(ring, style=Style("", "bone_shade", width * size, opacity=0.45))


def _lettering(figure: Figure, layout: Layout, title: str) -> Iterator[Primitive]:
    if title:
        yield Text((layout.left, 38.0), title, 20.0, weight="bold")
    if len(figure.measured) < len(figure.points):
        yield Text((layout.width - 24.0, layout.height - 14.0), CAPTION, 11.0, "quiet_text", "end")


def _describe(figure: Figure) -> str:
    share = len(figure.measured) / len(figure.points)
    return (
        f"A dog in profile facing right, drawn to scale, {figure.height:.1f} cm high at the "
        f"withers; readings place {share:.0%} of its points, a neutral template the rest."
    )
