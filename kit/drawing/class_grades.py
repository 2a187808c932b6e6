"""How a class graded each drawing: the most disputed first, to talk about."""

from __future__ import annotations

from collections.abc import Iterator

from kit.drawing.scene import Path, Primitive, Scene, Style, Text
from kit.drawing.wording import part_text
from kit.teaching.contrasts import Contrast
from kit.teaching.group import GRADES, Class, Drawing, grade_words

WIDTH, HEAD, ROW, FOOT = 1100.0, 150.0, 42.0, 76.0
LEFT, RIGHT, NOTE = 150.0, 860.0, 884.0
BAR = 26.0
# From clearly under to clearly over: dark ends and a pale middle, told apart in grey too.
LOOKS = (Style("outside"), Style("outside", opacity=0.45), Style("hairline"),
         Style("inside", opacity=0.45), Style("inside"))  # fmt: skip
DARK = (0, 4)  # bars whose number is written in white


def class_grades(found: Class, one: Contrast) -> Scene:
    """Draw every drawing's grades as one bar of parts; those least agreed on stand above."""
    parts: list[Primitive] = [
        Text((28.0, 40.0), f"{_capital(one.title)}: {len(found.learners)} learners", 22.0,
             weight="bold"),
        Text((28.0, 68.0), _said(found), 14.0, "quiet_text"),
        *_legend(one),
    ]  # fmt: skip
    for number, drawing in enumerate(found.drawings):
        parts += _row(drawing, HEAD + ROW * number)
    height = HEAD + ROW * len(found.drawings) + FOOT
    parts.append(Text((28.0, height - 30.0), "Those least agreed on stand above: begin the "
                      "discussion there.", 14.0, "quiet_text"))  # fmt: skip
    return Scene(WIDTH, height, tuple(parts), "How a class graded", _said(found))


def _said(found: Class) -> str:
    three = (found.kappa, found.ac1, found.concordance)
    return "   ".join(f"{c.name} {c.value:.2f} ({c.low95:.2f} to {c.high95:.2f})" for c in three)


def _legend(one: Contrast) -> Iterator[Primitive]:
    words = grade_words(one)
    for number, grade in enumerate(GRADES):
        x = 28.0 + 212.0 * number
        yield _bar(x, x + 18.0, 92.0, 18.0, LOOKS[number])
        yield Text((x + 25.0, 106.0), words[grade], 13.0)


def _row(drawing: Drawing, top: float) -> Iterator[Primitive]:
    total, x = sum(drawing.counts), LEFT
    yield Text((LEFT - 14.0, top + 19.0), f"drawing {drawing.name}", 14.0, "text", "end")
    for number, count in enumerate(drawing.counts):
        if not count:
            continue
        end = x + (RIGHT - LEFT) * count / total
        yield _bar(x, end, top, BAR, LOOKS[number])
        role = "white" if number in DARK else "text"
        yield Text(((x + end) / 2, top + 18.5), str(count), 13.0, role, "middle")
        x = end
    said = f"{part_text(drawing.agreement)} of pairs agree"
    yield Text((NOTE, top + 19.0), said, 14.0)


def _bar(left: float, right: float, top: float, tall: float, look: Style) -> Path:
    corners = [(left, top), (right, top), (right, top + tall), (left, top + tall)]
    return Path.polyline(corners, look, closed=True)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
