"""The dog in profile, drawn to scale from its figure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.drawing import ellipses as uncertain
from kit.drawing import ghost as ghosts
from kit.drawing.anatomy import Bone, anatomy
from kit.drawing.annotations import angle_marks, floor, plumb_lines
from kit.drawing.layout import Layout
from kit.drawing.outline import Form
from kit.drawing.scene import Circle, Group, Path, Primitive, Scene, Style, Text
from kit.drawing.shading import LIGHT, brush, edge, furrow, lit, pair, path, placed_path, rounded
from kit.figure.model import Figure

Array = NDArray[np.float64]

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
CAPTION = "dashed = not measured: neutral template"
CAPTION_WIDTH = 290.0  # px


def side_view(
    figure: Figure,
    *,
    title: str = "",
    angles: Mapping[str, tuple[float, float]] | None = None,
    show_bones: bool = True,
    show_plumb: bool = True,
    ghost: Figure | None = None,
    ghost_label: str = "",
    ghost_align: str = "withers",
    ellipses: Mapping[str, ArrayLike] | None = None,
    caption: str = CAPTION,
    modelled: bool = True,
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
    ghost : Figure, optional
        A second dog laid over this one as a dashed outline, feet on the same floor: the target of
        a standard, or the same dog at another time.
    ghost_label : str
        What the ghost is, in a few words.
    ghost_align : str
        The point both dogs have above each other: one of ``kit.drawing.ghost.ALIGNED``.
    ellipses : Mapping of str to array-like of shape (2, 2), optional
        Covariances of points in cm²; drawn as ellipses of 95 % probability.
    caption : str
        What dashes mean, where any point was not read: a dog nobody measured, such as the target
        of a standard shown alone, needs other words. Empty for none.
    modelled : bool
        Whether to give the body its roundness, half of what there is to paint; a picture that
        follows every entry does without.
    width, height : float
        Size of the scene in px.

    Returns
    -------
    Scene
    """
    form = Form.of(figure)
    other = None if ghost is None else Form.of(ghost)
    layout = _layout(form, other, ghost_align, width, height)
    spirit = _spirit(form, other, layout, ghost_align, show_bones)
    primitives = [
        *floor(layout),
        *spirit[0],
        *dog(form, layout, bones=show_bones, modelled=modelled),
        *spirit[1],
        *(plumb_lines(form, layout) if show_plumb else ()),
        *uncertain.ellipses(form.points, ellipses or {}, layout),
        *_lettering(figure, layout, title, caption),
        *_legend(layout, ghost_label if other else "", bool(ellipses)),
        *angle_marks(form, layout, angles or {}),
    ]
    return Scene(width, height, tuple(primitives), title or "Side view", _describe(figure, ghost))


def with_angles(drawn: Scene, figure: Figure, angles: Mapping[str, tuple[float, float]]) -> Scene:
    """Lay angles over a side view drawn of this figure alone, as `side_view` itself does."""
    form = Form.of(figure)
    marks = angle_marks(form, Layout.fit(form, drawn.width, drawn.height), angles)
    return replace(drawn, primitives=(*drawn.primitives, *marks))


def dog(
    form: Form, layout: Layout, *, bones: bool = True, modelled: bool = True
) -> Iterator[Primitive]:
    """Yield one dog, and nothing around it."""
    yield from _far_side(form, layout, modelled=modelled)
    yield from _body(form, layout, modelled=modelled)
    if bones:
        yield from _bones(form, layout, modelled=modelled)


def _layout(form: Form, ghost: Form | None, align: str, width: float, height: float) -> Layout:
    layout = Layout.fit(form, width, height)
    if ghost is None:
        return layout
    shift = form.points[align][0] - ghost.points[align][0] if align in ghosts.ALIGNED else 0.0
    return Layout.around([form.drawn(), ghost.drawn() + np.array([shift, 0.0])], width, height)


def _spirit(
    form: Form, ghost: Form | None, layout: Layout, align: str, bones: bool
) -> tuple[list[Primitive], list[Primitive]]:
    """Return what of the ghost is painted behind the dog, and what over it."""
    if ghost is None:
        return [], []
    stands = ghosts.aligned(form, ghost, layout, align)
    return list(ghosts.veil(ghost, stands)), list(ghosts.over(ghost, stands, bones=bones))


def _legend(layout: Layout, ghost: str, uncertainty: bool) -> Iterator[Primitive]:
    x, y = layout.left, layout.height - 14.0
    if ghost:
        room = layout.width - 24.0 - CAPTION_WIDTH - x
        drawn, wide = ghosts.legend(ghost, (x, y), room)
        yield from drawn
        x += wide + 24.0
    if uncertainty:
        yield from uncertain.legend((x, y))[0]


def _far_side(form: Form, layout: Layout, *, modelled: bool) -> Iterator[Primitive]:
    for name in ("far_fore", "far_hind"):
        shape = form.shape(name)
        leg = path(shape, layout, Style("far_coat"), closed=True)
        shade = _shade(form, layout, shape, 0.5) if modelled else ()
        yield from _edged(leg, Style("", "contour", 1.2), shade)


def _edged(shape: Path, line: Style, shade: Iterable[Primitive]) -> Iterator[Primitive]:
    """Yield a shape, what is painted within it, and its edge; a plain full one in one piece."""
    within = tuple(shade)
    if within or shape.style.opacity < 1.0:
        yield shape
        if within:
            yield Group(within, shape)
        yield replace(shape, style=line)
    else:
        yield replace(shape, style=replace(line, fill=shape.style.fill))


def _body(form: Form, layout: Layout, *, modelled: bool) -> Iterator[Primitive]:
    shape = form.shape("outline")
    body = path(shape, layout, Style("coat"), closed=True)
    yield body
    if modelled:
        yield Group((*_shade(form, layout, shape), *_modelling(form, layout)), body)
    yield from _creases(form, layout)
    yield from _edge(form, layout)
    for name in ("rear_nail", "front_nail"):
        yield path(form.shape(name), layout, Style("nose"), closed=True)
    yield from _head(form, layout, modelled=modelled)


def _shade(form: Form, layout: Layout, shape: Array, part: float = 1.0) -> Iterator[Primitive]:
    return rounded(shape, layout, form.figure.size * layout.scale, part)


def _modelling(form: Form, layout: Layout) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    for name, width in LIT.items():
        yield from lit(form.shape(name), layout, width * size)
    for name, width in FURROWS.items():
        yield from furrow(form.shape(name), layout, width * size)


def _creases(form: Form, layout: Layout) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    for name, width in CREASES.items():
        yield brush(form.shape(name), layout, width * size, Style("contour", opacity=0.7))


def _edge(form: Form, layout: Layout) -> Iterator[Primitive]:
    pins, places = form.kept("outline")
    known = [form.measured(pin) for pin in pins]
    return edge(form.curve("outline", places), known, layout)


def _head(form: Form, layout: Layout, *, modelled: bool) -> Iterator[Primitive]:
    size = layout.scale * form.thickness["head"]
    yield from _ear(form, layout, modelled=modelled)
    yield path(form.shape("nose"), layout, Style("nose"), closed=True)
    yield brush(form.shape("mouth"), layout, 0.0055 * size, Style("ink"))
    yield from _eye(form, layout, size)


def _ear(form: Form, layout: Layout, *, modelled: bool) -> Iterator[Primitive]:
    shape = form.shape("ear")
    ear = path(shape, layout, Style("ear_coat"), closed=True)
    shade = _shade(form, layout, shape, 0.6) if modelled else ()
    yield from _edged(ear, Style("", "ink", 1.4), shade)
    fold = 0.006 * layout.scale * form.thickness["head"]
    yield brush(form.shape("ear_fold"), layout, fold, Style("contour"))


def _eye(form: Form, layout: Layout, size: float) -> Iterator[Primitive]:
    shape = form.shape("eye")
    x, y = pair(layout.many(shape[:, 0]).mean(axis=0))
    lids = path(shape, layout, Style("eye"), closed=True)
    yield lids
    yield Group((Circle((x, y), 0.0135 * size, Style("iris")),), lids)
    yield Circle((x, y), 0.0075 * size, Style("eye"))
    yield Circle((x + 0.0045 * size, y - 0.0050 * size), 0.0030 * size, Style("eye_light"))
    yield replace(lids, style=Style("", "ink", 1.2))
    yield brush(form.shape("brow"), layout, 0.006 * size, Style("contour"))


def _bones(form: Form, layout: Layout, *, modelled: bool) -> Iterator[Primitive]:
    for bone in anatomy().bones.values():
        known = form.figure.has_measured(*bone.ends)
        full = 0.95 if modelled else 1.0
        style = Style("bone", opacity=full if known else 0.5)
        shape = path(form.bone(bone), layout, style, closed=True)
        line = Style("", "bone_line", 1.2, () if known else (3.0, 2.5))
        yield from _edged(shape, line, _bone_shade(form, layout, bone) if modelled else ())
        if bone.ridge:
            yield brush(form.ridge(bone), layout, 2.6, Style("bone_line", opacity=0.7))


def _bone_shade(form: Form, layout: Layout, bone: Bone) -> Iterator[Primitive]:
    size = form.figure.size * layout.scale
    moved = layout.many(form.bone(bone)) + np.array(LIGHT) * size * 0.25
    ring = placed_path(moved, Style(), closed=True)
    for width in (0.022, 0.012):
        yield replace(ring, style=Style("", "bone_shade", width * size, opacity=0.45))


def _lettering(figure: Figure, layout: Layout, title: str, caption: str) -> Iterator[Primitive]:
    if title:
        yield Text((layout.left, 38.0), title, 20.0, weight="bold")
    if caption and len(figure.measured) < len(figure.points):
        yield Text((layout.width - 24.0, layout.height - 14.0), caption, 11.0, "quiet_text", "end")


def _describe(figure: Figure, ghost: Figure | None = None) -> str:
    share = len(figure.measured) / len(figure.points)
    text = (
        f"A dog in profile facing right, drawn to scale, {figure.height:.1f} cm high at the "
        f"withers; readings place {share:.0%} of its points, a neutral template the rest."
    )
    if ghost is None:
        return text
    return f"{text} A second dog, {ghost.height:.1f} cm high, is laid over it as a dashed outline."
