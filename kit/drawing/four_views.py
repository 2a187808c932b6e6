"""A dog from all four sides on one sheet and one scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from kit.drawing.annotations import floor, ruler
from kit.drawing.halves import Halves
from kit.drawing.layout import FLOOR_MARGIN, TOP_MARGIN, Layout
from kit.drawing.scene import Point, Primitive, Scene, Text
from kit.drawing.side_view import dog
from kit.drawing.views import (
    DRAWN,
    MARGIN,
    NAMES,
    Look,
    above,
    describe,
    greatest_half,
    plan,
    words,
)
from kit.figure.model import Figure
from kit.protocol.catalogue import catalogue
from kit.quantities.formatting import with_unit

GAP = 0.30  # between the views, in parts of the dog's size
HEAD, BETWEEN, NAMED, TABLE = 18.0, 40.0, 46.0, 34.0  # px
NOTHING_READ = "no breadth, girth or turn-out was read"
LINE = 19.0  # px from row to row of the table


@dataclass(frozen=True)
class _Sheet:
    """Where the views stand.

    Attributes
    ----------
    halves : Halves
    low, high, half, top : float
        Hindmost and foremost place, half the greatest breadth and the greatest height, in cm.
    width, scale : float
        Of the sheet in px, and px per cm.
    """

    halves: Halves
    low: float
    high: float
    half: float
    top: float
    width: float
    scale: float

    @classmethod
    def of(cls, figure: Figure, width: float) -> _Sheet:
        halves = Halves.of(figure, "above")
        side, over = halves.form.drawn(), halves.outline.drawn()
        low = float(min(side[:, 0].min(), over[:, 0].min()))
        high = float(max(side[:, 0].max(), over[:, 0].max()))
        half = greatest_half(halves)
        scale = (width - 2 * MARGIN) / (high - low + 2 * GAP * figure.size + 4 * half)
        return cls(halves, low, high, half, float(side[:, 1].max()), width, scale)

    @property
    def ground(self) -> float:
        """Where the floor is, in px from above."""
        return TOP_MARGIN + HEAD + self.top * self.scale

    @property
    def height(self) -> float:
        return self.ground + 2 * FLOOR_MARGIN + BETWEEN + 2 * self.half * self.scale

    @property
    def origin(self) -> Point:
        return MARGIN - self.low * self.scale, self.ground

    @property
    def band(self) -> Layout:
        """The upper row, with the side view's scale."""
        bottom, reach = self.ground + FLOOR_MARGIN, (self.low, self.high)
        return Layout(self.width, bottom, self.scale, self.origin, reach, self.top)

    @property
    def centre(self) -> float:
        """The middle of the dog seen from the side, in px."""
        return self.origin[0] + (self.low + self.high) / 2 * self.scale

    def middle(self, number: int) -> float:
        """Return the middle of the first or second view across, in px."""
        gap = GAP * self.halves.size
        return (
            MARGIN
            + (self.high - self.low + gap + self.half + number * (2 * self.half + gap)) * self.scale
        )


def four_views(
    figure: Figure, *, title: str = "", bones: bool = True, width: float = 1400.0
) -> Scene:
    """Draw side, front, rear and top of a dog on one sheet and one scale.

    Parameters
    ----------
    figure : Figure
    title : str
        Heading; empty for none.
    bones : bool
        Whether to lay the bones over the side view.
    width : float
        Of the sheet in px; its height follows.

    Returns
    -------
    Scene
    """
    sheet = _Sheet.of(figure, width)
    parts: list[Primitive] = [*floor(sheet.band), *dog(sheet.halves.form, sheet.band, bones=bones)]
    for number, name in enumerate(DRAWN):
        parts += _across(sheet, name, sheet.middle(number))
    parts += _from_above(sheet)
    parts.append(_name("side", sheet.centre, sheet.ground + NAMED))
    parts += _table(sheet, sheet.middle(0) - sheet.half * sheet.scale)
    parts += words(sheet.halves, replace(sheet.band, height=sheet.height), title)
    said = describe(figure, "side").replace("from the side", "from four sides")
    return Scene(width, sheet.height, tuple(parts), title or "Four views", said)


def _across(sheet: _Sheet, name: str, middle: float) -> Iterator[Primitive]:
    reach = (-sheet.half, sheet.half)
    place = replace(sheet.band, origin=(middle, sheet.ground), reach=reach)
    yield from ruler(place)
    yield from DRAWN[name](Look(replace(sheet.halves, name=name), place))
    yield _name(name, middle, sheet.ground + NAMED)


def _from_above(sheet: _Sheet) -> Iterator[Primitive]:
    y = sheet.ground + FLOOR_MARGIN + BETWEEN + sheet.half * sheet.scale
    place = replace(sheet.band, origin=(sheet.origin[0], y), top=sheet.half)
    yield from plan(place)
    yield from above(Look(sheet.halves, place))
    yield _name("above", sheet.centre, sheet.height - 16.0)


def _name(view: str, x: float, y: float) -> Text:
    return Text((x, y), NAMES[view], 13.0, "quiet_text", "middle")


def _table(sheet: _Sheet, left: float) -> Iterator[Primitive]:
    """Yield what the read breadths, girths and turn-outs are, in two columns."""
    girt, top = sheet.halves.girt, sheet.ground + FLOOR_MARGIN + TABLE
    if not girt.read:
        yield Text((left, top), NOTHING_READ, 11.5, "quiet_text")
    rows, column = (len(girt.values) + 1) // 2, (sheet.width - left) / 2
    for number, key in enumerate(key for key in girt.values if key in girt.read):
        x, y = left + (number // rows) * column, top + (number % rows) * LINE
        said = with_unit(girt[key], catalogue().measurement(key).kind)
        yield Text((x, y), key.replace("_", " "), 11.5)
        yield Text((x + column - 24, y), said, 11.5, "text", "end", "bold")
