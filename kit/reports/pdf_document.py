"""A PDF for A4 with an embedded typeface, numbered pages, and nothing that changes between runs."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, SimpleDocTemplate

from kit.reports.fonts import REGULAR, register_fonts

MARGIN, FOOT = 15 * mm, 9 * mm
INSET = MARGIN + 6.0  # points; where the text of a frame begins


def save_document(
    path: Path, story: Iterable[Flowable], *, title: str, subject: str, footer: str
) -> Path:
    """Write a story as a PDF; return the file.

    The same story gives the same bytes: the file carries no time of its making.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    register_fonts()
    document = SimpleDocTemplate(
        str(path), pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=MARGIN,
        bottomMargin=MARGIN, title=title, author="", lang="en", subject=subject,
    )  # fmt: skip
    document.build(list(story), canvasmaker=_canvas_for(footer))
    return path


def _canvas_for(footer: str) -> Any:
    """Return a canvas class that writes the footer and ``page x of y`` once y is known."""

    class Numbered(Canvas):  # type: ignore[misc]
        def __init__(self, *arguments: Any, **settings: Any) -> None:
            super().__init__(*arguments, **{**settings, "invariant": 1})
            self._pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802  (reportlab's name)
            self._pages.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._pages, start=1):
                self.__dict__.update(page)
                self.setFont(REGULAR, 7.5)
                self.setFillGray(0.35)
                self.drawString(INSET, FOOT, footer)
                counted = f"page {number} of {len(self._pages)}"
                self.drawRightString(A4[0] - INSET, FOOT, counted)
                super().showPage()
            super().save()

    return Numbered
