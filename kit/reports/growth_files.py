"""All files of one litter sheet, side by side in one folder for each litter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from kit.growth.study import LitterStudy
from kit.protocol.reading_files import RowProblem
from kit.reports.files import ReportFiles, folder_name
from kit.reports.growth_content import litter_report
from kit.reports.growth_html import save_litter_html
from kit.reports.growth_pdf import save_litter_pdf
from kit.reports.pictures import save_pictures


def write_litter_report(
    study: LitterStudy,
    folder: Path,
    name: str,
    readings_file: str = "",
    problems: Iterable[RowProblem] = (),
    shown: Sequence[str] = (),
) -> ReportFiles:
    """Write HTML, PDF and pictures of one litter into a folder of its own inside `folder`."""
    own = folder / folder_name(name or "litter")
    content = litter_report(study, name, readings_file, problems, shown)
    return ReportFiles(
        save_litter_html(content, own / "litter.html"),
        save_litter_pdf(content, own / "litter.pdf"),
        save_pictures(content.pictures, own),
    )
