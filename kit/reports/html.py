"""A report as one HTML file that needs nothing from anywhere else."""

from __future__ import annotations

import base64
from functools import cache
from pathlib import Path

from markupsafe import Markup

from kit.drawing.finding_marks import mark
from kit.drawing.palette import PALETTE
from kit.drawing.scene import Scene
from kit.drawing.svg import to_svg
from kit.reports.content import Report, report
from kit.reports.fitted import FIGURE_TITLE
from kit.reports.templating import environment
from kit.standards.assessment import Assessment
from kit.standards.conformity import Outcome


def write_html(assessment: Assessment, path: Path, readings_file: str = "") -> Path:
    """Write the report of one dog as one HTML file; return the file."""
    return save_html(report(assessment, readings_file), path)


def save_html(content: Report, path: Path) -> Path:
    """Write a report as one HTML file; return the file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(to_html(content), encoding="utf-8")
    return path


def to_html(content: Report) -> str:
    """Return a report as an HTML document."""
    drawings = [(picture, Markup(to_svg(picture.scene))) for picture in content.pictures]  # noqa: S704
    return (
        environment()
        .get_template("report.html.jinja")
        .render(
            figure_title=FIGURE_TITLE,
            report=content,
            drawings=drawings,
            palette=PALETTE,
            marks=_marks(),
        )
    )


@cache
def _marks() -> dict[str, str]:
    """Return the mark of every finding as a data address for the style sheet."""
    return {outcome.value.replace(" ", "-"): _data_address(outcome) for outcome in Outcome}


def _data_address(outcome: Outcome) -> str:
    scene = Scene(20.0, 20.0, mark(outcome, (10.0, 10.0), 7.5), outcome.value, background="white")
    encoded = base64.b64encode(to_svg(scene).encode()).decode()
    return f"data:image/svg+xml;base64,{encoded}"
