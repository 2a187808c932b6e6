"""One embedded typeface for every PDF, so that degree signs, primes and accents all print."""

from __future__ import annotations

from functools import cache
from pathlib import Path

REGULAR, BOLD = "KitSans", "KitSans-Bold"
_FILES = {REGULAR: "DejaVuSans.ttf", BOLD: "DejaVuSans-Bold.ttf"}


@cache
def register_fonts() -> None:
    """Make REGULAR and BOLD known to ReportLab.

    The files are DejaVu Sans (a free typeface), which come with Matplotlib.
    """
    from matplotlib import get_data_path
    from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(get_data_path()) / "fonts" / "ttf"
    for name, file in _FILES.items():
        registerFont(TTFont(name, str(folder / file)))
    registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
