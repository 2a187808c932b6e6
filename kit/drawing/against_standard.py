"""The dog against the standard: every clause on its own scale, in the order of the dog's parts."""

from __future__ import annotations

from collections.abc import Sequence

from kit.drawing.finding_marks import mark, role_of
from kit.drawing.lettering import broken, shortened
from kit.drawing.regions import by_region
from kit.drawing.scene import Line, Primitive, Scene, Style, Text
from kit.drawing.standard_legend import LEGEND_HEIGHT, legend
from kit.drawing.strip import CENTRE, RIGHT, strip
from kit.drawing.trait_overview import trait_overview
from kit.drawing.wording import (
    COMPARED,
    chances_text,
    interval_text,
    is_lopsided,
    missing_text,
    part_text,
    value_text,
    whose,
)
from kit.standards.assessment import Assessment
from kit.standards.conformity import Levels
from kit.standards.findings import Finding
from kit.standards.standard import Standard
from kit.traits.declarations import trait
from kit.traits.estimates import TraitEstimate

WIDTH = 1200.0
EDGE = 28.0
VALUE, MARK, WORD = 848.0, 1015.0, 1032.0  # px, where the columns on the right begin
TITLE_ROOM = 400.0
ROW, HEADING, HEAD = 51.0, 40.0, 74.0  # px, heights


def against_standard(assessment: Assessment) -> Scene:
    """Draw one dog against a standard, or its traits alone where none was asked for.

    Returns
    -------
    Scene
        1200 px wide; as high as its rows need.
    """
    standard = assessment.standard
    if standard is None:
        return trait_overview(assessment)
    compared = [finding for finding in assessment.findings if finding.outcome in COMPARED]
    others = [finding for finding in assessment.findings if finding.outcome not in COMPARED]
    parts: list[Primitive] = [*_head(assessment.dog, standard, assessment.levels)]
    parts += legend(HEAD)
    bottom = _rows(parts, compared, HEAD + LEGEND_HEIGHT)
    bottom = _missing(parts, others, bottom)
    title = f"{assessment.dog} against {standard.title}"
    return Scene(WIDTH, bottom + EDGE, tuple(parts), title, _description(assessment.findings))


def _head(dog: str, standard: Standard, levels: Levels) -> list[Primitive]:
    title = shortened(f"{dog or 'This dog'} · {standard.title}", 24, (WIDTH - 2 * EDGE) / 1.12)
    decided = (
        f"A finding is decided from {part_text(levels.decided)} probability and probable from "
        f"{part_text(levels.probable)}; below that it stays undecided."
    )
    return [
        Text((EDGE, 40), title, 24, weight="bold"),
        Text((EDGE, 63), decided, 13, "quiet_text"),
    ]


def _rows(parts: list[Primitive], findings: Sequence[Finding], top: float) -> float:
    """Add the compared clauses by region; return where they end."""
    for region, group in by_region(findings, lambda finding: finding.clause.trait):
        parts += _heading(region, top)
        top += HEADING
        for finding in group:
            parts += _row(finding, top)
            top += ROW
    return top


def _heading(title: str, top: float) -> list[Primitive]:
    rule = Style(stroke="faint_line", width=1.0)
    return [
        Text((EDGE, top + 26), title, 15, weight="bold"),
        Line((EDGE, top + 34), (WIDTH - EDGE, top + 34), rule),
    ]


def _row(finding: Finding, top: float) -> list[Primitive]:
    if finding.estimate is None or finding.chance is None:
        return []
    clause, middle = finding.clause, top + 22
    words = shortened(clause.words, 12.5, TITLE_ROOM)
    return [
        Text((EDGE, top + 24), _capital(finding.estimate.trait.title), 15.5),
        Text((EDGE, top + 43), words, 12.5, "quiet_text"),
        *strip(clause, finding.estimate, finding.outcome, middle),
        Text((RIGHT, middle + 25), whose(clause), 11.0, "quiet_text", "end"),
        *_value(finding.estimate, top),
        *mark(finding.outcome, (MARK, top + 19), 7.5),
        Text((WORD, top + 24), finding.outcome.value, 14.5, role_of(finding.outcome), "start",
             "bold"),
        Text((WORD, top + 43), chances_text(finding.chance, finding.outcome), 11.5, "quiet_text"),
    ]  # fmt: skip


def _value(estimate: TraitEstimate, top: float) -> list[Primitive]:
    first = Text((VALUE, top + 24), value_text(estimate), 15.5, weight="bold")
    if not is_lopsided(estimate):
        return [first]
    return [first, Text((VALUE, top + 43), interval_text(estimate), 12, "quiet_text")]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _missing(parts: list[Primitive], findings: Sequence[Finding], top: float) -> float:
    """Add what could not be compared, two to a row; return where it ends."""
    if not findings:
        return top
    parts += _heading("Not compared", top)
    top += HEADING + 6
    for first in range(0, len(findings), 2):
        lines = 1
        for column, finding in enumerate(findings[first : first + 2]):
            left = EDGE + column * (CENTRE - EDGE - 40)
            reasons = broken(missing_text(finding), 12, CENTRE - EDGE - 100)
            parts += _missing_item(finding, reasons, left, top)
            lines = max(lines, len(reasons))
        top += 26 + 15 * lines
    return top


def _missing_item(
    finding: Finding, reasons: Sequence[str], left: float, top: float
) -> list[Primitive]:
    title = f"{_capital(trait(finding.clause.trait).title)}: {finding.outcome.value}"
    return [
        *mark(finding.outcome, (left + 8, top + 11), 6.5),
        Text((left + 26, top + 16), title, 13.5, "quiet_text"),
        *(
            Text((left + 26, top + 33 + 15 * index), line, 12, "quiet_text")
            for index, line in enumerate(reasons)
        ),
    ]


def _description(findings: Sequence[Finding]) -> str:
    shown = [
        f"{finding.estimate.trait.title} {value_text(finding.estimate)}, {finding.outcome.value}"
        for finding in findings
        if finding.estimate is not None and finding.outcome in COMPARED
    ]
    return "; ".join(shown) or "No clause could be compared."
