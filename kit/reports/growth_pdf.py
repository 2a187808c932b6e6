"""A litter sheet as a PDF for A4."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from kit.reports.growth_content import LitterReport
from kit.reports.pdf_document import save_document
from kit.reports.pdf_parts import (
    FRAME_HEIGHT,
    FRAME_WIDTH,
    bullets,
    facts,
    heading,
    picture,
    small,
    table,
    text,
    titled,
    warning,
)

NAME, ABOUT = 18, 36  # parts of the table's width
PANELS = 0.41  # part of a page for a picture of small panels
CELLS = (20, 10, 31)


def save_litter_pdf(content: LitterReport, path: Path) -> Path:
    """Write a litter sheet as a PDF; the same sheet gives the same bytes."""
    return save_document(
        path,
        _story(content),
        title=f"{content.title}: {content.subtitle}",
        subject=content.subtitle,
        footer=content.footer,
    )


def _story(content: LitterReport) -> Iterator[Flowable]:
    yield text(content.title, "title")
    yield text(content.subtitle, "subtitle")
    yield facts(content.facts)
    yield warning(content.caution)
    yield heading("Look at these puppies again")
    yield from bullets(content.alerts or (content.quiet,))
    if content.earlier:
        yield text("Seen earlier", "heading3")
        yield from (small(said) for said in content.earlier)
    yield from _at_a_glance(content)
    yield from _pictures(content)
    yield from _order(content)
    yield heading("Heights of puppies")
    yield from (text(said) for said in content.heights)
    if content.doubts or content.problems:
        yield heading("Readings to look at again")
        yield from bullets(content.doubts + content.problems)
    yield heading("Cautions")
    yield from (titled(caution.title, caution.text) for caution in content.cautions)
    yield heading("Sources")
    yield from (small(source) for source in content.sources)
    yield heading("Published growth figures of other breeds, with how each was had")
    yield from (small(said) for said in content.published)


def _at_a_glance(content: LitterReport) -> Iterator[Flowable]:
    for number, shown in enumerate(content.tables):
        head = ("Puppy", "", *shown.heads)
        rows = [(row.name, row.about, *row.cells) for row in shown.rows]
        widths = (NAME, ABOUT, *(CELLS * (len(shown.heads) // len(CELLS))))
        title = [heading("The litter at a glance")] if number == 0 else []
        yield KeepTogether([*title, table(head, rows, widths)])
    if content.refused:
        yield text("Not predicted", "heading3")
        yield from bullets(content.refused)
    yield from (small(remark) for remark in content.remarks)


def _pictures(content: LitterReport) -> Iterator[Flowable]:
    for drawn in content.pictures:
        part = PANELS if drawn.name.endswith("_by_age") else 1.0
        shown = picture(drawn, FRAME_WIDTH, part * (FRAME_HEIGHT - 19 * mm))
        yield KeepTogether([heading(drawn.heading), shown, small(drawn.caption)])


def _order(content: LitterReport) -> Iterator[Flowable]:
    if not content.order:
        return
    yield heading("In order, and who cannot be told apart")
    for title, sentences in content.order:
        yield KeepTogether([text(title, "heading3"), *bullets(sentences)])
