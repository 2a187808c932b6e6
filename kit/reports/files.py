"""All files of one report, side by side in one folder for each dog."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

from kit.protocol.reading_files import RowProblem
from kit.reports.content import report
from kit.reports.html import save_html
from kit.reports.pdf import save_pdf
from kit.reports.pictures import save_pictures
from kit.standards.assessment import Assessment

LONGEST_NAME = 60
_UNSAFE = re.compile(r"[^\w-]+")


@dataclass(frozen=True)
class ReportFiles:
    """Where a report was written."""

    html: Path
    pdf: Path
    pictures: tuple[Path, ...]


def write_report(
    assessment: Assessment,
    folder: Path,
    readings_file: str = "",
    problems: Iterable[RowProblem] = (),
) -> ReportFiles:
    """Write HTML, PDF and pictures of one dog into a folder of its own inside `folder`."""
    own = folder / folder_name(assessment.dog)
    content = report(assessment, readings_file, problems)
    return ReportFiles(
        save_html(content, own / "report.html"),
        save_pdf(content, own / "report.pdf"),
        save_pictures(content.pictures, own),
    )


def folder_name(dog: str) -> str:
    """Return a safe folder name for a dog: its own where possible, else with a check number."""
    safe = _UNSAFE.sub("-", dog).strip("-")[:LONGEST_NAME]
    return safe if safe and safe == dog else f"{safe or 'dog'}-{crc32(dog.encode()):08x}"
