"""A survey report as HTML and PDF, with its pictures beside them."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from markupsafe import Markup
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether, Spacer

from kit.drawing.canvas import save, to_png
from kit.drawing.palette import PALETTE
from kit.drawing.svg import to_svg
from kit.quantities.errors import DataFileError
from kit.reports.pdf_document import save_document
from kit.reports.pdf_parts import (
    DPI,
    FRAME_HEIGHT,
    FRAME_WIDTH,
    facts,
    heading,
    small,
    table,
    text,
    warning,
)
from kit.reports.survey_content import SurveyReport
from kit.reports.survey_parts import Drawn, Section
from kit.reports.survey_tables import write_tables
from kit.reports.templating import environment

PICTURE_DPI = 120.0
OPENING, ROOM, GAP = 60 * mm, 28 * mm, 5.0
"""Room a section or a table has to have on a page to begin there, and the space before a table."""
TALLEST = FRAME_HEIGHT * 0.82


@dataclass(frozen=True)
class SurveyFiles:
    """Where a report was written."""

    html: Path
    pdf: Path
    pictures: tuple[Path, ...]
    tables: tuple[Path, ...]


def write_survey_report(content: SurveyReport, folder: Path) -> SurveyFiles:
    """Write HTML, PDF, pictures, and every figure and doubtful value as CSV into a folder.

    Raises
    ------
    DataFileError
        If the folder cannot be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        html = folder / "survey.html"
        html.write_text(survey_html(content), encoding="utf-8")
        pdf = save_survey_pdf(content, folder / "survey.pdf")
        drawn = [picture for section in content.sections for picture in section.pictures]
        pictures = tuple(path for one in drawn for path in _save(one, folder))
        tables = write_tables(content.figures, folder)
    except OSError as fault:
        raise DataFileError(f"cannot write into {folder}", given=str(fault.strerror)) from fault
    return SurveyFiles(html, pdf, pictures, tables)


def _save(drawn: Drawn, folder: Path) -> tuple[Path, Path]:
    vector = folder / f"{drawn.name}.svg"
    vector.write_text(to_svg(drawn.scene), encoding="utf-8")
    return vector, save(drawn.scene, folder / f"{drawn.name}.png", PICTURE_DPI)


def survey_html(content: SurveyReport) -> str:
    """Return the report as one HTML document that needs nothing from anywhere else."""
    drawings = {
        picture.name: Markup(to_svg(picture.scene))  # noqa: S704  (to_svg escapes its texts)
        for section in content.sections
        for picture in section.pictures
    }
    template = environment().get_template("survey.html.jinja")
    return template.render(report=content, drawings=drawings, palette=PALETTE, marks={})


def save_survey_pdf(content: SurveyReport, path: Path) -> Path:
    """Write the report as a PDF for A4; the same survey gives the same bytes."""
    story: list[Flowable] = [text(content.title, "title"), facts(content.facts)]
    story.append(warning(content.caution))
    for section in content.sections:
        story += _section(section)
    subject = "What a population of dogs is like"
    return save_document(path, story, title=content.title, subject=subject, footer=content.footer)


def _section(section: Section) -> list[Flowable]:
    opening = [heading(section.title), *(text(one) for one in section.text)]
    parts: list[Flowable] = [CondPageBreak(OPENING), *opening]
    parts += [KeepTogether([_picture(one), small(one.caption)]) for one in section.pictures]
    for listing in section.tables:
        shown = table(listing.head, listing.rows, listing.widths)
        parts += [CondPageBreak(ROOM), Spacer(1, GAP), small(listing.caption), shown]
    return parts


def _picture(drawn: Drawn) -> Image:
    scene = drawn.scene
    scale = min(FRAME_WIDTH / scene.width, TALLEST / scene.height)
    dots = DPI * scale * 96.0 / 72.0
    shown = Image(BytesIO(to_png(scene, dots)), scene.width * scale, scene.height * scale)
    shown.hAlign = "CENTER"
    return shown
