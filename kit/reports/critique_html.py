"""A critique as one HTML file: every sentence leads to what it rests on, and back."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from kit.drawing.palette import PALETTE
from kit.drawing.svg import to_svg
from kit.reports.critique import LONG, Critique
from kit.reports.critique_class import SideBySide
from kit.reports.templating import environment
from kit.reports.welfare import short_caution

KINDS = {LONG: "A critique for the owner", "short": "A critique for the ringside"}


def critique_html(critique: Critique) -> str:
    """Return a critique as an HTML document."""
    return (
        environment()
        .get_template("critique.html.jinja")
        .render(
            critique=critique,
            kind=KINDS[critique.form],
            numbers=critique.numbers,
            used_in=_used_in(critique),
            changed=[s for s in critique.sentences if s.edited],
            drawings={p.name: Markup(to_svg(p.scene)) for p in critique.pictures},  # noqa: S704
            headings={p.name: p.heading for p in critique.pictures},
            captions={p.name: p.caption for p in critique.pictures},
            palette=PALETTE,
        )
    )


def _used_in(critique: Critique) -> dict[str, list[str]]:
    """Return the ids of the sentences that rest on each piece of evidence."""
    found: dict[str, list[str]] = {one.key: [] for one in critique.evidence}
    for sentence in critique.sentences:
        for key in sentence.rests_on:
            found[key].append(sentence.id)
    return found


def save_critique_html(critique: Critique, path: Path) -> Path:
    """Write a critique as one HTML file; return the file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(critique_html(critique), encoding="utf-8")
    return path


def side_by_side_html(view: SideBySide) -> str:
    """Return dogs side by side as an HTML document."""
    template = environment().get_template("side_by_side.html.jinja")
    return template.render(view=view, caution=short_caution(), palette=PALETTE)


def save_side_by_side(view: SideBySide, path: Path) -> Path:
    """Write dogs side by side as one HTML file; return the file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(side_by_side_html(view), encoding="utf-8")
    return path
