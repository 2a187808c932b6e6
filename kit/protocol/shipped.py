"""Find the demo data and notebooks, in a wheel and in a checkout alike."""

from __future__ import annotations

from pathlib import Path

from kit.quantities.errors import DataFileError

_PACKAGE = Path(__file__).parents[1]


def shipped(*parts: str) -> Path:
    """Return the path of a shipped file or folder, such as ``shipped("data", "demo.csv")``.

    A wheel carries `data` and `notebooks` inside the package; a checkout has them beside it.

    Raises
    ------
    DataFileError
        If it is in neither place.
    """
    for root in (_PACKAGE / "shipped", _PACKAGE.parent):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise DataFileError(f"{'/'.join(parts)} is missing from this installation", do="install again")
