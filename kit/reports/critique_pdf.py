"""A critique as a PDF for A4, short enough to be handed over at the ringside."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from pathlib import Path

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Table

from kit.reports.critique import Critique, Part, Sentence
from kit.reports.critique_html import KINDS
from kit.reports.pdf_document import save_document
from kit.reports.pdf_parts import FRAME_WIDTH, facts, heading, picture, small, styles, text, warning

TALLEST = 82 * mm


def save_critique_pdf(critique: Critique, path: Path) -> Path:
    """Write a critique as a PDF; the same critique gives the same bytes."""
    return save_document(
        path,
        _story(critique),
        title=f"{critique.dog}, a critique",
        subject=critique.standard or "no standard",
        footer=critique.footer,
    )


def _story(critique: Critique) -> Iterator[Flowable]:
    yield text(critique.dog, "title")
    against = f" · {critique.standard}" if critique.standard else ""
    yield text(f"{KINDS[critique.form]}{against}", "subtitle")
    for part in critique.parts:
        yield from _part(part, critique)
    yield warning(critique.caution)
    yield facts(critique.facts)
    yield from _changes(critique)
    yield heading("What each sentence rests on")
    for one in critique.evidence:
        number = critique.numbers[one.key]
        said = (f'<a name="n{number}"/>{number}. <b>{escape(one.label)}</b> ({one.kind}). '
                f"{escape(one.text)}")  # fmt: skip
        yield Paragraph(said, styles()["small"])


def _part(part: Part, critique: Critique) -> Iterator[Flowable]:
    if part.title:
        yield heading(part.title)
    for paragraph in part.paragraphs:
        lead = f"<b>{escape(paragraph.heading)}.</b> " if paragraph.heading else ""
        said = " ".join(_sentence(sentence, critique) for sentence in paragraph.sentences)
        yield Paragraph(lead + said, styles()["body"])
    yield from _pictures(part, critique)


def _sentence(sentence: Sentence, critique: Critique) -> str:
    said = "".join(
        escape(piece.text) + _links([critique.numbers[key] for key in piece.rests_on])
        for piece in sentence.pieces
    )
    if not sentence.edited:
        return said
    mark = "added by hand" if sentence.id.startswith("e") else "edited"
    return f'<u>{said}</u> <font size="6.5">[{mark}]</font>'


def _links(numbers: list[int]) -> str:
    if not numbers:
        return ""
    linked = ",".join(f'<a href="#n{number}" color="#0072b2">{number}</a>' for number in numbers)
    return f'<super size="6">{linked}</super>'


def _pictures(part: Part, critique: Critique) -> Iterator[Flowable]:
    drawn = [p for name in part.picture_names if (p := critique.picture(name)) is not None]
    wide = [one for one in drawn if one.name == "balance"]
    for one in wide:
        yield KeepTogether([picture(one, FRAME_WIDTH * 0.8, TALLEST), small(one.caption)])
    half = FRAME_WIDTH / 2 - 6
    cells = [[picture(one, half, TALLEST), small(one.caption)] for one in drawn if one not in wide]
    rows: list[list[object]] = [list(cells[i : i + 2]) for i in range(0, len(cells), 2)]
    if rows:
        rows[-1] += [""] * (2 - len(rows[-1]))
        yield Table(
            rows,
            colWidths=[FRAME_WIDTH / 2] * 2,
            style=[("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)],
        )


def _changes(critique: Critique) -> Iterator[Flowable]:
    changed = [sentence for sentence in critique.sentences if sentence.edited]
    if not changed and not critique.left_out:
        return
    yield heading("What was edited")
    for sentence in changed:
        if sentence.id.startswith("e"):
            yield small(f"Added: “{sentence.text}” It rests on no figure.")
        else:
            yield small(f"“{sentence.text}” was written as: “{sentence.original}”")
    for gone in critique.left_out:
        yield small(f"Left out: “{gone}”")
