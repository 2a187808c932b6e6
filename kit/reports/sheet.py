"""The measuring sheet: a form to print, in the order a hand works round the dog."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kit.quantities.errors import UnitError
from kit.reports.fonts import BOLD, REGULAR, register_fonts
from kit.reports.sheet_pages import (
    GREY,
    MARGIN,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    RULE,
    TOP,
    WIDTH,
    blocks,
    paged,
)
from kit.reports.sheet_picture import LINE, MM
from kit.reports.sheet_plan import SheetPlan, sheet_plan

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

UNITS = ("cm", "in")
FORM_HEIGHT = 42 * MM


def write_sheet(path: Path, *, units: str = "cm", dog: str = "") -> None:
    """Write the measuring sheet as a PDF for A4 paper.

    Parameters
    ----------
    path : Path
        The file to write.
    units : str
        ``cm`` (and kilograms) or ``in`` (and pounds): what the columns ask for.
    dog : str
        Name to print in the head; empty leaves a line to write on.

    Raises
    ------
    UnitError
        If `units` is neither.
    """
    from reportlab.pdfgen.canvas import Canvas

    if units not in UNITS:
        raise UnitError("the sheet knows no such unit", "cm or in", repr(units), "choose one")
    register_fonts()
    plan = sheet_plan()
    size = (PAGE_WIDTH, PAGE_HEIGHT)
    canvas = Canvas(str(path), pagesize=size, invariant=1, initialFontName=REGULAR)
    canvas.setTitle("Measuring sheet" + (f": {dog}" if dog else ""))
    pages = paged(list(blocks(plan, units)), TOP - FORM_HEIGHT)
    for number, page in enumerate(pages, start=1):
        _page_head(canvas, number, len(pages), dog)
        if number == 1:
            _form(canvas, plan, dog)
        for top, block in page:
            block.draw(canvas, top)
        canvas.showPage()
    canvas.save()


def _page_head(canvas: Canvas, number: int, total: int, dog: str) -> None:
    y = PAGE_HEIGHT - 12 * MM
    canvas.setFillColor(LINE)
    if number == 1:
        canvas.setFont(BOLD, 16)
        canvas.drawString(MARGIN, y - 2, "Measuring sheet")
    else:
        _field(canvas, "Dog", MARGIN, y, 80 * MM, dog)
        _field(canvas, "Date", MARGIN + 84 * MM, y, 50 * MM)
    canvas.setFont(REGULAR, 8)
    canvas.setFillColor(GREY)
    canvas.drawRightString(MARGIN + WIDTH, y, f"page {number} of {total}")
    canvas.drawString(MARGIN, 7 * MM, "Write each reading as read, repeats too; never correct one.")
    canvas.drawRightString(MARGIN + WIDTH, 7 * MM, "Circle L or R; left unless you say otherwise.")


def _field(canvas: Canvas, label: str, x: float, y: float, width: float, text: str = "") -> None:
    """Draw a label and a line to write on."""
    canvas.setFillColor(GREY)
    canvas.setFont(REGULAR, 7.5)
    canvas.drawString(x, y, label)
    start = x + canvas.stringWidth(label, REGULAR, 7.5) + 1.5 * MM
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(start, y - 1.5, x + width, y - 1.5)
    canvas.setFillColor(LINE)
    canvas.setFont(BOLD, 9)
    canvas.drawString(start + 1 * MM, y, text)


def _tick(canvas: Canvas, label: str, x: float, y: float) -> float:
    """Draw a box to tick with its label; return where the next one may start."""
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.7)
    canvas.rect(x, y - 1.2, 3 * MM, 3 * MM)
    canvas.setFillColor(LINE)
    canvas.setFont(REGULAR, 7.5)
    canvas.drawString(x + 4.2 * MM, y, label)
    return x + 4.2 * MM + float(canvas.stringWidth(label, REGULAR, 7.5)) + 4 * MM


def _form(canvas: Canvas, plan: SheetPlan, dog: str) -> None:
    """Draw the fields at the head of the first page."""
    y = TOP - 4 * MM
    _field(canvas, "Dog", MARGIN, y, 84 * MM, dog)
    x = _tick(canvas, "dog", MARGIN + 90 * MM, y)
    _tick(canvas, "bitch", x, y)
    _field(canvas, "Born", MARGIN + 126 * MM, y, 60 * MM)
    y -= 7.5 * MM
    _field(canvas, "Date and time", MARGIN, y, 60 * MM)
    _field(canvas, "Measurer", MARGIN + 64 * MM, y, 60 * MM)
    _field(canvas, "Writer", MARGIN + 128 * MM, y, 58 * MM)
    y -= 7.5 * MM
    _field(canvas, "Instruments (stand, tape, caliper, goniometer, scales)", MARGIN, y, WIDTH)
    y -= 7.5 * MM
    _field(canvas, "Breed and standard", MARGIN, y, 84 * MM)
    _field(canvas, "Place, floor", MARGIN + 90 * MM, y, 96 * MM)
    for stand in (1, 2):
        y -= 6.2 * MM
        canvas.setFillColor(LINE)
        canvas.setFont(BOLD, 7.5)
        canvas.drawString(MARGIN, y, f"Standing square, stand {stand}:")
        x = MARGIN + 46 * MM
        for word in plan.square:
            x = _tick(canvas, word, x, y)
