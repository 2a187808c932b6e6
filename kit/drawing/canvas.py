"""Scenes on paper by Matplotlib: PNG, PDF and SVG files, without pyplot."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path as FilePath

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle as CirclePatch
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path as Outline
from matplotlib.patheffects import Normal, Stroke
from matplotlib.text import Text as Lettering

from kit.drawing.palette import colour
from kit.drawing.scene import Circle, Group, Line, Path, Primitive, Scene, Style, Text
from kit.drawing.svg import HALO_WIDTH
from kit.quantities.errors import KitError

PIXELS_PER_INCH = 96.0
POINTS_PER_PIXEL = 72.0 / PIXELS_PER_INCH
FORMATS = (".png", ".pdf", ".svg")
_ALIGNMENT = {"start": "left", "middle": "center", "end": "right"}


def to_figure(scene: Scene) -> Figure:
    """Draw a scene as a Matplotlib figure of its own size at 96 px an inch."""
    figure = Figure(
        figsize=(scene.width / PIXELS_PER_INCH, scene.height / PIXELS_PER_INCH),
        facecolor=colour(scene.background),
    )
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, scene.width)
    axes.set_ylim(scene.height, 0.0)
    for order, (primitive, clip) in enumerate(_flat(scene.primitives), start=1):
        artist = _artist(axes, primitive)
        artist.set_zorder(order)
        if clip is not None:
            artist.set_clip_path(_outline(clip), axes.transData)
    return figure


def save(scene: Scene, path: FilePath, dpi: float = 150.0) -> FilePath:
    """Write a scene to a file whose ending says the format.

    Raises
    ------
    KitError
        If the ending is none of ``.png``, ``.pdf``, ``.svg``.
    """
    ending = path.suffix.lower()
    if ending not in FORMATS:
        raise KitError(f"cannot draw to {path.name}", "one of " + ", ".join(FORMATS), ending)
    stamp = {"Creator": None, "CreationDate": None} if ending == ".pdf" else {"Date": None}
    to_figure(scene).savefig(
        path, dpi=dpi, format=ending[1:], metadata=None if ending == ".png" else stamp
    )
    return path


def to_png(scene: Scene, dpi: float = PIXELS_PER_INCH) -> bytes:
    """Return a scene as a PNG picture."""
    buffer = BytesIO()
    to_figure(scene).savefig(buffer, dpi=dpi, format="png")
    return buffer.getvalue()


def _flat(
    primitives: tuple[Primitive, ...], clip: Path | None = None
) -> Iterator[tuple[Path | Circle | Line | Text, Path | None]]:
    for primitive in primitives:
        if isinstance(primitive, Group):
            yield from _flat(primitive.primitives, primitive.clip or clip)
        else:
            yield primitive, clip


def _artist(axes: Axes, primitive: Path | Circle | Line | Text) -> Patch | Line2D | Lettering:
    if isinstance(primitive, Path):
        return axes.add_patch(PathPatch(_outline(primitive), **_look(primitive.style)))
    if isinstance(primitive, Circle):
        patch = CirclePatch(primitive.centre, primitive.radius, **_look(primitive.style))
        return axes.add_patch(patch)
    if isinstance(primitive, Line):
        outline = Outline([primitive.start, primitive.end])
        return axes.add_patch(PathPatch(outline, **_look(primitive.style)))
    return _lettering(axes, primitive)


def _outline(path: Path) -> Outline:
    points, codes = [path.start], [Outline.MOVETO]
    for segment in path.segments:
        if segment.first is None or segment.second is None:
            points.append(segment.end)
            codes.append(Outline.LINETO)
        else:
            points += [segment.first, segment.second, segment.end]
            codes += [Outline.CURVE4] * 3
    if path.closed:
        points.append(path.start)
        codes.append(Outline.CLOSEPOLY)
    return Outline(points, codes)


def _look(style: Style) -> dict[str, object]:
    width = style.width * POINTS_PER_PIXEL
    dash = tuple(length * POINTS_PER_PIXEL / max(width, 1e-9) for length in style.dash)
    return {
        "facecolor": colour(style.fill) if style.fill else "none",
        "edgecolor": colour(style.stroke) if style.stroke else "none",
        "linewidth": width if style.stroke else 0.0,
        "linestyle": (0, dash) if dash else "solid",
        "alpha": style.opacity,
        "capstyle": "round",
        "joinstyle": "round",
    }


def _lettering(axes: Axes, text: Text) -> Lettering:
    effects = []
    if text.halo:
        width = HALO_WIDTH * POINTS_PER_PIXEL
        effects = [Stroke(linewidth=width, foreground=colour(text.halo)), Normal()]
    return axes.text(
        text.at[0],
        text.at[1],
        text.content.replace("$", r"\$"),
        fontsize=text.size * POINTS_PER_PIXEL,
        fontfamily="DejaVu Sans",
        fontweight=text.weight,
        color=colour(text.role),
        rotation=text.rotation,
        rotation_mode="anchor",
        ha=_ALIGNMENT[text.anchor],
        va="baseline",
        path_effects=effects,
    )
