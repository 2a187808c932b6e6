"""Right beside wrong: dogs that differ in one trait, on slides of 16 to 9.

Every dog of a picture stands on one floor, at one scale. With the labels hidden a dog bears only a
letter, so that a class can be asked before it is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase

import numpy as np

from kit.drawing.ghost import aligned, over, veil
from kit.drawing.layout import Layout
from kit.drawing.lettering import BOLD, broken
from kit.drawing.outline import Form
from kit.drawing.scene import Line, Path, Primitive, Scene, Style, Text
from kit.drawing.side_view import dog
from kit.figure.model import Figure
from kit.quantities.errors import GeometryError
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.teaching.contrast import series, strip_amounts
from kit.teaching.contrasts import Contrast, contrast
from kit.teaching.plane import remeasured

WIDTH, HEIGHT = 1600.0, 900.0  # px, 16 to 9
SIDE, GAP = 44.0, 30.0  # px: beside the outermost dogs, between two
HEAD, FOOT = 96.0, 128.0  # px kept for the heading and under the floor
STRIP = 372.0  # px, height of a strip that has its ends over each other below it
TOGETHER = (3, 5)  # strips of so many dogs stand in one row
ASKED = "as asked"
MOST = 7  # dogs on one slide
LOOKS = (Style("", "ink", 2.4), Style("", "plumb", 3.0, (12.0, 7.0)))


@dataclass(frozen=True)
class Shown:
    """One dog of a slide: its figure, by how much it was changed, and what it is called."""

    figure: Figure
    amount: float
    word: str
    value: float


def shown(
    figure: Figure, key: str, amounts: Sequence[float], start: str = ASKED
) -> tuple[Shown, ...]:
    """Change a dog by each amount and measure it again.

    `start` is what the unchanged dog is called. Only a dog that is as asked makes the others too
    short or too long; beside any other dog they are said to have less or more.
    """
    one = contrast(key)
    made = series(figure, key, amounts)
    return tuple(
        Shown(_whole(each), amount, _word(one, amount, start), remeasured(each)[one.trait])
        for each, amount in zip(made, amounts, strict=True)
    )


def _word(one: Contrast, amount: float, start: str) -> str:
    if start == ASKED:
        return one.grade(amount)
    return start if amount == 0.0 else ("more" if amount > 0 else "less")


def _whole(figure: Figure) -> Figure:
    """Let every line be drawn full: of a drawn dog nothing is unmeasured."""
    return replace(figure, measured=frozenset(figure.points))


def contrast_strip(
    figure: Figure, key: str, count: int = 5, *, labels: bool = True, bones: bool = False,
    start: str = ASKED,
) -> Scene:  # fmt: skip
    """Draw a dog from clearly under to clearly over in one trait.

    Parameters
    ----------
    figure : Figure
        The dog in the middle: a standard's target or a measured dog.
    key : str
        A contrast or its trait.
    count : int
        3, 5 or 7 dogs.
    labels : bool
        Whether to say what each is; hidden, each bears a letter.
    bones : bool
        Whether to lay the bones over the bodies.
    start : str
        What the unchanged dog is called: ``as asked`` for a target, else such as ``as measured``.

    Returns
    -------
    Scene
        1600 by 900 px.

    Raises
    ------
    GeometryError
        If a dog cannot be drawn so, or `count` is none of the above.
    """
    if count > MOST:
        raise GeometryError("a strip cannot be laid out", f"at most {MOST} dogs", f"{count}")
    one = contrast(key)
    dogs = shown(figure, key, strip_amounts(one, count), start)
    return _slide(one, dogs, labels=labels, bones=bones)


def contrast_pair(
    figure: Figure, key: str, amount: float, *, labels: bool = True, bones: bool = False,
    swapped: bool = False, start: str = ASKED,
) -> Scene:  # fmt: skip
    """Draw a dog beside the same dog changed in one trait; arguments as for the strip.

    `amount` is in the unit of the trait; `swapped` puts the changed dog first.
    """
    dogs = shown(figure, key, (0.0, amount), start)
    return _slide(contrast(key), dogs[::-1] if swapped else dogs, labels=labels, bones=bones)


def contrast_overlaid(
    figure: Figure, key: str, amount: float, *, labels: bool = True, bones: bool = True,
    start: str = ASKED,
) -> Scene:  # fmt: skip
    """Draw a dog with the same dog, changed in one trait, over it in dashes."""
    one = contrast(key)
    before, after = shown(figure, key, (0.0, amount), start)
    form, ghost = Form.of(before.figure), Form.of(after.figure)
    layout = _layout([form, ghost], WIDTH - 2 * SIDE)
    stands = aligned(form, ghost, layout, "withers")
    parts: list[Primitive] = [*_ground(layout.origin[1]), *veil(ghost, stands)]
    parts += dog(form, layout, bones=bones)
    parts += over(ghost, stands, bones=bones)
    parts += _key(one, (before, after)) if labels else ()
    parts += _heading(one, labels)
    said = f"A dog, and the same dog {_said(one, after, labels)} over it in dashes."
    return Scene(WIDTH, HEIGHT, tuple(parts), _title(one, labels), said)


def single(figure: Figure, width: float = 760.0, height: float = 560.0) -> Scene:
    """Draw one dog with nothing that says what it is: for practice and for worksheets."""
    form = Form.of(_whole(figure))
    layout = _fitted([form], width, height, 24.0, 24.0, 40.0)
    parts: list[Primitive] = list(_ground(layout.origin[1], width, height))
    parts += dog(form, layout, bones=False)
    return Scene(width, height, tuple(parts), "A dog", "A dog in profile facing right.")


def together(figures: Sequence[Figure], width: float = 1240.0, height: float = 470.0) -> Scene:
    """Draw dogs with a letter each side by side on one scale, to choose from."""
    dogs = [_whole(one) for one in figures]
    layout = _row_layout([Form.of(one) for one in dogs], width, height, 24.0, 60.0)
    parts: list[Primitive] = list(_ground(layout.origin[1], width, height))
    for letter, (form, place) in zip(ascii_uppercase, _placed(dogs, layout), strict=False):
        parts += dog(form, place, bones=False)
        middle = place.origin[0] + sum(place.reach) / 2 * place.scale
        at = (middle, place.origin[1] + 42.0)
        parts.append(Text(at, letter, 24.0, "text", "middle", "bold"))
    return Scene(width, height, tuple(parts), "Dogs", f"{len(figures)} dogs in profile.")


def _slide(one: Contrast, dogs: Sequence[Shown], *, labels: bool, bones: bool) -> Scene:
    both = labels and len(dogs) in TOGETHER
    half = len(dogs) if both or len(dogs) == 2 else (len(dogs) + 1) // 2
    rows = [row for row in (dogs[:half], dogs[half:]) if row]
    tall = STRIP if both else (HEIGHT - HEAD) / len(rows)
    parts = _rows(one, rows, tall, labels=labels, bones=bones)
    if both:
        parts += _ends(dogs[0], dogs[-1], bones=bones)
    parts += _heading(one, labels)
    said = "; ".join(_said(one, each, labels) for each in dogs)
    return Scene(WIDTH, HEIGHT, tuple(parts), _title(one, labels), f"Dogs in profile: {said}.")


def _rows(
    one: Contrast, rows: Sequence[Sequence[Shown]], tall: float, *, labels: bool, bones: bool
) -> list[Primitive]:
    """Draw rows of dogs, each `tall` px high, at one scale."""
    foot = FOOT if len(rows) == 1 else FOOT * 0.66
    layouts = [_row_layout([Form.of(each.figure) for each in row], WIDTH, tall, 10.0, foot)
               for row in rows]  # fmt: skip
    scale = min(layout.scale for layout in layouts)
    letters = iter(ascii_uppercase)
    parts: list[Primitive] = []
    for line, (row, layout) in enumerate(zip(rows, layouts, strict=True)):
        bottom = HEAD + tall * (line + 1)
        ground = replace(layout, scale=scale, origin=(0.0, bottom - foot))
        parts += _ground(ground.origin[1], WIDTH, bottom)
        for each, (form, place) in zip(row, _placed([d.figure for d in row], ground), strict=True):
            parts += dog(form, place, bones=bones)
            parts += _label(one, each, next(letters), place, WIDTH / len(row), labels=labels)
    return parts


def _ends(under: Shown, over_it: Shown, *, bones: bool) -> Iterator[Primitive]:
    """Lay the dog with the most over the one with the least, under the strip."""
    form, ghost = Form.of(under.figure), Form.of(over_it.figure)
    layout = _fitted([form, ghost], WIDTH, HEIGHT, SIDE, HEAD + STRIP + 14.0, 34.0)
    stands = aligned(form, ghost, layout, "withers")
    yield from _ground(layout.origin[1])
    yield from veil(ghost, stands)
    yield from dog(form, layout, bones=bones)
    yield from over(ghost, stands, bones=bones)
    y = HEAD + STRIP + 60.0
    for number_, (each, look, role) in enumerate(zip((under, over_it), LOOKS, ("text", "plumb"),
                                                     strict=True)):  # fmt: skip
        at = y + 40.0 * number_
        yield Line((SIDE, at - 7), (SIDE + 50, at - 7), look)
        yield Text((SIDE + 64, at), each.word, 21.0, role)


def _row_layout(forms: Sequence[Form], width: float, height: float, head: float,
                foot: float) -> Layout:  # fmt: skip
    """Choose the largest scale at which dogs stand beside each other."""
    drawn = [form.drawn() for form in forms]
    long = sum(float(np.ptp(one[:, 0])) for one in drawn)
    tall = max(float(one[:, 1].max()) for one in drawn)
    room = width - 2 * SIDE - GAP * (len(forms) - 1)
    scale = min(room / long, (height - head - foot) / tall)
    return Layout(width, height, scale, (0.0, height - foot), (0.0, 0.0), tall)


def _placed(figures: Sequence[Figure], layout: Layout) -> Iterator[tuple[Form, Layout]]:
    """Stand dogs beside each other, evenly over the width."""
    forms = [Form.of(one) for one in figures]
    reaches = [(float(d[:, 0].min()), float(d[:, 0].max())) for d in (f.drawn() for f in forms)]
    used = sum(high - low for low, high in reaches) * layout.scale
    gap = (layout.width - used) / (len(forms) + 1)
    x = gap
    for form, (low, high) in zip(forms, reaches, strict=True):
        origin = (x - low * layout.scale, layout.origin[1])
        yield form, replace(layout, origin=origin, reach=(low, high))
        x += (high - low) * layout.scale + gap


def _layout(forms: Sequence[Form], width: float) -> Layout:
    return _fitted(forms, width + 2 * SIDE, HEIGHT, SIDE, HEAD, FOOT)


def _fitted(forms: Sequence[Form], width: float, height: float, side: float, head: float,
            foot: float) -> Layout:  # fmt: skip
    drawn = np.vstack([form.drawn() for form in forms])
    (low, _), (high, top) = drawn.min(axis=0), drawn.max(axis=0)
    scale = float(min((width - 2 * side) / (high - low), (height - head - foot) / top))
    middle = float((width - (low + high) * scale) / 2)
    return Layout(width, height, scale, (middle, height - foot), (float(low), float(high)),
                  float(top))  # fmt: skip


def _ground(y: float, width: float = WIDTH, bottom: float = HEIGHT) -> Iterator[Primitive]:
    below = ((0.0, y), (width, y), (width, bottom), (0.0, bottom))
    yield Path.polyline(below, Style("ground"), closed=True)
    yield Line((0.0, y), (width, y), Style("", "floor", 1.6))


def _title(one: Contrast, labels: bool) -> str:
    return one.title[:1].upper() + one.title[1:] if labels else "What differs?"


def _heading(one: Contrast, labels: bool) -> Iterator[Primitive]:
    yield Text((SIDE, 66.0), _title(one, labels), 38.0, weight="bold")


def _label(
    one: Contrast, each: Shown, letter: str, place: Layout, room: float, *, labels: bool
) -> Iterator[Primitive]:
    middle = place.origin[0] + sum(place.reach) / 2 * place.scale
    y = place.origin[1]
    if not labels:
        yield Text((middle, y + 52.0), letter, 34.0, "text", "middle", "bold")
        return
    role = "inside" if each.amount == 0.0 else "text"
    lines = broken(each.word, 23.0, (room - 8.0) / BOLD)
    for line in lines:
        y += 30.0
        yield Text((middle, y), line, 23.0, role, "middle", "bold")
    yield Text((middle, y + 28.0), _figures(one, each), 20.0, "quiet_text", "middle")


def _figures(one: Contrast, each: Shown) -> str:
    value = number(each.value, 0 if one.kind is Kind.ANGLE else 3) + SUFFIX[one.kind]
    if each.amount == 0.0:
        return value
    sign = "+" if each.amount > 0 else "−"
    return f"{value} ({sign}{one.amount_text(each.amount)})"


def _said(one: Contrast, each: Shown, labels: bool) -> str:
    return f"{each.word}, {_figures(one, each)}" if labels else "not said"


def _key(one: Contrast, pair: tuple[Shown, Shown]) -> Iterator[Primitive]:
    y = HEIGHT - 60.0
    for x, each, look, role in zip((SIDE, WIDTH / 2), pair, LOOKS, ("text", "plumb"), strict=True):
        yield Line((x, y - 8), (x + 56, y - 8), look)
        yield Text((x + 72, y), f"{each.word}: {_figures(one, each)}", 25.0, role)
