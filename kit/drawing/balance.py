"""Front against rear: both angles as fans, and their difference with its own uncertainty."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from kit.drawing.finding_marks import mark, role_of
from kit.drawing.lettering import broken
from kit.drawing.scene import Circle, Line, Path, Point, Primitive, Scene, Style, Text
from kit.drawing.wording import interval_text, value_text
from kit.standards.assessment import Assessment
from kit.standards.conformity import Outcome
from kit.standards.findings import Finding
from kit.traits.estimates import TraitEstimate

WIDTH, HEIGHT, LINE = 900.0, 452.0, 44.0  # px; a sentence beneath takes more height
EDGE = 28.0
BONE, ARC = 124.0, 46.0  # px, lengths
REACH = 1.22  # how far a fan reaches beyond its bone
REAR, FRONT = (210.0, 190.0), (690.0, 190.0)  # px, hip joint and point of shoulder
AXIS_LEFT, AXIS_RIGHT, AXIS = 150.0, 750.0, 400.0  # px
LEAST_REACH = 30.0  # degrees to either side of zero
STEPS = 40
BALANCE, SHOULDER, HIP = "front_rear_balance", "shoulder_angle", "hip_angle"


def balance(assessment: Assessment, sentence: str = "") -> Scene:
    """Draw front and rear angulation and what the readings bear about their difference.

    Parameters
    ----------
    sentence : str
        What is written beneath; empty for nothing.

    Returns
    -------
    Scene
        The dog faces right: the hip on the left, the shoulder on the right. The light fan is
        where the true angle lies with 95 % probability.
    """
    known = assessment.traits.known
    finding = next((f for f in assessment.findings if f.clause.trait == BALANCE), None)
    parts: list[Primitive] = [
        Text((EDGE, 38.0), "Front against rear", 20.0, weight="bold"),
        *_joint(known.get(HIP), REAR, 0.0, ("rear", "pelvis", "thigh")),
        *_joint(known.get(SHOULDER), FRONT, 180.0, ("front", "blade", "upper arm")),
    ]
    parts += _difference(known.get(BALANCE), finding)
    parts += _sentence(sentence)
    height = HEIGHT + (LINE if sentence else 0.0)
    return Scene(WIDTH, height, tuple(parts), "Front against rear", sentence or "Not measured")


def _joint(
    known: TraitEstimate | None, apex: Point, towards: float, names: Sequence[str]
) -> list[Primitive]:
    """Draw one joint opening `towards` a direction (degrees, counter-clockwise from the right)."""
    end, upper, lower = names
    middle = (apex[0] + (60.0 if towards == 0.0 else -60.0), 70.0)
    if known is None:
        return [Text(middle, f"{end}: not measured", 15.0, "quiet_text", "middle")]
    half, turn = known.value / 2.0, 1.0 if towards == 0.0 else -1.0
    # The upper bone stands still; the fan is where the lower one may truly lie.
    still, moving = towards + turn * half, towards - turn * half
    low, high = (still - turn * end for end in (known.low95, min(180.0, known.high95)))
    curve = [_end(apex, still - turn * known.value * step / STEPS, ARC)
             for step in range(STEPS + 1)]  # fmt: skip
    label = _end(apex, towards, ARC + 14.0)
    anchor, other = ("start", "end") if turn > 0 else ("end", "start")
    outside = apex[0] - turn * 20.0
    return [
        *_fan(apex, low, high),
        Path.polyline(curve, Style("", "accent", 2.2)),
        *_bone(apex, _end(apex, still, BONE), upper),
        *_bone(apex, _end(apex, moving, BONE), lower),
        Circle(apex, 7.0, Style("white", "ink", 2.5)),
        Text((label[0], label[1] + 2.0), value_text(known), 19.0, "accent", anchor, "bold"),
        Text((label[0], label[1] + 21.0), interval_text(known), 12.0, "quiet_text", anchor),
        Text((outside, apex[1] - 4.0), end, 16.0, "text", other, "bold"),
        Text((outside, apex[1] + 16.0), known.trait.title, 13.0, "quiet_text", other),
    ]


def _fan(apex: Point, low: float, high: float) -> list[Primitive]:
    edge = Style("", "accent", 1.2)
    return [
        _sector(apex, low, high),
        *(Line(apex, _end(apex, direction, BONE * REACH), edge) for direction in (low, high)),
    ]


def _bone(apex: Point, end: Point, name: str) -> list[Primitive]:
    """Draw one bone; its name stands beyond its far end, above or below."""
    shift = -12.0 if end[1] < apex[1] else 44.0
    return [
        Line(apex, end, Style("", "bone_line", 11.0)),
        Line(apex, end, Style("", "bone", 8.0)),
        Text((end[0], end[1] + shift), name, 12.0, "quiet_text", "middle"),
    ]


def _end(apex: Point, direction: float, reach: float) -> Point:
    turned = math.radians(direction)
    return apex[0] + reach * math.cos(turned), apex[1] - reach * math.sin(turned)


def _sector(apex: Point, low: float, high: float) -> Path:
    points = [_end(apex, low + (high - low) * step / STEPS, BONE * REACH)
              for step in range(STEPS + 1)]  # fmt: skip
    return Path.polyline([apex, *points], Style("accent", opacity=0.20), closed=True)


def _difference(known: TraitEstimate | None, finding: Finding | None) -> list[Primitive]:
    if known is None:
        return [Text((WIDTH / 2, AXIS), "Both angles are needed for their difference.", 14.0,
                     "quiet_text", "middle")]  # fmt: skip
    reach = max(LEAST_REACH, abs(known.low95) * 1.1, abs(known.high95) * 1.1)

    def at(value: float) -> float:
        middle = (AXIS_LEFT + AXIS_RIGHT) / 2.0
        return middle + (AXIS_RIGHT - AXIS_LEFT) / 2.0 * value / reach

    outcome = finding.outcome if finding and finding.chance else Outcome.UNDECIDED
    role = role_of(outcome)
    low, high = at(known.low95), at(known.high95)
    return [
        *_asked(finding, at),
        Line((AXIS_LEFT, AXIS), (AXIS_RIGHT, AXIS), Style("", "hairline", 1.0)),
        Line((at(0.0), AXIS - 17.0), (at(0.0), AXIS + 17.0), Style("", "ink", 1.4)),
        Text((at(0.0), AXIS + 34.0), "alike", 12.0, "quiet_text", "middle"),
        Text((AXIS_LEFT - 10.0, AXIS + 4.0), "rear more open", 12.0, "quiet_text", "end"),
        Text((AXIS_RIGHT + 10.0, AXIS + 4.0), "front more open", 12.0, "quiet_text"),
        Line((low, AXIS), (high, AXIS), Style("", role, 2.0)),
        *(Line((x, AXIS - 6.0), (x, AXIS + 6.0), Style("", role, 2.0)) for x in (low, high)),
        *mark(outcome, (at(known.value), AXIS), 7.5),
        Text((at(known.value), AXIS - 22.0), f"difference {value_text(known)}", 14.0, "text",
             "middle", "bold", halo="paper"),
    ]  # fmt: skip


def _asked(finding: Finding | None, at: Callable[[float], float]) -> list[Primitive]:
    if finding is None or finding.clause.low is None or finding.clause.high is None:
        return []
    left, right = at(finding.clause.low), at(finding.clause.high)
    corners = [(left, AXIS - 11.0), (right, AXIS - 11.0), (right, AXIS + 11.0), (left, AXIS + 11.0)]
    return [Path.polyline(corners, Style("band"), closed=True)]


def _sentence(sentence: str) -> list[Primitive]:
    lines = broken(sentence, 14.0, WIDTH - 2 * EDGE)
    return [Text((EDGE, 462.0 + 18.0 * row), line, 14.0) for row, line in enumerate(lines)]
