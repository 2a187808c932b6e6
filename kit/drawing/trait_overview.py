"""The traits of a dog without a standard: values and intervals, one axis for each kind."""

from __future__ import annotations

import math
from collections.abc import Sequence

from kit.drawing.regions import by_region
from kit.drawing.scene import Circle, Line, Primitive, Scene, Style, Text
from kit.drawing.strip import LEFT, MARGIN, RIGHT, Scale
from kit.drawing.wording import interval_text, value_text
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.standards.assessment import Assessment
from kit.traits.estimates import TraitEstimate

WIDTH, EDGE, VALUE = 1200.0, 28.0, 862.0
ROW, REGION, SECTION = 25.0, 30.0, 58.0  # px, heights
SECTIONS = ((Kind.LENGTH, "Size"), (Kind.MASS, ""), (Kind.RATIO, "Proportions"),
            (Kind.ANGLE, "Angles"))  # fmt: skip
STEPS = {Kind.RATIO: 0.5, Kind.ANGLE: 45.0}
INTERVALS_ON_AXIS = 12
DOT = Style("white", "ink", 2.0)


def trait_overview(assessment: Assessment) -> Scene:
    """Draw every known trait with its 95 % interval; as high as its rows need."""
    known = list(assessment.traits.known.values())
    parts: list[Primitive] = [
        Text((EDGE, 40), f"{assessment.dog or 'This dog'} · proportions and angles", 24,
             weight="bold"),
        Text((EDGE, 63), "Bars and figures on the right: where the true value lies, 95 % "
             "sure. Held against no standard.", 13, "quiet_text"),
    ]  # fmt: skip
    bottom = 76.0
    for kind, title in SECTIONS:
        rows = [estimate for estimate in known if estimate.trait.kind is kind]
        if rows:
            bottom = _section(parts, title, rows, bottom)
    if not known:
        parts.append(Text((EDGE, 104), "No trait is known from these readings yet.", 15))
        bottom = 110.0
    description = "; ".join(f"{e.trait.title} {value_text(e)}" for e in known)
    return Scene(WIDTH, bottom + EDGE, tuple(parts), f"Traits of {assessment.dog}", description)


def _section(
    parts: list[Primitive], title: str, rows: Sequence[TraitEstimate], top: float
) -> float:
    """Add one section; lengths and masses have no axis, because one of them says nothing."""
    kind = rows[0].trait.kind
    if title:
        parts.append(Text((EDGE, top + 40), title, 18, weight="bold"))
    top += SECTION if title else 0.0
    if kind not in STEPS:
        return _rows(parts, rows, None, top)
    groups = by_region(rows, lambda estimate: estimate.trait.key)
    scale, ticks = _axis(rows, STEPS[kind])
    parts += _grid(scale, ticks, kind, top, len(rows) * ROW + len(groups) * REGION)
    for region, group in groups:
        parts.append(Text((EDGE, top + 22), region, 13, "quiet_text", weight="bold"))
        top = _rows(parts, group, scale, top + REGION)
    return top + 8


def _rows(
    parts: list[Primitive], rows: Sequence[TraitEstimate], scale: Scale | None, top: float
) -> float:
    for estimate in rows:
        parts += _row(estimate, top)
        parts += [] if scale is None else _on_axis(estimate, scale, top + ROW / 2)
        top += ROW
    return top


def _axis(rows: Sequence[TraitEstimate], step: float) -> tuple[Scale, list[float]]:
    low = min(0.0, min(row.low95 for row in rows))
    high = max(step, max(row.high95 for row in rows))
    while (high - low) / step > INTERVALS_ON_AXIS:
        step *= 2.0
    first, last = math.ceil(low / step), math.floor(high / step)
    ticks = [index * step for index in range(first, last + 1)]
    return Scale(low, LEFT + MARGIN, (RIGHT - LEFT - 2 * MARGIN) / (high - low)), ticks


def _grid(
    scale: Scale, ticks: Sequence[float], kind: Kind, top: float, height: float
) -> list[Primitive]:
    line = Style(stroke="hairline", width=1.0)
    decimals = 1 if kind is Kind.RATIO else 0
    drawn: list[Primitive] = []
    for tick in ticks:
        x = scale.at(tick)
        drawn.append(Line((x, top), (x, top + height), line))
        shown = number(tick, decimals) + SUFFIX[kind]
        drawn.append(Text((x, top - 6), shown, 11.5, "quiet_text", "middle"))
    return drawn


def _row(estimate: TraitEstimate, top: float) -> list[Primitive]:
    title = estimate.trait.title
    rule = Style(stroke="hairline", width=0.6)
    return [
        Line((EDGE, top + ROW), (WIDTH - EDGE, top + ROW), rule),
        Text((EDGE, top + 18), title[:1].upper() + title[1:], 14),
        Text((VALUE, top + 18), value_text(estimate), 14.5, weight="bold"),
        Text((WIDTH - EDGE, top + 18), interval_text(estimate), 12.5, "quiet_text", "end"),
    ]


def _on_axis(estimate: TraitEstimate, scale: Scale, y: float) -> list[Primitive]:
    low, high = scale.at(estimate.low95), scale.at(estimate.high95)
    reach = Style(stroke="inside", width=5.0)
    return [Line((low, y), (high, y), reach), Circle((scale.at(estimate.value), y), 3.6, DOT)]
