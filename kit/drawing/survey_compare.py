"""Two populations in pictures: how far apart they lie on each figure, and their middle dogs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from kit.drawing.lettering import shortened
from kit.drawing.pairs import Named, overlaid
from kit.drawing.scene import Circle, Line, Primitive, Scene, Style, Text
from kit.figure.placement import place
from kit.quantities.formatting import number
from kit.survey.summary import Contrast

WIDTH, ROW, HEAD, FOOT = 1000.0, 30.0, 92.0, 46.0
LEFT, RIGHT = 320.0, 720.0  # px: ends of the axis
LEAST_REACH = 1.0  # standard deviations shown either way at least


@dataclass(frozen=True)
class Bar:
    """One figure of two populations.

    Attributes
    ----------
    said : str
        The difference with its interval and unit.
    sure : bool
        Whether it is beyond chance, all figures asked together.
    """

    title: str
    contrast: Contrast
    said: str
    sure: bool


def apart(bars: Sequence[Bar], first: str, second: str) -> Scene:
    """Draw how many standard deviations of a single dog the first population lies off the second.

    A full mark is beyond chance, an open one is not; the line is its 95 % interval.
    """
    reach = max([LEAST_REACH, *(abs(end) for bar in bars for end in
                                (bar.contrast.effect_low, bar.contrast.effect_high))])  # fmt: skip
    axis = _Axis(1.04 * reach)
    height = HEAD + ROW * len(bars) + FOOT
    title = f"{first[:1].upper()}{first[1:]} beside {second}"
    heading = shortened(title, 18.0, WIDTH - 60.0)
    parts: list[Primitive] = [
        Text((24.0, 28.0), heading, 18.0, weight="bold"),
        Text((24.0, 50.0), "full mark: beyond chance · open: not · line: 95 % interval", 12.0,
             "quiet_text"),
        Text((LEFT, HEAD - 14.0), shortened(f"less than {second}", 12.0, 190.0), 12.0,
             "quiet_text"),
        Text((RIGHT, HEAD - 14.0), shortened(f"more than {second}", 12.0, 190.0), 12.0,
             "quiet_text", "end"),
        Text((RIGHT + 20.0, HEAD - 14.0), "difference (95 %)", 12.0, "quiet_text"),
        *axis.drawn(HEAD, HEAD + ROW * len(bars)),
    ]  # fmt: skip
    for place_, bar in enumerate(bars):
        parts += _row(bar, axis, HEAD + ROW * (place_ + 0.5))
    said = "; ".join(f"{bar.title}: {bar.said}" for bar in bars)
    return Scene(WIDTH, height, tuple(parts), title, said)


@dataclass(frozen=True)
class _Axis:
    reach: float

    def at(self, deviations: float) -> float:
        return (LEFT + RIGHT) / 2 + (RIGHT - LEFT) / 2 * deviations / self.reach

    def drawn(self, top: float, bottom: float) -> Iterator[Primitive]:
        step = next(s for s in (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 1e9) if self.reach / s <= 4.0)
        steps = range(-int(self.reach / step), int(self.reach / step) + 1)
        for x, value in ((self.at(step * n), step * n) for n in steps):
            role = "floor" if value == 0.0 else "hairline"
            yield Line((x, top), (x, bottom), Style("", role, 1.2 if value == 0.0 else 0.8))
            yield Text((x, bottom + 16.0), f"{value:g}".replace("-", "−"), 11.0, "quiet_text",
                       "middle")  # fmt: skip
        yield Text(((LEFT + RIGHT) / 2, bottom + 34.0), "standard deviations of a single dog",
                   12.0, "quiet_text", "middle")  # fmt: skip


def _row(bar: Bar, axis: _Axis, y: float) -> Iterator[Primitive]:
    one = bar.contrast
    role = "inside" if bar.sure else "unsure"
    yield Text((LEFT - 14.0, y + 4.5), shortened(bar.title, 13.0, LEFT - 40.0), 13.0, anchor="end")
    low, high = axis.at(one.effect_low), axis.at(one.effect_high)
    yield Line((low, y), (high, y), Style("", role, 2.0))
    for x in (low, high):
        yield Line((x, y - 4.0), (x, y + 4.0), Style("", role, 1.4))
    yield Circle((axis.at(one.effect), y), 4.6, Style(role if bar.sure else "white", role, 1.6))
    yield Text((RIGHT + 20.0, y + 4.5), bar.said, 12.0)


def middle_dogs(
    first: Mapping[str, float],
    second: Mapping[str, float],
    names: tuple[str, str],
    *,
    width: float = 900.0,
    height: float = 640.0,
) -> Scene:
    """Draw the middle dog of two populations, the second in dashes.

    Parameters
    ----------
    first, second : mapping of measurement to float
        What half of the dogs have less of.
    """
    dogs = [Named(name, place(values)) for name, values in zip(names, (first, second), strict=True)]
    return overlaid(*dogs, bones=False, title="The middle dog of each", width=width, height=height)


def overlap_said(overlap: float) -> str:
    """Say in how many of a hundred pairs the first dog has more."""
    return f"{number(100.0 * overlap, 0)} of 100"
