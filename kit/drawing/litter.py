"""Several dogs in rows on one scale, feet on one floor, so that the eye may compare."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.drawing.layout import FLOOR_MARGIN, SIDE_MARGIN, TOP_MARGIN, Layout
from kit.drawing.moved import moved
from kit.drawing.outline import Form
from kit.drawing.scene import Line, Path, Primitive, Scene, Style, Text
from kit.drawing.side_view import side_view
from kit.figure.model import Figure
from kit.quantities.formatting import number

EDGE, GAP = 24.0, 26.0  # px, around the picture and between dogs
HEAD, FOOT = 26.0, 60.0  # px, above the tallest dog of a row and below its floor
RULE = Style(stroke="hairline", width=1.0)
STEP = 10.0  # cm between the height lines


@dataclass(frozen=True)
class _Dog:
    name: str
    figure: Figure
    reach: float
    top: float


def litter(
    figures: Mapping[str, Figure], *, per_row: int = 3, width: float = 1120.0, bones: bool = True
) -> Scene:
    """Draw dogs side by side on one scale; without a dog, say so.

    Parameters
    ----------
    figures : mapping of name to Figure
    per_row : int
        How many dogs stand in one row.
    width : float
        Of the picture in px; its height follows.

    Returns
    -------
    Scene
    """
    if not figures:
        return Scene(width, 60.0, (Text((EDGE, 36.0), "Choose a dog.", 16),), "No dog chosen")
    dogs = [_dog(name, figure) for name, figure in figures.items()]
    rows = _rows(dogs, per_row)
    scale = _scale(rows, width)
    parts: list[Primitive] = []
    bottom = 8.0
    for row in rows:
        bottom = _add_row(parts, row, scale, bottom, width, bones=bones)
    note = f"All on one scale; the lines are {number(STEP, 0)} cm apart."
    parts.append(Text((EDGE, bottom + 8), note, 13, "quiet_text"))
    said = "; ".join(f"{dog.name}, {dog.figure.height:.1f} cm at the withers" for dog in dogs)
    return Scene(width, bottom + 26, tuple(parts), "Dogs side by side", said)


def _rows(dogs: Sequence[_Dog], per_row: int) -> list[tuple[_Dog, ...]]:
    return [tuple(dogs[start : start + per_row]) for start in range(0, len(dogs), per_row)]


def _dog(name: str, figure: Figure) -> _Dog:
    layout = Layout.fit(Form.of(figure), 1000.0, 1000.0)
    return _Dog(name, figure, layout.reach[1] - layout.reach[0], layout.top)


def _scale(rows: Sequence[Sequence[_Dog]], width: float) -> float:
    """Return the px per cm at which the longest row just fits."""
    return min(
        (width - 2 * EDGE - GAP * (len(row) - 1)) / sum(dog.reach for dog in row) for row in rows
    )


def _add_row(
    parts: list[Primitive], row: Sequence[_Dog], scale: float, top: float, width: float, *,
    bones: bool,
) -> float:  # fmt: skip
    """Add one row; return where it ends."""
    floor = top + HEAD + max(dog.top for dog in row) * scale
    parts += _height_lines(max(dog.top for dog in row), scale, floor, width)
    used = sum(dog.reach for dog in row) * scale
    gap = max(GAP, (width - 2 * EDGE - used) / len(row))
    left = (width - used - gap * (len(row) - 1)) / 2
    for dog in row:
        parts += _standing(dog, scale, left, floor, bones=bones)
        left += dog.reach * scale + gap
    return floor + FOOT


def _height_lines(top: float, scale: float, floor: float, width: float) -> list[Primitive]:
    drawn: list[Primitive] = []
    for step in range(int(top / STEP) + 1):
        y = floor - step * STEP * scale
        drawn.append(Line((EDGE, y), (width - EDGE, y), RULE))
    return drawn


def _is_dog(part: Primitive) -> bool:
    """Tell the dog from the floor, rulers and words around it."""
    if isinstance(part, Text | Line):
        return False
    return not (isinstance(part, Path) and part.style.fill == "ground")


def _standing(
    dog: _Dog, scale: float, left: float, floor: float, *, bones: bool
) -> list[Primitive]:
    """Draw one dog with its leftmost point at `left` and its feet on `floor`."""
    width = dog.reach * scale + 2 * SIDE_MARGIN
    height = dog.top * scale + TOP_MARGIN + FLOOR_MARGIN
    view = side_view(dog.figure, show_bones=bones, show_plumb=False, width=width, height=height)
    body = [part for part in view.primitives if _is_dog(part)]
    middle = left + dog.reach * scale / 2
    said = f"{number(dog.figure.height, 1)} cm at the withers"
    return [
        *moved(body, (left - SIDE_MARGIN, floor - height + FLOOR_MARGIN)),
        Text((middle, floor + 24), dog.name, 16, anchor="middle", weight="bold"),
        Text((middle, floor + 42), said, 13, "quiet_text", "middle"),
    ]
