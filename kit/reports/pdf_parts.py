"""The building blocks of a PDF report: text, lists, pictures and tables on A4."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from html import escape
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, KeepTogether, Paragraph, Table, TableStyle

from kit.drawing.canvas import to_png
from kit.drawing.finding_marks import mark
from kit.drawing.palette import colour
from kit.drawing.scene import Scene
from kit.reports.content import Group, Report
from kit.reports.fonts import BOLD, REGULAR, register_fonts
from kit.reports.pictures import Picture
from kit.reports.sentences import FindingSentence
from kit.standards.conformity import Outcome

PADDING = 12.0  # points reportlab keeps free inside a frame, both sides together
FRAME_WIDTH, FRAME_HEIGHT = A4[0] - 30 * mm - PADDING, A4[1] - 30 * mm - PADDING
DPI, MARK_DPI = 200.0, 400.0
MARK_WIDTH = 5.5 * mm
_SIZES = {
    "title": (22, 26, BOLD, 0, 0),
    "subtitle": (10.5, 14, REGULAR, 0, 5),
    "heading": (12.5, 15, BOLD, 11, 4),
    "heading3": (10, 13, BOLD, 7, 3),
    "body": (8.8, 12, REGULAR, 0, 3.5),
    "caution": (8.4, 11.4, REGULAR, 0, 3),
    "small": (7.6, 10, REGULAR, 0, 3),
    "cell": (7.2, 9, REGULAR, 0, 0),
    "head": (7.2, 9, BOLD, 0, 0),
}


@cache
def styles() -> dict[str, ParagraphStyle]:
    """Return the styles of text by name; their typeface is made known first."""
    register_fonts()
    return {name: _style(name, *size) for name, size in _SIZES.items()}


def _style(
    name: str, size: float, leading: float, font: str, before: float, after: float
) -> ParagraphStyle:
    quiet = name in {"subtitle", "small"}
    return ParagraphStyle(
        name, fontName=font, fontSize=size, leading=leading, spaceBefore=before, spaceAfter=after,
        textColor=HexColor("#554c44" if quiet else colour("text")),
        keepWithNext=name.startswith("heading"),
    )  # fmt: skip


def text(content: str, style: str = "body") -> Paragraph:
    """Return a paragraph of plain text."""
    return Paragraph(escape(content), styles()[style])


def titled(title: str, content: str) -> Paragraph:
    """Return a paragraph that begins with its title in bold."""
    return Paragraph(f"<b>{escape(title)}.</b> {escape(content)}", styles()["caution"])


def small(content: str) -> Paragraph:
    """Return a paragraph in small quiet text."""
    return text(content, "small")


def heading(content: str) -> Paragraph:
    """Return a heading that stays with what follows."""
    return text(content, "heading")


def bullets(texts: Iterable[str]) -> list[Flowable]:
    """Return a list, one paragraph an item."""
    return [text("– " + item) for item in texts]


def warning(content: str) -> Table:
    """Return the line of cautions with a rule beside it."""
    boxed = Table([[text(content, "caution")]], colWidths=[FRAME_WIDTH])
    boxed.setStyle(TableStyle([("LINEBEFORE", (0, 0), (0, -1), 2.5, HexColor(colour("outside"))),
                               ("TOPPADDING", (0, 0), (-1, -1), 0),
                               ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]))  # fmt: skip
    boxed.spaceAfter = 5
    return boxed


def facts(pairs: Sequence[tuple[str, str]]) -> Table:
    """Return the facts about a dog, three pairs to a row."""
    cells = [Paragraph(f'<font size="7" color="#554c44">{escape(name)}</font><br/>{escape(said)}',
                       styles()["body"]) for name, said in pairs]  # fmt: skip
    rows: list[list[object]] = [list(cells[i : i + 3]) for i in range(0, len(cells), 3)]
    rows[-1] += [""] * (3 - len(rows[-1]))
    shown = Table(rows, colWidths=[FRAME_WIDTH / 3] * 3)
    rule = HexColor(colour("faint_line"))
    shown.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"),
                               ("LEFTPADDING", (0, 0), (-1, -1), 0),
                               ("TOPPADDING", (0, 0), (-1, -1), 2),
                               ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
                               ("LINEABOVE", (0, 0), (-1, 0), 0.6, rule),
                               ("LINEBELOW", (0, -1), (-1, -1), 0.6, rule)]))  # fmt: skip
    shown.spaceAfter = 6
    return shown


def picture(drawn: Picture, width: float, height: float) -> Image:
    """Return a picture as large as fits into a width and height in points."""
    scene = drawn.scene
    scale = min(width / scene.width, height / scene.height)
    dots = DPI * scale * 96.0 / 72.0
    shown = Image(BytesIO(to_png(scene, dots)), scene.width * scale, scene.height * scale)
    shown.hAlign = "CENTER"
    return shown


@cache
def _mark_png(outcome: Outcome) -> bytes:
    scene = Scene(20.0, 20.0, mark(outcome, (10.0, 10.0), 7.5), background="white")
    return to_png(scene, MARK_DPI)


def _marked(outcome: Outcome, said: Sequence[Flowable], width: float) -> Table:
    sign = Image(BytesIO(_mark_png(outcome)), 3.4 * mm, 3.4 * mm)
    row = Table([[sign, list(said)]], colWidths=[MARK_WIDTH, width - MARK_WIDTH])
    row.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"),
                             ("LEFTPADDING", (0, 0), (-1, -1), 0),
                             ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                             ("TOPPADDING", (0, 0), (-1, -1), 0),
                             ("TOPPADDING", (0, 0), (0, 0), 1.5),
                             ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]))  # fmt: skip
    return row


def finding_list(findings: Iterable[FindingSentence]) -> list[Flowable]:
    """Return findings in full, each kept on one page."""
    return [KeepTogether([_marked(f.outcome, _finding(f), FRAME_WIDTH)]) for f in findings]


def _finding(finding: FindingSentence) -> list[Flowable]:
    where = f" <i>({escape(finding.place)})</i>" if finding.place else ""
    said = f"<b>{escape(finding.headline)}</b> {escape(finding.evidence)}{where}"
    parts: list[Flowable] = [Paragraph(said, styles()["body"])]
    return [*parts, small(finding.advice)] if finding.advice else parts


def short_lists(content: Report) -> list[Flowable]:
    """Return the findings in short: what differs in sentences, the rest by title."""
    differs = content.group("departures")
    parts: list[Flowable] = [text(differs.title, "heading3")]
    half = FRAME_WIDTH / 2
    cells = [_marked(f.outcome, [_short(f)], half - 8) for f in differs.findings]
    rows: list[list[object]] = [list(cells[i : i + 2]) for i in range(0, len(cells), 2)]
    if rows:
        rows[-1] += [""] * (2 - len(rows[-1]))
        parts.append(Table(rows, colWidths=[half] * 2, style=_TIGHT))
    else:
        parts.append(text("Nothing that these readings could show."))
    for key in ("strengths", "undecided"):
        parts += _titles(content.group(key))
    return parts


_TIGHT = TableStyle([("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 0),
                     ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
                     ("VALIGN", (0, 0), (-1, -1), "TOP")])  # fmt: skip


def _short(finding: FindingSentence) -> Paragraph:
    said = f"<b>{escape(finding.headline)}</b> {escape(finding.value)}"
    return Paragraph(said, styles()["body"])


def _titles(group: Group) -> list[Flowable]:
    titles = " · ".join(finding.title for finding in group.findings) or "None."
    return [text(group.title, "heading3"), text(titles)]


def table(head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Table:
    """Return a table with its head repeated on every page; `widths` are parts of the page's."""
    cells = [[text(cell, "head") for cell in head]]
    cells += [[text(cell, "cell") for cell in row] for row in rows]
    scale = FRAME_WIDTH / sum(widths)
    shown = Table(cells, colWidths=[width * scale for width in widths], repeatRows=1)
    shown.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"),
                               ("LEFTPADDING", (0, 0), (-1, -1), 0),
                               ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                               ("TOPPADDING", (0, 0), (-1, -1), 1.6),
                               ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
                               ("LINEBELOW", (0, 0), (-1, 0), 1.0, HexColor(colour("text"))),
                               ("LINEBELOW", (0, 1), (-1, -1), 0.4,
                                HexColor(colour("hairline")))]))  # fmt: skip
    return shown
