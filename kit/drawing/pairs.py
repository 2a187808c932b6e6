"""Several dogs on one picture: one over the other, or side by side on one floor and one scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kit.drawing.annotations import floor, ruler, step_of
from kit.drawing.ghost import aligned, over, veil
from kit.drawing.layout import FLOOR_MARGIN, TOP_MARGIN, Layout
from kit.drawing.lettering import shortened
from kit.drawing.outline import Form
from kit.drawing.scene import Line, Path, Primitive, Scene, Style, Text
from kit.drawing.shading import INK_WIDTH
from kit.drawing.side_view import dog
from kit.figure.model import Figure
from kit.quantities.errors import GeometryError
from kit.quantities.formatting import number

Array = NDArray[np.float64]

LEFT, RIGHT, GAP = 62.0, 28.0, 30.0  # px: beside the first dog, beside the last, between two
NAMED = 26.0  # px under the floor for the names
ROW_TOP = 16.0  # px over the tallest dog of a row


@dataclass(frozen=True)
class Named:
    """A dog, what it is called under its picture, and a remark on its height."""

    name: str
    figure: Figure
    note: str = ""


def overlaid(
    first: Named,
    second: Named,
    *,
    align: str = "withers",
    bones: bool = True,
    title: str = "",
    width: float = 1100.0,
    height: float = 760.0,
) -> Scene:
    """Draw two dogs over each other, feet on one floor.

    Parameters
    ----------
    first, second : Named
        The second is the dashed one.
    align : str
        The point they have above each other: one of ``kit.drawing.ghost.ALIGNED``.
    bones : bool
        Whether to show bones of the first and joints of the second.
    title : str
        Heading; empty for none.
    width, height : float
        Size of the scene in px.

    Returns
    -------
    Scene
    """
    form, other = Form.of(first.figure), Form.of(second.figure)
    rough = aligned(form, other, Layout(width, height, 1.0, (0.0, 0.0), (0.0, 0.0), 0.0), align)
    shift = np.array([rough.origin[0], 0.0])
    layout = Layout.around([form.drawn(), other.drawn() + shift], width, height)
    stands = aligned(form, other, layout, align)
    parts: list[Primitive] = [*floor(layout), *veil(other, stands)]
    parts += dog(form, layout, bones=bones)
    parts += over(other, stands, bones=bones)
    parts += _key(first, second, layout)
    if title:
        parts.append(Text((layout.left, 38.0), title, 20.0, weight="bold"))
    said = f"{_said(first)} in full lines; {_said(second)} over it in dashes."
    return Scene(width, height, tuple(parts), title or "Two dogs over each other", said)


def _said(one: Named) -> str:
    return f"{one.name}, {number(one.figure.height, 1)} cm at the withers"


def _key(first: Named, second: Named, layout: Layout) -> Iterator[Primitive]:
    x, y = layout.left, layout.height - 14.0
    room = layout.width / 2 - 80.0
    yield Line((x, y - 4), (x + 34, y - 4), Style("", "ink", INK_WIDTH))
    yield Text((x + 42, y), shortened(_said(first), 12.0, room), 12.0)
    x = layout.width / 2
    yield Line((x, y - 4), (x + 34, y - 4), Style("", "plumb", 2.2, (9.0, 5.0)))
    yield Text((x + 42, y), shortened(_said(second), 12.0, room), 12.0, "plumb")


def side_by_side(
    dogs: Sequence[Named],
    *,
    per_row: int = 4,
    bones: bool = False,
    title: str = "",
    width: float = 1400.0,
) -> Scene:
    """Draw dogs beside each other on one scale, each row on one floor.

    Parameters
    ----------
    dogs : sequence of Named
        At least one, in the order they stand from the left.
    per_row : int
        How many stand in one row.
    bones : bool
        Whether to lay the bones over the bodies.
    title : str
        Heading; empty for none.
    width : float
        Of the scene in px; its height follows.

    Returns
    -------
    Scene

    Raises
    ------
    GeometryError
        If there is no dog.
    """
    if not dogs:
        raise GeometryError("nothing to draw side by side", "at least one dog", "none")
    stood = [_Stood.of(one) for one in dogs]
    rows = [stood[start : start + per_row] for start in range(0, len(stood), per_row)]
    scale = min(_scale(row, width) for row in rows)
    parts: list[Primitive] = []
    bottom = TOP_MARGIN if title else ROW_TOP
    for row in rows:
        bottom = _row(parts, row, scale, bottom, width, bones=bones)
    if title:
        parts.append(Text((28.0, 38.0), title, 20.0, weight="bold"))
    said = "Dogs in profile on one scale: " + "; ".join(_said(one) for one in dogs) + "."
    return Scene(width, bottom, tuple(parts), title or "Side by side", said)


@dataclass(frozen=True)
class _Stood:
    named: Named
    form: Form
    low: float
    high: float
    top: float

    @classmethod
    def of(cls, named: Named) -> _Stood:
        form = Form.of(named.figure)
        drawn = form.drawn()
        high, top = drawn.max(axis=0)
        return cls(named, form, float(drawn[:, 0].min()), float(high), float(top))

    @property
    def long(self) -> float:
        return self.high - self.low


def _scale(row: Sequence[_Stood], width: float) -> float:
    room = width - LEFT - RIGHT - GAP * (len(row) - 1)
    return room / sum(one.long for one in row)


def _row(
    parts: list[Primitive], row: Sequence[_Stood], scale: float, top: float, width: float, *,
    bones: bool,
) -> float:  # fmt: skip
    """Add one row of dogs; return where it ends on the picture."""
    tall = max(one.top for one in row)
    ground = top + ROW_TOP + tall * scale
    bottom = ground + FLOOR_MARGIN + NAMED
    band = Layout(width, bottom, scale, (LEFT, ground), (0.0, 0.0), tall)
    parts += _ground(band)
    used = sum(one.long for one in row) * scale
    gap = max(GAP, (width - LEFT - RIGHT - used) / max(len(row), 2))
    x = LEFT
    for one in row:
        layout = replace(band, origin=(x - one.low * scale, ground), reach=(one.low, one.high))
        parts += [*ruler(layout, beyond=False), *dog(one.form, layout, bones=bones)]
        parts += _name(one, x + one.long * scale / 2, ground, one.long * scale + GAP)
        x += one.long * scale + gap
    return bottom


def _ground(band: Layout) -> Iterator[Primitive]:
    """Yield one row's ground, height lines and floor."""
    y, step = band.origin[1], step_of(band)
    below = ((0.0, y), (band.width, y), (band.width, band.height), (0.0, band.height))
    yield Path.polyline(below, Style("ground"), closed=True)
    for line in range(1, int(band.top / step) + 1):
        at = y - line * step * band.scale
        yield Line((44.0, at), (band.width - 20.0, at), Style("", "hairline", 0.8))
        yield Text((38.0, at + 3.5), f"{line * step:g}", 10.0, "quiet_text", "end")
    yield Text((38.0, y - 4.0), "cm", 10.0, "quiet_text", "end")
    yield Line((0.0, y), (band.width, y), Style("", "floor", 1.4))


def _name(one: _Stood, middle: float, ground: float, room: float) -> Iterator[Primitive]:
    name = shortened(one.named.name, 13.0, room)
    yield Text((middle, ground + 44.0), name, 13.0, "text", "middle", "bold")
    high = f"{number(one.named.figure.height, 1)} cm at the withers"
    high += f" ({one.named.note})" if one.named.note else ""
    yield Text((middle, ground + 62.0), high, 11.0, "quiet_text", "middle")
