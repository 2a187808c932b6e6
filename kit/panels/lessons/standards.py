"""A standard to read, to read otherwise, and to write."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from kit.drawing.wording import limits_text, whose
from kit.panels.lessons.live import TOUCH, area, button
from kit.panels.lessons.page import Shown, sentence, table
from kit.quantities.kinds import Kind
from kit.standards.own import save_standard, standard_from_text, standard_text
from kit.standards.standard import Clause, Standard, load_standard, shipped_standards
from kit.traits.declarations import trait

HEADINGS = (
    "Trait",
    "What is asked, in the kit’s words",
    "Taken as",
    "Whose reading",
    "Measured on",
)


def standards_by_title() -> dict[str, str]:
    """Return the names of the shipped standards by title."""
    titled = {load_standard(name).title: name for name in shipped_standards()}
    return dict(sorted(titled.items()))


def clause_table(standard: Standard) -> str:
    """Return every clause with its words, limits, whose reading they are, and its points."""
    return table(HEADINGS, [_row(clause) for clause in standard.clauses], height=520)


def _row(clause: Clause) -> list[str]:
    declared = trait(clause.trait)
    sex = "" if clause.sex == "both" else f"\n({clause.sex} only)"
    memory = "\n(from memory)" if clause.evidence == "from memory" else ""
    return [
        declared.title[:1].upper() + declared.title[1:] + sex,
        clause.words,
        f"{limits_text(clause, declared.kind)}\n({clause.wording})",
        whose(clause) + memory,
        clause.definition,
    ]


def about(standard: Standard) -> str:
    """Say what a standard is and where it was read."""
    printed = sum(clause.reading == "standard" for clause in standard.clauses)
    numbers = (
        f"{printed} print their numbers, the others are words"
        if printed
        else "none prints a number, all are words"
    )
    return sentence(
        f"{len(standard.clauses)} clauses; {numbers} that somebody has to read. "
        f"Source: {standard.source}. Dated: {standard.dated}. "
        f"Status: {standard.status}; {standard.evidence}."
    )


def with_clauses_in(standard: Standard, wordings: Sequence[str]) -> Standard:
    """Return a standard with the clauses of some wordings alone, such as ``about``."""
    kept = tuple(clause for clause in standard.clauses if clause.wording in wordings)
    return replace(standard, clauses=kept)


def words(about_ratio: float, about_angle: float, low: float, high: float) -> dict[str, Any]:
    """Return a reading of the words: percentages and degrees, as the sliders give them."""
    return {
        "about": {Kind.RATIO.value: about_ratio / 100.0, Kind.ANGLE.value: about_angle},
        "slightly": {"from": low / 100.0, "to": high / 100.0},
    }


def own_standard(folder: Path, start: str = "common-practice-terrier") -> Any:
    """Return a form to write a standard of one's own, check it and save it into a folder."""
    text = widgets.Textarea(
        value=standard_text(start), layout=widgets.Layout(width="100%", height="340px")
    )
    text.add_class("conformation-text")
    name = widgets.Text(value="own.toml", description="Save as", continuous_update=False,
                        layout=widgets.Layout(width="260px", height=TOUCH))  # fmt: skip
    place = area()

    def check() -> Shown:
        read = standard_from_text(text.value, name.value)
        return sentence(f"Nothing wrong: {len(read.clauses)} clauses.") + clause_table(read)

    def save() -> Shown:
        path = save_standard(text.value, folder, name.value)
        return sentence(
            f"Saved as {path}. Use it with: conformation assess READINGS.csv --standard “{path}”"
        )

    row = widgets.Box(
        [button("Check", check, place), name, button("Save", save, place)],
        layout=widgets.Layout(flex_flow="row wrap", grid_gap="4px 16px", margin="8px 0"),
    )
    look = widgets.HTML(
        "<style>.conformation-text textarea{font-family:'DejaVu Sans Mono',Menlo,Consolas,"
        "monospace!important;font-size:14px!important;line-height:1.45}</style>"
    )
    return widgets.VBox([look, text, row, place])
