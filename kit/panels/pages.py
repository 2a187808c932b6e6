"""The code and style of a panel's page, joined from its files: nothing is fetched."""

from __future__ import annotations

from pathlib import Path

from kit.drawing.palette import PALETTE

HERE = Path(__file__).parent


def script(*files: str) -> str:
    """Join a page's code, named from this folder; a widget takes one module."""
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in files)


def styles(selector: str, file: str) -> str:
    """Return a page's style with the palette as variables under a selector."""
    colours = "".join(f"--{role.replace('_', '-')}:{code};" for role, code in PALETTE.items())
    return f"{selector}{{{colours}}}\n{(HERE / file).read_text(encoding='utf-8')}"
