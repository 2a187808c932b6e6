"""A litter sheet as one HTML file that needs nothing from anywhere else."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from kit.drawing.palette import PALETTE
from kit.drawing.svg import to_svg
from kit.reports.growth_content import LitterReport
from kit.reports.templating import environment


def save_litter_html(content: LitterReport, path: Path) -> Path:
    """Write a litter sheet as one HTML file; return the file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(litter_html(content), encoding="utf-8")
    return path


def litter_html(content: LitterReport) -> str:
    """Return a litter sheet as an HTML document."""
    drawings = [(picture, Markup(to_svg(picture.scene))) for picture in content.pictures]  # noqa: S704
    template = environment().get_template("growth.html.jinja")
    return template.render(report=content, drawings=drawings, palette=PALETTE, marks={})
