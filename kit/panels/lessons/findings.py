"""What was found about one dog: in sentences, and as a report to take away."""

from __future__ import annotations

from html import escape
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import ipywidgets as widgets

from kit.drawing.palette import colour
from kit.panels.lessons.live import area, button
from kit.panels.lessons.page import Shown, download, sentence
from kit.reports.content import Group, report
from kit.reports.files import folder_name
from kit.reports.html import to_html
from kit.reports.pdf import save_pdf
from kit.standards.assessment import Assessment


def findings_in_sentences(assessment: Assessment) -> str:
    """Return every group of findings, the clearest first, and what to read again."""
    content = report(assessment)
    groups = "".join(_group(group) for group in content.groups if group.findings)
    again = "".join(f"<li>{escape(line)}</li>" for line in content.again)
    ending = f"{_heading('What to read again')}<ul>{again}</ul>" if again else ""
    return (
        f'<div style="font-size:16px;line-height:1.5;max-width:900px;color:{colour("text")}">'
        f"{groups}{ending}</div>"
    )


def _group(group: Group) -> str:
    lines = "".join(
        f"<li><b>{escape(said.headline)}</b> {escape(said.evidence)} {escape(said.advice)}</li>"
        for said in group.findings
    )
    return f"{_heading(group.title)}<ul>{lines}</ul>"


def _heading(title: str) -> str:
    return f'<h3 style="margin:18px 0 4px">{escape(title)}</h3>'


def report_button(assessment: Assessment) -> Any:
    """Return a button that makes the report and hands it over, as PDF and as a web page."""
    place = area()
    made = button(f"Make the report of {assessment.dog}", lambda: _report(assessment), place)
    return widgets.VBox([made, place])


def _report(assessment: Assessment) -> Shown:
    content, name = report(assessment), folder_name(assessment.dog)
    with TemporaryDirectory() as folder:
        pdf = save_pdf(content, Path(folder) / "report.pdf").read_bytes()
    page = to_html(content).encode()
    return (
        sentence("The report is ready.")
        + download(pdf, f"{name}.pdf", "application/pdf", "Save the report (PDF)")
        + download(page, f"{name}.html", "text/html", "Save the report (web page)")
    )
