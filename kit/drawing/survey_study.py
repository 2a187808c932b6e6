"""A measurer study in pictures: where differences come from, and how two hands compare."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from kit.drawing.lettering import shortened
from kit.drawing.scene import Circle, Line, Path, Primitive, Scene, Style, Text
from kit.quantities.formatting import number
from kit.reliability.bland_altman import Agreement, Level
from kit.reliability.study import DOG, MEASURER, PAIR, SIDE, Studied
from kit.reliability.variance import REPEAT

WIDTH, ROW, HEAD = 1000.0, 26.0, 76.0
LEFT, RIGHT = 330.0, 830.0
PARTS = (
    (DOG, "the dogs themselves", "band"),
    (SIDE, "left and right", "hairline"),
    (MEASURER, "which hand", "outside"),
    (PAIR, "hand and dog together", "coat_shade"),
    (REPEAT, "the same hand again", "far_coat"),
)
ROLES = {name: role for name, _, role in PARTS}


def variance_bars(studied: Sequence[Studied], titles: Sequence[str], units: Sequence[str]) -> Scene:
    """Draw for each measurement which part of all differences is the dogs, the hands, the repeats.

    Parameters
    ----------
    titles, units : sequences of str
        Of each measurement.
    """
    height = HEAD + ROW * len(studied) + 18.0
    title = "Where the differences between readings come from"
    parts: list[Primitive] = [Text((24.0, 28.0), title, 18.0, weight="bold"), *_legend(studied)]
    heading = "one hand, and several"
    parts.append(Text((RIGHT + 14.0, HEAD - 8.0), heading, 11.0, "quiet_text"))
    for place, (one, name, unit) in enumerate(zip(studied, titles, units, strict=True)):
        parts += _bar(one, name, unit, HEAD + ROW * place)
    said = "; ".join(
        f"{name}: dogs {_share(one, DOG):.0%}, hands {_share(one, MEASURER, PAIR):.0%}"
        for one, name in zip(studied, titles, strict=True)
    )
    return Scene(WIDTH, height, tuple(parts), title, said)


def _share(one: Studied, *names: str) -> float:
    return sum(part.share for part in one.components.parts if part.name in names)


def _legend(studied: Sequence[Studied]) -> Iterator[Primitive]:
    x = 24.0
    for name, said, role in PARTS:
        if any(name in one.components for one in studied):
            yield _block(x, x + 20.0, 50.0, 11.0, role)
            yield Text((x + 26.0, 54.5), said, 12.0, "quiet_text")
            x += 44.0 + 7.2 * len(said)


def _block(left: float, right: float, middle: float, tall: float, role: str) -> Path:
    top, bottom = middle - tall / 2, middle + tall / 2
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    return Path.polyline(corners, Style(role), closed=True)


def _bar(one: Studied, name: str, unit: str, top: float) -> Iterator[Primitive]:
    middle, x = top + ROW / 2, LEFT
    yield Text((LEFT - 12.0, middle + 4.5), shortened(name, 13.0, 300.0), 13.0, anchor="end")
    for part in sorted(one.components.parts, key=lambda part: list(ROLES).index(part.name)):
        right = x + (RIGHT - LEFT) * part.share
        if part.share > 0.001:
            yield _block(x, right, middle, 17.0, ROLES[part.name])
        x = right
    errors = f"±{number(one.within.tem, 2)} and ±{number(one.between_error, 2)} {unit}"
    yield Text((RIGHT + 14.0, middle + 4.5), errors, 12.0)


PLOT = (76.0, 64.0, 640.0, 400.0)  # px: left, top, right, bottom of the field


def two_hands(agreement: Agreement, first: str, second: str, title: str, unit: str) -> Scene:
    """Draw two measurers against one another: each dog's difference over its mean."""
    field = _Field(agreement)
    left, top, right, bottom = PLOT
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    parts: list[Primitive] = [
        Path.polyline(corners, Style("white", "hairline", 1.0), closed=True),
        Text((left, 26.0), title, 17.0, weight="bold"),
        Text((left, 46.0), f"{first} less {second}, {unit}", 12.0, "quiet_text"),
        Line((left, field.y(0.0)), (right, field.y(0.0)), Style("", "faint_line", 1.0)),
    ]
    rows = ((agreement.upper, "95 % of differences"), (agreement.bias, "mean difference"),
            (agreement.lower, ""))  # fmt: skip
    for level, said in rows:
        parts += _level(level, said, field)
    for mean, difference in zip(agreement.means, agreement.differences, strict=True):
        at = (field.x(float(mean)), field.y(float(difference)))
        parts.append(Circle(at, 3.4, Style("coat_shade", opacity=0.8)))
    parts += field.ticks(unit)
    described = (
        f"{first} reads {number(agreement.bias.value, 2)} {unit} more than {second} in the mean; "
        f"95 % of differences lie between {number(agreement.lower.value, 2)} and "
        f"{number(agreement.upper.value, 2)} {unit}."
    )
    return Scene(860.0, 452.0, tuple(parts), title, described)


class _Field:
    """Where means and differences lie on the picture."""

    def __init__(self, agreement: Agreement) -> None:
        ends = [agreement.lower.low, agreement.upper.high, 0.0, *agreement.differences.tolist()]
        room = 0.06 * (max(ends) - min(ends))
        self.low: float = min(ends) - room
        self.high: float = max(ends) + room
        least, most = float(agreement.means.min()), float(agreement.means.max())
        margin = 0.05 * (most - least) or 1.0
        self.least, self.most = least - margin, most + margin

    def x(self, mean: float) -> float:
        left, _, right, _ = PLOT
        return left + (right - left) * (mean - self.least) / (self.most - self.least)

    def y(self, difference: float) -> float:
        _, top, _, bottom = PLOT
        part: float = (difference - self.low) / (self.high - self.low)
        return bottom - (bottom - top) * part

    def ticks(self, unit: str) -> Iterator[Primitive]:
        left, _, right, bottom = PLOT
        for value in _steps(self.least, self.most):
            yield Line(
                (self.x(value), bottom), (self.x(value), bottom + 4), Style("", "floor", 1.0)
            )
            yield Text((self.x(value), bottom + 18), f"{value:g}", 11.0, "quiet_text", "middle")
        for value in _steps(self.low, self.high):
            yield Line((left - 4, self.y(value)), (left, self.y(value)), Style("", "floor", 1.0))
            shown = f"{value:g}".replace("-", "−")
            yield Text((left - 8, self.y(value) + 4), shown, 11.0, "quiet_text", "end")
        said = f"mean of both, {unit}"
        yield Text(((left + right) / 2, bottom + 38), said, 12.0, "quiet_text", "middle")


def _steps(low: float, high: float) -> list[float]:
    rough = (high - low) / 6.0
    power = 10.0 ** np.floor(np.log10(rough))
    step = float(min((s * power for s in (1.0, 2.0, 5.0, 10.0)), key=lambda s: abs(s - rough)))
    first = int(np.ceil(low / step))
    return [round(step * n, 10) for n in range(first, int(np.floor(high / step)) + 1)]


def _level(level: Level, said: str, field: _Field) -> Iterator[Primitive]:
    left, _, right, _ = PLOT
    top, bottom = field.y(level.high), field.y(level.low)
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    yield Path.polyline(corners, Style("band", opacity=0.75), closed=True)
    y = field.y(level.value)
    dash = () if said.startswith("mean") else (7.0, 4.0)
    yield Line((left, y), (right, y), Style("", "inside", 1.6, dash))
    yield Text((right + 8.0, y + 4.0), number(level.value, 2), 13.0, "inside")
    if said:
        yield Text((right + 56.0, y + 4.0), said, 11.0, "quiet_text")
