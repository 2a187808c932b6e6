"""Axes of growth pictures: age across in weeks, size upwards, light lines at round numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kit.drawing.scene import Line, Path, Point, Primitive, Segment, Style, Text
from kit.quantities.formatting import SUFFIX
from kit.quantities.kinds import Kind

DAYS_PER_WEEK = 7.0
THREE_WEEKS = 21.0
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
RULE = Style(stroke="hairline", width=1.0)
BASE = Style(stroke="faint_line", width=1.2)


@dataclass(frozen=True)
class Axes:
    """A panel and the ranges it shows.

    Attributes
    ----------
    left, top, width, height : float
        Of the plotting area, in px.
    ages, sizes : (float, float)
        Ends of the axes, in days and the unit of the size.
    """

    left: float
    top: float
    width: float
    height: float
    ages: tuple[float, float]
    sizes: tuple[float, float]

    @property
    def bottom(self) -> float:
        """The y of the lowest size."""
        return self.top + self.height

    @property
    def right(self) -> float:
        """The x of the last age."""
        return self.left + self.width

    def x(self, age: float) -> float:
        """Return where an age lies."""
        first, last = self.ages
        return self.left + self.width * (age - first) / (last - first)

    def y(self, size: float) -> float:
        """Return where a size lies."""
        least, most = self.sizes
        return self.bottom - self.height * (size - least) / (most - least)

    def at(self, age: float, size: float) -> Point:
        """Return where an age and a size meet."""
        return self.x(age), self.y(size)

    @property
    def box(self) -> Path:
        """The outline of the plotting area, to clip by."""
        corners = [(self.left, self.top), (self.right, self.top),
                   (self.right, self.bottom), (self.left, self.bottom)]  # fmt: skip
        return Path.polyline(corners, Style(), closed=True)


def round_steps(low: float, high: float, about: int) -> tuple[float, ...]:
    """Return round numbers from `low` to `high`, about so many."""
    rough = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * base for base in STEPS if power * base >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return tuple(index * step for index in range(first, math.floor(high / step + 1e-9) + 1))


def week_steps(last_day: float, about: int) -> tuple[int, ...]:
    """Return whole weeks to mark on the age axis."""
    weeks = last_day / DAYS_PER_WEEK
    for step in (1, 2, 4, 8, 13, 26, 52):
        if weeks / step <= about:
            break
    return tuple(range(0, int(weeks) + 1, step))


def grid(axes: Axes, kind: Kind, *, about: int = 4, weeks: int = 6) -> Iterator[Primitive]:
    """Draw the lines and numbers of a panel; only the lowest line is strong.

    Up to three weeks ages are numbered in days, and weights under a kilogram in grams.
    """
    for size in round_steps(*axes.sizes, about):
        y = axes.y(size)
        yield Line((axes.left, y), (axes.right, y), RULE)
        yield Text((axes.left - 7, y + 4), _number(size, kind, axes), 11, "quiet_text", "end")
    yield Line((axes.left, axes.bottom), (axes.right, axes.bottom), BASE)
    for label, day in _ages(axes, weeks):
        x = axes.x(day)
        yield Line((x, axes.bottom), (x, axes.bottom + 4), BASE)
        yield Text((x, axes.bottom + 17), label, 11, "quiet_text", "middle")


def _ages(axes: Axes, weeks: int) -> Iterator[tuple[str, float]]:
    in_days = axes.ages[1] <= THREE_WEEKS
    for week in week_steps(axes.ages[1], weeks):
        day = week * DAYS_PER_WEEK
        yield (f"{day:.0f}" if in_days else str(week)), day


def _number(size: float, kind: Kind, axes: Axes) -> str:
    if kind is Kind.MASS and axes.sizes[1] < 1.0:
        return f"{1000.0 * size:.0f} g"
    text = f"{size:.2f}".rstrip("0").rstrip(".")
    return text if kind is Kind.RATIO else text + SUFFIX[kind]


def polyline(axes: Axes, ages: Sequence[float], sizes: Sequence[float], style: Style) -> Path:
    """Draw a curve through points given in days and sizes."""
    return Path.polyline([axes.at(a, s) for a, s in zip(ages, sizes, strict=True)], style)


def ribbon(
    axes: Axes, ages: Sequence[float], low: Sequence[float], high: Sequence[float], style: Style
) -> Path:
    """Fill between two curves."""
    up = [axes.at(a, s) for a, s in zip(ages, high, strict=True)]
    down = [axes.at(a, s) for a, s in zip(ages, low, strict=True)]
    start, *rest = up + down[::-1]
    return Path(start, tuple(Segment(point) for point in rest), style, closed=True)
