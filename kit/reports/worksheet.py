"""A worksheet of drawings to grade, and its answer sheet: the same seed, the same sheets."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from kit.drawing.canvas import to_png
from kit.drawing.contrast import single
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.reports.fonts import BOLD, REGULAR, register_fonts
from kit.reports.sheet_pages import GREY, MARGIN, PAGE_HEIGHT, PAGE_WIDTH, RULE, WIDTH
from kit.reports.sheet_picture import LINE, MM
from kit.standards.standard import Standard
from kit.standards.target import own_height, target_figure
from kit.teaching.contrast import changed
from kit.teaching.group import GRADES, DrawingSet, drawing_set, grade_words
from kit.teaching.plane import remeasured

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

COLUMNS, ROWS = 3, 4
PER_PAGE = COLUMNS * ROWS
TOP, GAP = PAGE_HEIGHT - 34 * MM, 4 * MM
CELL = (WIDTH - GAP * (COLUMNS - 1)) / COLUMNS
ASPECT = 0.72  # height of a drawing in parts of its width
TICKS = 17 * MM  # under each drawing, for the boxes
DPI = 130.0
TICK = 5.2 * MM


def write_worksheet(
    sheet: Path, answers: Path, standard: Standard, name: str, *, seed: int = 1, count: int = 12
) -> DrawingSet:
    """Write both sheets as PDF for A4 paper.

    Parameters
    ----------
    sheet, answers : Path
        The files to write.
    standard : Standard
        Whose target the drawings start from.
    name : str
        A contrast or its trait.
    seed : int
        The same seed gives the same sheets, byte for byte.
    count : int
        How many drawings.

    Returns
    -------
    DrawingSet
        What was drawn, in order.

    Raises
    ------
    EstimationError, GeometryError, DataFileError
        If there is no such contrast or no such dog.
    """
    chosen = drawing_set(name, seed, count)
    start = target_figure(standard, own_height(standard))
    figures = [changed(start, chosen.contrast.key, amount) for amount in chosen.amounts]
    pictures = [to_png(single(one, 600.0, 600.0 * ASPECT), DPI) for one in figures]
    register_fonts()
    values = [remeasured(one)[chosen.contrast.trait] for one in figures]
    _write(sheet, chosen, standard, pictures, None)
    _write(answers, chosen, standard, pictures, values)
    return chosen


def _write(path: Path, chosen: DrawingSet, standard: Standard, pictures: list[bytes],
           values: list[float] | None) -> None:  # fmt: skip
    from reportlab.pdfgen.canvas import Canvas

    size = (PAGE_WIDTH, PAGE_HEIGHT)
    canvas = Canvas(str(path), pagesize=size, invariant=1, initialFontName=REGULAR)
    title = _title(chosen) + (" – answers" if values else "")
    canvas.setTitle(title)
    pages = -(-len(pictures) // PER_PAGE)
    for page in range(pages):
        _head(canvas, title, chosen, standard, f"page {page + 1} of {pages}", bool(values))
        for place, index in enumerate(range(page * PER_PAGE, len(pictures))[:PER_PAGE]):
            _cell(canvas, place, index, pictures[index], chosen, values)
        canvas.showPage()
    canvas.save()


def _title(chosen: DrawingSet) -> str:
    return chosen.contrast.title[:1].upper() + chosen.contrast.title[1:]


def _head(canvas: Canvas, title: str, chosen: DrawingSet, standard: Standard, page: str,
          told: bool) -> None:  # fmt: skip
    y = PAGE_HEIGHT - 14 * MM
    canvas.setFillColor(LINE)
    canvas.setFont(BOLD, 16)
    canvas.drawString(MARGIN, y, title)
    canvas.setFont(REGULAR, 8)
    canvas.setFillColor(GREY)
    canvas.drawRightString(MARGIN + WIDTH, y, f"sheet {chosen.seed} · {page}")
    canvas.drawString(MARGIN, y - 6 * MM, f"Against: {standard.title}")
    canvas.drawString(MARGIN, 9 * MM, "The drawn dogs differ in this one trait alone, with what "
                      "follows it by anatomy. No dog was measured for them.")  # fmt: skip
    if not told:
        words = grade_words(chosen.contrast)
        said = "   ".join(f"{_sign(grade)} {words[grade]}" for grade in GRADES)
        canvas.setFillColor(LINE)
        canvas.drawString(MARGIN, y - 11 * MM, f"Tick one box under each dog:  {said}")
        canvas.drawRightString(MARGIN + WIDTH, y - 16.5 * MM, "Name " + "_" * 34)


def _cell(canvas: Canvas, place: int, index: int, picture: bytes, chosen: DrawingSet,
          values: list[float] | None) -> None:  # fmt: skip
    from reportlab.lib.utils import ImageReader

    column, row = place % COLUMNS, place // COLUMNS
    x, tall = MARGIN + column * (CELL + GAP), CELL * ASPECT
    y = TOP - row * (tall + TICKS) - tall
    canvas.drawImage(ImageReader(BytesIO(picture)), x, y, CELL, tall)
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.rect(x, y, CELL, tall)
    canvas.setFillColor(LINE)
    canvas.setFont(BOLD, 11)
    canvas.drawString(x + 2 * MM, y + tall - 5.5 * MM, str(index + 1))
    if values is None:
        _boxes(canvas, x, y)
    else:
        _answer(canvas, x, y, chosen, index, values[index])


def _boxes(canvas: Canvas, x: float, y: float) -> None:
    step = CELL / len(GRADES)
    for number_, grade in enumerate(GRADES):
        middle = x + step * (number_ + 0.5)
        canvas.setStrokeColor(LINE)
        canvas.rect(middle - TICK / 2, y - 1.5 * MM - TICK, TICK, TICK)
        canvas.setFillColor(GREY)
        canvas.setFont(REGULAR, 7)
        canvas.drawCentredString(middle, y - 1.5 * MM - TICK - 3.2 * MM, _sign(grade))


def _answer(canvas: Canvas, x: float, y: float, chosen: DrawingSet, index: int,
            value: float) -> None:  # fmt: skip
    one, amount = chosen.contrast, chosen.amounts[index]
    canvas.setFont(BOLD, 9)
    canvas.drawString(x, y - 5 * MM, one.grade(amount))
    canvas.setFont(REGULAR, 8)
    canvas.setFillColor(GREY)
    shown = number(value, 0 if one.kind is Kind.ANGLE else 3) + SUFFIX[one.kind]
    by = "" if amount == 0 else f"  ({'+' if amount > 0 else '−'}{one.amount_text(amount)})"
    canvas.drawString(x, y - 9.5 * MM, shown + by)


def _sign(grade: int) -> str:
    return number(float(grade), 0) if grade <= 0 else f"+{grade}"
