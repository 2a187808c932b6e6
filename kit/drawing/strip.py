"""One trait on its own scale: the range asked for, the value and its interval."""

from __future__ import annotations

from dataclasses import dataclass

from kit.drawing.finding_marks import mark, role_of
from kit.drawing.scene import Line, Path, Point, Primitive, Style, Text
from kit.drawing.wording import limit_text
from kit.quantities.kinds import Kind
from kit.standards.conformity import Outcome
from kit.standards.standard import Clause
from kit.traits.estimates import TraitEstimate

LEFT, RIGHT = 444.0, 836.0  # px, ends of every strip
CENTRE = (LEFT + RIGHT) / 2.0
CORRIDOR = 132.0  # px, width of a two-sided range wherever the value allows it
NARROWEST = 12.0  # px, of a range when the value lies far from it
MARGIN = 12.0  # px kept free at both ends
BAND, HALF_BAR, CAP, MARK = 11.0, 3.5, 6.0, 7.5  # px: half heights, and the radius of the mark
FADES = 14  # steps of an open end
INTERVAL_OF_ONE_SIDED = 6.0  # standard uncertainties a corridor's width stands for at least


@dataclass(frozen=True)
class Scale:
    """Where values lie on the strip: `anchor` at `origin` px, then `per_unit` px a unit."""

    anchor: float
    origin: float
    per_unit: float

    def at(self, value: float) -> float:
        """Return the place of a value, held inside the strip."""
        place = self.origin + (value - self.anchor) * self.per_unit
        return min(RIGHT - MARGIN / 2, max(LEFT + MARGIN / 2, place))


def scale_for(clause: Clause, estimate: TraitEstimate) -> Scale:
    """Put the range in the same corridor on every strip, smaller where the value lies far off."""
    low, high = clause.low, clause.high
    if low is not None and high is not None:
        anchor, origin, natural = (low + high) / 2.0, CENTRE, CORRIDOR / (high - low)
        least = NARROWEST / (high - low)
    else:
        anchor = high if high is not None else low or 0.0
        origin = CENTRE + (CORRIDOR / 2.0 if low is None else -CORRIDOR / 2.0)
        width = INTERVAL_OF_ONE_SIDED * estimate.uncertainty or abs(anchor) or 1.0
        natural, least = CORRIDOR / width, 0.0
    return Scale(anchor, origin, max(least, min(natural, _fitting(anchor, origin, estimate))))


def _fitting(anchor: float, origin: float, estimate: TraitEstimate) -> float:
    """Return the px a unit at which the whole interval is still on the strip."""
    most = float("inf")
    for end in (estimate.low95, estimate.high95, estimate.value):
        room = RIGHT - MARGIN - origin if end > anchor else origin - LEFT - MARGIN
        if end != anchor:
            most = min(most, room / abs(end - anchor))
    return most


def strip(clause: Clause, estimate: TraitEstimate, outcome: Outcome, y: float) -> list[Primitive]:
    """Draw one strip with its middle at height `y`."""
    scale = scale_for(clause, estimate)
    return [
        Line((LEFT, y), (RIGHT, y), Style(stroke="hairline", width=1.0)),
        *_range(clause, scale, y),
        *_limits(clause, estimate.trait.kind, scale, y),
        *_target(clause, scale, y),
        *interval(estimate, scale, role_of(outcome), y),
        *mark(outcome, (scale.at(estimate.value), y), MARK),
    ]


def _range(clause: Clause, scale: Scale, y: float) -> list[Primitive]:
    if clause.low is not None and clause.high is not None:
        return [_block(scale.at(clause.low), scale.at(clause.high), y, 1.0)]
    if clause.low is not None:
        return _faded(scale.at(clause.low), RIGHT, y)
    return _faded(scale.at(clause.high or 0.0), LEFT, y)


def _faded(start: float, end: float, y: float) -> list[Primitive]:
    """Draw a range that is open towards `end`: it fades out over its last two thirds."""
    solid = start + (end - start) / 3.0
    step = (end - solid) / FADES
    blocks = [
        _block(solid + step * index, solid + step * (index + 1), y, 1.0 - (index + 1) / FADES)
        for index in range(FADES - 1)
    ]
    return [_block(start, solid, y, 1.0), *blocks]


def _block(one: float, other: float, y: float, opacity: float) -> Path:
    corners = [(one, y - BAND), (other, y - BAND), (other, y + BAND), (one, y + BAND)]
    return Path.polyline(corners, Style("band", opacity=opacity), closed=True)


def _limits(clause: Clause, kind: Kind, scale: Scale, y: float) -> list[Primitive]:
    drawn: list[Primitive] = []
    for limit, anchor, shift in ((clause.low, "end", 3.0), (clause.high, "start", -3.0)):
        if limit is None:
            continue
        x = scale.at(limit)
        drawn += [
            Line((x, y - BAND), (x, y + BAND), Style(stroke="inside", width=1.4)),
            Text((x + shift, y + 25), limit_text(limit, kind), 11.5, "quiet_text", anchor),
        ]
    return drawn


def _target(clause: Clause, scale: Scale, y: float) -> list[Primitive]:
    """Draw two small wedges that point at the target from above and below."""
    if clause.target is None:
        return []
    x = scale.at(clause.target)
    return [
        _wedge((x, y - BAND + 5.5), (x - 4, y - BAND), (x + 4, y - BAND)),
        _wedge((x, y + BAND - 5.5), (x - 4, y + BAND), (x + 4, y + BAND)),
    ]


def _wedge(*corners: Point) -> Path:
    return Path.polyline(corners, Style("inside"), closed=True)


def interval(estimate: TraitEstimate, scale: Scale, role: str, y: float) -> list[Primitive]:
    """Draw the 95 % interval as a capped line and one standard uncertainty as a bar on it."""
    low, high = scale.at(estimate.low95), scale.at(estimate.high95)
    inner = max(estimate.low95, estimate.value - estimate.uncertainty)
    outer = min(estimate.high95, estimate.value + estimate.uncertainty)
    thin = Style(stroke=role, width=1.8)
    thick = Style(stroke=role, width=2 * HALF_BAR)
    return [
        Line((low, y), (high, y), thin),
        Line((low, y - CAP), (low, y + CAP), thin),
        Line((high, y - CAP), (high, y + CAP), thin),
        Line((scale.at(inner), y), (scale.at(outer), y), thick),
    ]
