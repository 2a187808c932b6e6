"""The report of one dog as a PDF."""

from __future__ import annotations

from pathlib import Path

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from kit.reports.content import Report, report
from kit.reports.fitted import FIGURE_TITLE
from kit.reports.pdf_document import save_document
from kit.reports.pdf_parts import (
    FRAME_HEIGHT,
    FRAME_WIDTH,
    bullets,
    facts,
    finding_list,
    heading,
    picture,
    short_lists,
    small,
    table,
    text,
    titled,
    warning,
)
from kit.standards.assessment import Assessment

SIDE_VIEW_HEIGHT = 96 * mm


def write_pdf(assessment: Assessment, path: Path, readings_file: str = "") -> Path:
    """Write the report of one dog as a PDF; return the file.

    The same assessment gives the same bytes: the file carries no time of its making.
    """
    return save_pdf(report(assessment, readings_file), path)


def save_pdf(content: Report, path: Path) -> Path:
    """Write a report as a PDF; return the file."""
    subject = content.standard.title if content.standard else "Proportions and angles"
    return save_document(
        path, _story(content), title=content.title, subject=subject, footer=content.footer
    )


def _story(content: Report) -> list[Flowable]:
    return [
        *_first_page(content),
        *_standard_picture(content),
        *_findings(content),
        *_tables(content),
        *_end(content),
    ]


def _first_page(content: Report) -> list[Flowable]:
    against = (
        f"Held against: {content.standard.title}"
        if content.standard
        else "Proportions and angles, held against no standard"
    )
    parts: list[Flowable] = [
        text(content.dog, "title"),
        text(against, "subtitle"),
        facts(content.facts[1:]),
        warning(content.caution),
    ]
    for drawn in content.pictures:
        if drawn.name == "side_view":
            parts += [picture(drawn, FRAME_WIDTH, SIDE_VIEW_HEIGHT), small(drawn.caption)]
    if content.standard:
        parts += short_lists(content)
    parts += _welfare(content)
    return parts + _listed("Look at these readings again", content.doubts)


def _welfare(content: Report) -> list[Flowable]:
    if not content.welfare:
        return []
    parts: list[Flowable] = [heading("Published thresholds this dog may lie past")]
    for note in content.welfare:
        parts.append(titled(note.figure, note.text))
        parts.append(small(f"{note.scope}. {note.source}."))
    return parts


def _listed(title: str, texts: tuple[str, ...]) -> list[Flowable]:
    return [heading(title), *bullets(texts)] if texts else []


def _standard_picture(content: Report) -> list[Flowable]:
    parts: list[Flowable] = []
    for drawn in content.pictures:
        if drawn.name != "side_view":
            shown = picture(drawn, FRAME_WIDTH, FRAME_HEIGHT - 19 * mm)
            parts.append(KeepTogether([heading(drawn.heading), shown, small(drawn.caption)]))
    if not content.again:
        return parts
    return [*parts, heading(content.again_title), small(content.again_note),
            *bullets(content.again)]  # fmt: skip


def _findings(content: Report) -> list[Flowable]:
    if content.standard is None:
        return []
    parts: list[Flowable] = [heading("Findings, one by one"), small(content.standard.levels)]
    for group in content.groups:
        if group.findings:
            parts += [text(group.title, "heading3"), *finding_list(group.findings)]
    note = content.standard
    parts += [
        heading("The standard"),
        text(f"{note.title}: {note.citation}. Status: {note.status}. Evidence: {note.evidence}."),
    ]
    return [*parts, small(f"Note: {note.note}.")] if note.note else parts


def _tables(content: Report) -> list[Flowable]:
    parts = _listed("Rows that could not be used", content.problems)
    parts += _listed("Left and right", content.asymmetries)
    parts += [heading("All figures"), small("± is half the 95 % interval."), _trait_table(content)]
    parts += _figure(content)
    if content.budgets:
        parts += [heading("What limits each angle"),
                  small("Parts of the variance by source of error."),
                  _budget_table(content)]  # fmt: skip
    explained = (
        "Best value and standard uncertainty (u) of every measurement, with the part of each "
        "source of error, in the unit of the value."
    )
    return [*parts, heading("The readings"), small(explained), _reading_table(content)]


def _figure(content: Report) -> list[Flowable]:
    note = content.figure
    if note is None:
        return []
    parts: list[Flowable] = [heading(FIGURE_TITLE), *bullets(note.sentences)]
    if note.changes:
        head = ("Figure", "By its formula alone (95 %)", "From all readings (95 %)")
        rows = [(row.title, row.alone, row.fitted) for row in note.changes]
        parts.append(table(head, rows, (60, 60, 60)))
    return parts


def _trait_table(content: Report) -> Flowable:
    head = ("Figure", "Value", "95 % interval", "How", "Side", "Taken on")
    rows = [
        (r.title, r.value, r.interval, r.method, r.side, f"{r.definition} {r.note}".strip())
        for r in content.traits
    ]
    return table(head, rows, (41, 26, 28, 25, 11, 49))


def _budget_table(content: Report) -> Flowable:
    head = ("Angle", "Value", "Stand", "Hand", "Tool", "Assumed", "In words")
    rows = [
        (r.title, r.value, r.posture, r.repeat, r.tool, r.assumption, r.sentence)
        for r in content.budgets
    ]
    return table(head, rows, (36, 20, 14, 14, 14, 17, 65))


def _reading_table(content: Report) -> Flowable:
    head = ("Measurement", "Side", "Value", "u", "Hand", "Stand", "Step", "Tool", "Readings",
            "Stands")  # fmt: skip
    rows = [
        (r.title, r.side, r.value, r.uncertainty, r.repeat, r.posture, r.resolution, r.instrument,
         str(r.count), str(r.stands))
        for r in content.readings
    ]  # fmt: skip
    return table(head, rows, (51, 11, 18, 18, 12, 13, 12, 12, 18, 15))


def _end(content: Report) -> list[Flowable]:
    parts: list[Flowable] = [heading("Sources"), *(small(source) for source in content.sources)]
    parts.append(heading("Cautions"))
    return parts + [titled(caution.title, caution.text) for caution in content.cautions]
