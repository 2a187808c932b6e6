"""Lay the measuring sheet out: blocks of known height are put on pages, top to bottom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from kit.quantities.kinds import Kind
from kit.reports.fonts import BOLD, REGULAR
from kit.reports.sheet_picture import LINE, MM, draw_picture
from kit.reports.sheet_plan import Row, Section, SheetPlan

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

PAGE_WIDTH, PAGE_HEIGHT = 210 * MM, 297 * MM
MARGIN = 12 * MM
WIDTH = PAGE_WIDTH - 2 * MARGIN
TOP, BOTTOM = PAGE_HEIGHT - 18 * MM, 11 * MM
GREY, RULE, SHADE = "#4a4f55", "#9aa0a6", "#eef1f3"

NUMBER, SIDE, UNIT, BOX = 8 * MM, 11 * MM, 21 * MM, 19 * MM
WHAT = WIDTH - NUMBER - SIDE - UNIT - 3 * BOX
TITLE_SIZE, HOW_SIZE, HOW_LEADING = 8.2, 6.3, 7.4
ROWS_WITH_PICTURES = 6
HEADINGS = ("stand 1", "stand 1 again", "stand 2")


class Block(Protocol):
    """Something of known height that draws itself below a line."""

    height: float
    keep: bool  # stays on one page with the block after it

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw with the upper edge at `top`, in points of 1/72 inch from the foot of the page."""


def wrapped(text: str, font: str, size: float, width: float) -> list[str]:
    """Break a text into lines that fit a width."""
    from reportlab.lib.utils import simpleSplit

    return list(simpleSplit(text, font, size, width))


def write_lines(
    canvas: Canvas, lines: Sequence[str], x: float, y: float, size: float, leading: float
) -> float:
    """Write lines downwards from a first baseline; return the baseline after the last."""
    canvas.setFont(REGULAR, size)
    for line in lines:
        canvas.drawString(x, y, line)
        y -= leading
    return y


@dataclass
class CautionBlock:
    """The box of cautions that opens the sheet."""

    cautions: tuple[str, ...]
    keep: bool = False
    height: float = 0.0

    def __post_init__(self) -> None:
        width = WIDTH - 12 * MM
        self.lines = [wrapped(text, REGULAR, 7.2, width) for text in self.cautions]
        self.height = sum(len(lines) for lines in self.lines) * 9 + 8 * MM

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw the box."""
        bottom = top - self.height + 3 * MM
        canvas.setStrokeColor(LINE)
        canvas.setLineWidth(1.2)
        canvas.roundRect(MARGIN, bottom, WIDTH, self.height - 3 * MM, 2 * MM)
        canvas.setFillColor(LINE)
        y = top - 4.2 * MM
        for lines in self.lines:
            canvas.setFont(BOLD, 8)
            canvas.drawString(MARGIN + 3 * MM, y, "⚠")
            y = write_lines(canvas, lines, MARGIN + 8 * MM, y, 7.2, 9)


@dataclass
class HeadingBlock:
    """Title of a section, its pictures and the cautions that belong to it."""

    section: Section
    keep: bool = True
    height: float = 0.0

    def __post_init__(self) -> None:
        pictures = self.section.pictures
        self.strip = max((picture.height for picture in pictures), default=0.0) * MM
        used = sum(picture.width for picture in pictures) * MM + 4 * MM * len(pictures)
        self.beside = bool(pictures) and WIDTH - used > 34 * MM
        self.text_x = MARGIN + (used + 2 * MM if self.beside else 0.0)
        self.lines = list(self._lines(MARGIN + WIDTH - self.text_x))
        text = len(self.lines) * 8.2 + 2 * MM if self.lines else 0.0
        body = max(self.strip, text) if self.beside else self.strip + text
        self.height = 9 * MM + body + 6 * MM

    def _lines(self, width: float) -> Iterator[str]:
        yield from wrapped(self.section.note, REGULAR, 6.6, width)
        for text, numbers in self.section.cautions.items():
            listed = ", ".join(str(number) for number in numbers)
            yield from wrapped(f"⚠ {listed}: {text}", REGULAR, 6.6, width)

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw title, pictures, cautions and the headings of the columns."""
        canvas.setFillColor(LINE)
        canvas.setFont(BOLD, 11)
        canvas.drawString(MARGIN, top - 6 * MM, self.section.title)
        floor = top - 9 * MM - self.strip
        x = MARGIN
        for picture in self.section.pictures:
            draw_picture(canvas, picture, x, floor)
            x += (picture.width + 4) * MM
        canvas.setFillColor(GREY)
        y = (top - 11 * MM) if self.beside else floor - 3 * MM
        write_lines(canvas, self.lines, self.text_x, y, 6.6, 8.2)
        _column_headings(canvas, top - self.height)


def _column_headings(canvas: Canvas, bottom: float) -> None:
    canvas.setFillColor(GREY)
    canvas.setFont(REGULAR, 6.2)
    baseline = bottom + 1.2 * MM
    canvas.drawString(MARGIN + NUMBER, baseline, "what, and how")
    canvas.drawCentredString(MARGIN + NUMBER + WHAT + SIDE / 2, baseline, "side")
    canvas.drawCentredString(MARGIN + NUMBER + WHAT + SIDE + UNIT / 2, baseline, "unit, tool")
    for place, heading in enumerate(HEADINGS):
        canvas.drawCentredString(_box_left(place) + BOX / 2, baseline, heading)


def _box_left(place: int) -> float:
    return MARGIN + WIDTH - (3 - place) * BOX


@dataclass
class RowBlock:
    """One measurement: number, what and how, side, unit and three boxes to write in."""

    row: Row
    unit: str
    keep: bool = False
    height: float = 0.0

    def __post_init__(self) -> None:
        self.lines = wrapped(self.row.definition.how, REGULAR, HOW_SIZE, WHAT - 2 * MM)
        self.height = max(8.6 * MM, 11.5 + len(self.lines) * HOW_LEADING + 2.5)

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw the row."""
        bottom = top - self.height
        if self.row.number % 2:
            canvas.setFillColor(SHADE)
            canvas.rect(MARGIN, bottom, WIDTH - 3 * BOX, self.height, stroke=0, fill=1)
        self._words(canvas, top)
        self._unit(canvas, (top + bottom) / 2)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        canvas.setFillColor("#ffffff")
        for place in range(3):
            canvas.rect(_box_left(place), bottom, BOX, self.height, fill=1)
        canvas.line(MARGIN, bottom, MARGIN + WIDTH, bottom)

    def _words(self, canvas: Canvas, top: float) -> None:
        canvas.setFillColor(LINE)
        canvas.setFont(BOLD, 8.5)
        canvas.drawRightString(MARGIN + NUMBER - 2 * MM, top - 9.5, str(self.row.number))
        canvas.setFont(BOLD, TITLE_SIZE)
        definition = self.row.definition
        sign = "  ⚠" if definition.caution else ""
        canvas.drawString(MARGIN + NUMBER, top - 9.5, definition.title + sign)
        canvas.setFillColor(GREY)
        y = top - 9.5 - HOW_LEADING - 0.6
        write_lines(canvas, self.lines, MARGIN + NUMBER, y, HOW_SIZE, HOW_LEADING)

    def _unit(self, canvas: Canvas, middle: float) -> None:
        canvas.setFillColor(LINE)
        centre = MARGIN + NUMBER + WHAT + SIDE / 2
        if self.row.definition.sided:
            canvas.setFont(REGULAR, 8)
            canvas.drawCentredString(centre, middle - 3, "L  R")
        centre += SIDE / 2 + UNIT / 2
        canvas.setFont(BOLD, 8.5)
        canvas.drawCentredString(centre, middle + 1, self.unit)
        canvas.setFillColor(GREY)
        canvas.setFont(REGULAR, 5.8)
        canvas.drawCentredString(centre, middle - 6.5, self.row.tool)


@dataclass
class RemarksBlock:
    """Lines for what no number says: a limp, a frightened moment, a tool that slipped."""

    keep: bool = False
    height: float = 40 * MM

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw a heading and four lines."""
        canvas.setFillColor(LINE)
        canvas.setFont(BOLD, 11)
        canvas.drawString(MARGIN, top - 8 * MM, "Remarks")
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.6)
        for line in range(4):
            y = top - (16 + 7.5 * line) * MM
            canvas.line(MARGIN, y, MARGIN + WIDTH, y)


@dataclass
class ColumnsBlock:
    """Headings of the columns again, where rows run on to a new page."""

    keep: bool = True
    height: float = 5 * MM

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw the headings."""
        _column_headings(canvas, top - self.height)


def unit_shown(kind: Kind, units: str) -> str:
    """Return the unit to write a kind of quantity in: `units` is ``cm`` or ``in``."""
    if kind is Kind.ANGLE:
        return "deg"
    if units == "in":
        return "lb" if kind is Kind.MASS else "in"
    return kind.unit


def blocks(plan: SheetPlan, units: str) -> Iterator[Block]:
    """Yield everything below the form head, in order."""
    yield CautionBlock(plan.cautions)
    for section in plan.sections:
        yield HeadingBlock(section)
        for place, row in enumerate(section.rows):
            shown = unit_shown(row.definition.kind, units)
            # Pictures are of use only beside their rows: a section starts with several of them.
            yield RowBlock(row, shown, keep=place < min(ROWS_WITH_PICTURES, len(section.rows)) - 1)
    yield RemarksBlock()


def paged(items: Sequence[Block], first_top: float) -> list[list[tuple[float, Block]]]:
    """Put blocks on pages: each with the height of its upper edge."""
    pages: list[list[tuple[float, Block]]] = [[]]
    top = first_top
    for group in _kept_together(items):
        if top - sum(block.height for block in group) < BOTTOM and pages[-1]:
            pages.append([])
            top = TOP
            if isinstance(group[0], RowBlock):
                group = [ColumnsBlock(), *group]
        for block in group:
            pages[-1].append((top, block))
            top -= block.height
    return pages


def _kept_together(items: Sequence[Block]) -> Iterator[list[Block]]:
    group: list[Block] = []
    for block in items:
        group.append(block)
        if not block.keep:
            yield group
            group = []
    if group:
        yield group
