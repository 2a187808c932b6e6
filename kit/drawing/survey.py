"""A population against a standard: every dog of it, the limits, and what measuring blurs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.drawing.lettering import shortened
from kit.drawing.scene import Circle, Line, Path, Point, Primitive, Scene, Style, Text
from kit.drawing.wording import limit_text
from kit.quantities.kinds import Kind
from kit.survey.clauses import ClauseShare
from kit.traits.declarations import trait

Array = NDArray[np.float64]
WIDTH, ROW, HEAD, FOOT = 1000.0, 76.0, 62.0, 16.0
LEFT, RIGHT = 340.0, 760.0  # px, ends of every axis
TALL = 44.0  # px of the highest column of a row
BINS = 44
DOT = 1.7


@dataclass(frozen=True)
class Row:
    """One clause with the values of the dogs it asks, in the unit of its trait."""

    share: ClauseShare
    values: Array


def population(rows: Sequence[Row], title: str = "The population against the standard") -> Scene:
    """Draw one row a clause: dogs as columns, the limits as a band, the true spread as a line.

    The columns are what was read; the line is what is left when the error of measuring is taken
    out, so it is narrower. Where error alone may explain the columns there is no line.
    """
    height = HEAD + ROW * len(rows) + FOOT
    parts: list[Primitive] = [Text((24.0, 28.0), title, 18.0, weight="bold"), *_legend()]
    for number, row in enumerate(rows):
        parts += _row(row, HEAD + ROW * (number + 1) - 18.0)
    said = "; ".join(f"{_title(row.share)}: {share_text(row.share)}" for row in rows)
    return Scene(WIDTH, height, tuple(parts), title, said)


def share_text(share: ClauseShare) -> str:
    """Say which share of the dogs lies within, measuring error taken out where it can be."""
    if math.isnan(share.within):
        said = f"{percent(share.as_read)} as read; error hides the true share"
        return said.replace("%", " %")
    said = f"{percent(share.within)} within ({percent(share.low)} to {percent(share.high)})"
    return said.replace("%", " %")


def percent(part: float) -> str:
    """Write a share of dogs; no survey shows that all of them are."""
    if part > 0.995:
        return "over 99%"
    return "under 1%" if part < 0.005 else f"{part:.0%}"


def _legend() -> Iterator[Primitive]:
    y = 46.0
    yield Path.polyline(_box(24.0, 46.0, y - 9, y + 2), Style("band"), closed=True)
    yield Text((52.0, y), "asked", 12.0, "quiet_text")
    yield Path.polyline(_box(112.0, 134.0, y - 9, y + 2), Style("far_coat"), closed=True)
    yield Text((140.0, y), "dogs as read", 12.0, "quiet_text")
    yield Line((250.0, y - 4), (278.0, y - 4), Style("", "inside", 2.0))
    yield Text((286.0, y), "their true spread, error of measuring taken out", 12.0, "quiet_text")
    yield Circle((616.0, y - 4), DOT * 1.6, Style("outside"))
    yield Text((626.0, y), "a dog beyond the axis", 12.0, "quiet_text")


def _box(left: float, right: float, top: float, bottom: float) -> list[Point]:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


@dataclass(frozen=True)
class _Axis:
    low: float
    high: float

    def at(self, value: float) -> float:
        part = (value - self.low) / (self.high - self.low)
        return min(RIGHT, max(LEFT, LEFT + (RIGHT - LEFT) * part))


def _axis(row: Row) -> _Axis:
    share = row.share
    middle = float(np.median(row.values))
    ends = [middle - 3.6 * share.observed_sd, middle + 3.6 * share.observed_sd]
    ends += [limit for limit in (share.clause.low, share.clause.high) if limit is not None]
    room = 0.04 * (max(ends) - min(ends))
    return _Axis(min(ends) - room, max(ends) + room)


def _row(row: Row, base: float) -> Iterator[Primitive]:
    axis, share = _axis(row), row.share
    kind = trait(share.clause.trait).kind
    yield from _band(share, axis, base)
    yield from _columns(row.values, axis, base)
    yield Line((LEFT, base), (RIGHT, base), Style("", "floor", 1.0))
    yield from _limits(share, axis, base, kind)
    yield from _curve(row, axis, base)
    yield Text((24.0, base - 20.0), shortened(_title(share), 13.5, 306.0), 13.5)
    yield Text((24.0, base - 3.0), _count(share), 12.0, "quiet_text")
    said, _, interval = share_text(share).partition(" (" if "(" in share_text(share) else "; ")
    yield Text((RIGHT + 18.0, base - 18.0), said, 15.0, "text", weight="bold")
    yield Text((RIGHT + 18.0, base - 1.0), interval.rstrip(")"), 12.0, "quiet_text")


def _title(share: ClauseShare) -> str:
    title = trait(share.clause.trait).title
    sex = "" if share.clause.sex == "both" else f", {share.clause.sex}s".replace("chs", "ches")
    return title[:1].upper() + title[1:] + sex


def _count(share: ClauseShare) -> str:
    missing = f", {share.missing} not measured" if share.missing else ""
    return f"{share.count} dogs{missing}"


def _band(share: ClauseShare, axis: _Axis, base: float) -> Iterator[Primitive]:
    left = LEFT if share.clause.low is None else axis.at(share.clause.low)
    right = RIGHT if share.clause.high is None else axis.at(share.clause.high)
    yield Path.polyline(_box(left, right, base - TALL - 4, base), Style("band"), closed=True)


def _columns(values: Array, axis: _Axis, base: float) -> Iterator[Primitive]:
    edges = np.linspace(axis.low, axis.high, BINS + 1)
    counts, _ = np.histogram(values, edges)
    tallest = max(int(counts.max()), 1)
    for number, count in enumerate(counts.tolist()):
        if count:
            left, right = axis.at(edges[number]) + 0.6, axis.at(edges[number + 1]) - 0.6
            top = base - TALL * count / tallest
            yield Path.polyline(_box(left, right, top, base), Style("far_coat"), closed=True)
    for value in values[(values < axis.low) | (values > axis.high)].tolist():
        yield Circle((axis.at(value), base - 5.0), DOT * 1.6, Style("outside"))


def _limits(share: ClauseShare, axis: _Axis, base: float, kind: Kind) -> Iterator[Primitive]:
    for limit in (share.clause.low, share.clause.high):
        if limit is not None:
            x = axis.at(limit)
            yield Line((x, base - TALL - 4), (x, base + 3), Style("", "inside", 1.3))
            yield Text((x, base + 14.0), limit_text(limit, kind), 11.0, "quiet_text", "middle")


def _curve(row: Row, axis: _Axis, base: float) -> Iterator[Primitive]:
    share = row.share
    if math.isnan(share.true_sd):
        return
    edges = np.linspace(axis.low, axis.high, BINS + 1)
    counts, _ = np.histogram(row.values, edges)
    at = np.linspace(axis.low, axis.high, 160)
    shape = np.exp(-0.5 * ((at - share.mean) / share.true_sd) ** 2)
    seen = share.count * (edges[1] - edges[0]) / (share.true_sd * math.sqrt(2 * math.pi))
    tall = TALL * min(1.12, seen / max(int(counts.max()), 1))
    points = [
        (axis.at(x), base - tall * y)
        for x, y in zip(at.tolist(), shape.tolist(), strict=True)
        if y > 0.004
    ]
    yield Path.polyline(points, Style("", "inside", 2.0))
