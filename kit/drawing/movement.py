"""The dog in movement: steps for its speed and size, and how its tracks close."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kit.drawing.finding_marks import role_of
from kit.drawing.scene import Circle, Line, Path, Point, Primitive, Scene, Style, Text
from kit.movement.assessment import Movement
from kit.movement.estimate import GaitEstimate
from kit.movement.findings import MovementFinding
from kit.movement.gait import relative_stride
from kit.movement.observations import movement_tables
from kit.quantities.formatting import number
from kit.standards.conformity import Outcome

WIDTH, HEIGHT = 620.0, 430.0
LEFT, RIGHT, TOP, BOTTOM = 70.0, 596.0, 66.0, 366.0  # px, ends of the axes
CURVE_STEPS = 60
PLAN_WIDTH, PLAN_HEIGHT, PLAN_ROW = 620.0, 320.0, 74.0
PLAN_SCALE = 16.0  # px per cm at most
CENTIMETRES = 100.0
NORMAL_95 = 1.96
OPEN = (Outcome.UNDECIDED, Outcome.PROBABLY_WITHIN, Outcome.PROBABLY_BELOW,
        Outcome.PROBABLY_ABOVE)  # fmt: skip
WORDS = {
    Outcome.WITHIN: "as like bodies do",
    Outcome.BELOW: "more steps than like bodies",
    Outcome.ABOVE: "fewer steps than like bodies",
    Outcome.PROBABLY_WITHIN: "probably as like bodies do",
    Outcome.PROBABLY_BELOW: "probably more steps than like bodies",
    Outcome.PROBABLY_ABOVE: "probably fewer steps than like bodies",
}


@dataclass(frozen=True)
class _Axes:
    """Where Froude numbers and relative strides fall."""

    widest: float
    tallest: float

    def at(self, froude: float, stride: float) -> Point:
        x = LEFT + (RIGHT - LEFT) * froude / self.widest
        return x, BOTTOM - (BOTTOM - TOP) * stride / self.tallest


def similarity(movement: Movement, findings: Sequence[MovementFinding]) -> Scene:
    """Draw stride against speed, both for the dog's size, with what like bodies do.

    The curve is the published relation, the band round it what the kit takes as alike; crosses
    reach over the 95 % interval of each figure.
    """
    paces = [pace for pace in movement.paces.values() if "froude_number" in pace.figures]
    widest = max([1.0, *(p.figures["froude_number"].high95 for p in paces)]) * 1.2
    strides = [p.figures["relative_stride_length"].high95 for p in paces
               if "relative_stride_length" in p.figures]  # fmt: skip
    axes = _Axes(widest, max([float(relative_stride(widest)) * 1.25, *strides]) * 1.05)
    outcomes = {f.pace: f.outcome for f in findings if f.key == "similarity"}
    parts: list[Primitive] = [*_frame(axes), *_curve(axes)]
    for pace in paces:
        if "relative_stride_length" in pace.figures:
            outcome = outcomes.get(pace.pace, Outcome.NOT_MEASURED)
            parts += _cross(axes, pace.figures, pace.pace or "run", outcome)
    said = "; ".join(
        f"{p.pace or 'run'}: Froude number {p.figures['froude_number'].value:.2f}" for p in paces
    )
    return Scene(WIDTH, HEIGHT, tuple(parts), "Steps for the speed and size", said)


def _frame(axes: _Axes) -> list[Primitive]:
    frame: list[Primitive] = [
        Text((24.0, 34.0), "Steps for the speed and size", 18.0, weight="bold"),
        Line((LEFT, BOTTOM), (RIGHT, BOTTOM), Style("", "floor", 1.2)),
        Line((LEFT, TOP), (LEFT, BOTTOM), Style("", "floor", 1.2)),
        Text((RIGHT, BOTTOM + 44.0), "speed for the size (Froude number)", 12.5, "quiet_text",
             "end"),
        Text((LEFT, TOP - 10.0), "stride for the height of the hip", 12.5, "quiet_text", "start"),
    ]  # fmt: skip
    step = 0.5 if axes.widest < 4 else 1.0
    for count in range(int(axes.widest / step) + 1):
        x, y = axes.at(count * step, 0.0)
        frame.append(Line((x, y), (x, y + 5.0), Style("", "floor", 1.0)))
        frame.append(Text((x, y + 20.0), f"{count * step:g}", 11.5, "quiet_text", "middle"))
    for count in range(1, int(axes.tallest) + 1):
        x, y = axes.at(0.0, float(count))
        frame.append(Line((x, y), (RIGHT, y), Style("", "hairline", 0.8)))
        frame.append(Text((x - 8.0, y + 4.0), f"{count}", 11.5, "quiet_text", "end"))
    return frame


def _curve(axes: _Axes) -> list[Primitive]:
    table = movement_tables().table("similarity")
    speeds = [axes.widest * step / CURVE_STEPS for step in range(CURVE_STEPS + 1)]
    middle = [float(relative_stride(speed)) for speed in speeds]
    pairs = list(zip(speeds, middle, strict=True))
    low, high = table.number("low"), table.number("high")
    edge = [axes.at(x, y * high) for x, y in pairs] + [axes.at(x, y * low) for x, y in pairs[::-1]]
    label = axes.at(axes.widest, middle[-1])
    return [
        Path.polyline(edge, Style("band", opacity=0.75), closed=True),
        Path.polyline([axes.at(x, y) for x, y in pairs], Style("", "inside", 2.0)),
        Text((label[0] - 4.0, label[1] - 8.0), "like bodies", 12.0, "inside", "end"),
        Text((RIGHT - 4.0, BOTTOM - 14.0), "below the band: more and shorter steps", 12.0,
             "quiet_text", "end"),
    ]  # fmt: skip


def _cross(
    axes: _Axes, figures: Mapping[str, GaitEstimate], name: str, outcome: Outcome
) -> list[Primitive]:
    froude, stride = figures["froude_number"], figures["relative_stride_length"]
    role = role_of(outcome)
    x, y = axes.at(froude.value, stride.value)
    left, right = (axes.at(end, stride.value)[0] for end in (froude.low95, froude.high95))
    low, high = (axes.at(froude.value, end)[1] for end in (stride.low95, stride.high95))
    style = Style("", role, 2.0)
    shift, anchor = (10.0, "start") if x < (LEFT + RIGHT) / 2 else (-10.0, "end")
    return [
        Line((left, y), (right, y), style),
        Line((x, low), (x, high), style),
        Circle((x, y), 5.5, Style("white" if outcome in OPEN else role, role, 2.0)),
        Text((x + shift, y + 19.0), name, 14.0, "text", anchor, "bold", halo="paper"),
        Text(
            (x + shift, y + 35.0),
            WORDS.get(outcome, outcome.value),
            12.5,
            role,
            anchor,
            halo="paper",
        ),
    ]


def tracks(movement: Movement, widths: Mapping[str, Mapping[str, tuple[float, float]]]) -> Scene:
    """Draw, from above, the standing feet and the tracks at walk and trot, front and rear.

    Parameters
    ----------
    widths : mapping of ``front`` and ``rear`` to mapping of row to (width, uncertainty)
        In m; rows are ``standing``, ``walk`` and ``trot``.
    """
    widest = max((w + NORMAL_95 * u for rows in widths.values() for w, u in rows.values()),
                 default=0.1) * CENTIMETRES  # fmt: skip
    scale = min(PLAN_SCALE, 210.0 / widest)
    parts: list[Primitive] = [
        Text((24.0, 34.0), "Do the tracks close?", 18.0, weight="bold"),
    ]
    for end, middle in (("front", 220.0), ("rear", 480.0)):
        parts.append(Text((middle, 64.0), f"{end} feet", 14.0, "text", "middle", "bold"))
        parts.append(
            Line((middle, 74.0), (middle, 298.0), Style("", "faint_line", 1.2, (5.0, 4.0)))
        )
        for row, name in enumerate(("standing", "walk", "trot")):
            parts += _feet(widths.get(end, {}).get(name), (middle, 108.0 + PLAN_ROW * row), scale)
    for row, name in enumerate(("standing", "walk", "trot")):
        parts.append(Text((24.0, 113.0 + PLAN_ROW * row), name, 14.0))
    said = ", ".join(
        f"{end} {name} {width * CENTIMETRES:.1f} cm"
        for end, rows in widths.items()
        for name, (width, _) in rows.items()
    )
    return Scene(PLAN_WIDTH, PLAN_HEIGHT, tuple(parts), f"Tracks of {movement.dog}", said)


def _feet(width: tuple[float, float] | None, at: Point, scale: float) -> list[Primitive]:
    x, y = at
    if width is None:
        return [Text((x, y + 5.0), "not taken", 12.0, "quiet_text", "middle", halo="paper")]
    half = width[0] * CENTIMETRES * scale / 2.0
    reach = NORMAL_95 * width[1] * CENTIMETRES * scale / 2.0
    drawn: list[Primitive] = []
    for side in (-1.0, 1.0):
        foot = x + side * half
        drawn += [
            Line((foot - reach, y + 13.0), (foot + reach, y + 13.0), Style("", "inside", 2.0)),
            *(_print(foot, y)),
        ]
    text = (
        f"{number(width[0] * CENTIMETRES, 1)} ± {number(NORMAL_95 * width[1] * CENTIMETRES, 1)} cm"
    )
    return [*drawn, Text((x, y + 34.0), text, 12.5, "quiet_text", "middle", halo="paper")]


def _print(x: float, y: float) -> list[Primitive]:
    pad = Style("coat_shade")
    toes = ((-7.0, -5.0), (-2.6, -10.0), (2.6, -10.0), (7.0, -5.0))
    return [Circle((x, y + 2.0), 5.4, pad), *(Circle((x + a, y + b), 2.5, pad) for a, b in toes)]
