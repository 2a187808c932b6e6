"""Footfalls as bars: which foot is down when, and what the gait is called."""

from __future__ import annotations

from kit.drawing.lettering import broken
from kit.drawing.scene import Line, Path, Primitive, Scene, Style, Text
from kit.drawing.wording import percent
from kit.movement.assessment import Footwork
from kit.movement.footfalls import UNNAMED
from kit.quantities.formatting import number

WIDTH, ROW, HEAD, FOOT = 620.0, 34.0, 84.0, 62.0
LEFT, RIGHT = 130.0, 596.0  # px, ends of the time axis
ROWS = ("left_hind", "left_fore", "right_fore", "right_hind")


def footfalls(work: Footwork, pace: str = "") -> Scene:
    """Draw the footfalls of one run on one time axis, with the gait they name."""
    times = [time for steps in work.feet.steps.values() for step in steps for time in step]
    first, last = min(times), max(times)
    bottom = HEAD + ROW * len(ROWS)
    parts: list[Primitive] = [*_head(work, pace)]
    for row, foot in enumerate(ROWS):
        y = HEAD + ROW * row
        parts.append(Text((LEFT - 12.0, y + 21.0), foot.replace("_", " "), 13.0, anchor="end"))
        parts.append(Line((LEFT, y + 16.0), (RIGHT, y + 16.0), Style("", "hairline", 1.0)))
        parts += [_bar(first, last, step, y) for step in work.feet.steps[foot]]
    parts += _axis(first, last, bottom)
    return Scene(WIDTH, bottom + FOOT, tuple(parts), "Footfalls", gait_in_words(work))


def gait_in_words(work: Footwork) -> str:
    """Say what the footfalls name the gait, and how sure that is."""
    gait = work.gait
    if gait.name == UNNAMED:
        names = " or ".join(name for name, _ in gait.others[:2])
        return f"the footfalls do not decide: {names}"
    return f"{gait.name} ({percent(gait.probability)})"


def _head(work: Footwork, pace: str) -> list[Primitive]:
    fore, hind = (work.figures[f"duty_factor_{end}"] for end in ("fore", "hind"))
    asked = f"asked for: {pace}; " if pace else ""
    said = (
        f"{asked}{work.strides} strides; each foot down for {number(fore.value * 100, 0)} % of the "
        f"stride in front, {number(hind.value * 100, 0)} % behind"
    )
    lines = broken(said, 12.5, WIDTH - 48.0)
    return [
        Text((24.0, 34.0), f"Footfalls: {gait_in_words(work)}", 18.0, weight="bold"),
        *(Text((24.0, 56.0 + 16.0 * n), line, 12.5, "quiet_text") for n, line in enumerate(lines)),
    ]


def _place(time: float, first: float, last: float) -> float:
    return LEFT + (RIGHT - LEFT) * (time - first) / (last - first)


def _bar(first: float, last: float, step: tuple[float, float], y: float) -> Path:
    left, right = (_place(time, first, last) for time in step)
    corners = [(left, y + 6.0), (right, y + 6.0), (right, y + 26.0), (left, y + 26.0)]
    return Path.polyline(corners, Style("inside", opacity=0.85), closed=True)


def _axis(first: float, last: float, y: float) -> list[Primitive]:
    step = 0.25 if last - first < 2.5 else 0.5
    drawn: list[Primitive] = [Line((LEFT, y + 6.0), (RIGHT, y + 6.0), Style("", "floor", 1.2))]
    for count in range(int((last - first) / step) + 1):
        x = _place(first + count * step, first, last)
        drawn.append(Line((x, y + 6.0), (x, y + 11.0), Style("", "floor", 1.0)))
        drawn.append(Text((x, y + 27.0), f"{count * step:g}", 11.5, "quiet_text", "middle"))
    return [*drawn, Text((RIGHT, y + 47.0), "seconds; a bar is a foot on the ground", 12.0,
                         "quiet_text", "end")]  # fmt: skip
