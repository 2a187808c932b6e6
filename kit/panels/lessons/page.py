"""What a lesson shows, as HTML: pictures that fit the page, tables, notices."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

from kit.drawing.palette import colour
from kit.drawing.scene import Scene
from kit.drawing.svg import to_svg

Shown = Scene | str
"""A picture, or HTML."""

_CELL = "padding:9px 14px 9px 0;border-bottom:1px solid {line};text-align:left;vertical-align:top"


def as_html(shown: Shown | Sequence[Shown]) -> str:
    """Return pictures and HTML as one piece of HTML; what stands together flows side by side."""
    if isinstance(shown, Scene):
        return picture(shown)
    if isinstance(shown, str):
        return shown
    pieces = (f'<div style="flex:0 1 auto;max-width:100%">{as_html(part)}</div>' for part in shown)
    return f'<div style="display:flex;flex-wrap:wrap;gap:12px 24px">{"".join(pieces)}</div>'


def picture(scene: Scene) -> str:
    """Return a picture that shrinks with the page and never grows beyond its size."""
    svg = to_svg(scene).replace("<svg ", '<svg style="max-width:100%;height:auto" ', 1)
    return f'<div style="line-height:0">{svg}</div>'


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], height: int = 0) -> str:
    """Return a table of plain texts; one with a `height` in px scrolls within it."""
    cell = _CELL.format(line=colour("hairline"))
    head = "".join(f'<th style="{cell}">{escape(text)}</th>' for text in headings)
    body = "".join(
        "<tr>" + "".join(f'<td style="{cell}">{_text(text)}</td>' for text in row) + "</tr>"
        for row in rows
    )
    look = f"border-collapse:collapse;font-size:15px;line-height:1.4;color:{colour('text')}"
    limit = f";max-height:{height}px;overflow-y:auto" if height else ""
    return (
        f'<div style="overflow-x:auto{limit}">'
        f'<table style="{look}"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def _text(text: str) -> str:
    return "<br>".join(escape(line) for line in text.split("\n"))


def sentence(text: str) -> str:
    """Return a plain sentence."""
    return f'<p style="font-size:16px;line-height:1.5;margin:6px 0">{escape(text)}</p>'


def notice(text: str) -> str:
    """Return a text that must be seen: what is wrong and what to do."""
    look = (
        f"border-left:5px solid {colour('outside')};background:{colour('ground')};"
        f"color:{colour('text')};padding:10px 14px;font-size:16px;line-height:1.45"
    )
    return f'<div role="alert" style="{look}">{_text(text)}</div>'


def download(content: bytes, name: str, kind: str, label: str) -> str:
    """Return a link that hands over a file which lies in the page itself, so no server is asked."""
    encoded = base64.b64encode(content).decode()
    look = (
        f"display:inline-block;padding:12px 18px;margin:4px 12px 4px 0;border-radius:4px;"
        f"background:{colour('inside')};color:white;text-decoration:none;font-size:16px"
    )
    return (
        f'<a download="{escape(name, quote=True)}" style="{look}" '
        f'href="data:{kind};base64,{encoded}">{escape(label)}</a>'
    )
