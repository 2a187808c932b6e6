"""About how wide a text is, so that a picture can break it before it runs into something."""

from __future__ import annotations

_NARROW, _WIDE = frozenset("ijl.,;:'|! ()[]ftr’‘·"), frozenset("mwMWQO@%—")
_NARROW_WIDTH, _WIDE_WIDTH, _CAPITAL_WIDTH, _WIDTH = 0.36, 0.94, 0.72, 0.62  # em, DejaVu Sans
BOLD = 1.12


def width_of(text: str, size: float, weight: str = "normal") -> float:
    """Estimate the width of a text in px, rather too wide than too narrow."""
    total = sum(_advance(letter) for letter in text) * size
    return total * BOLD if weight == "bold" else total


def _advance(letter: str) -> float:
    if letter in _NARROW:
        return _NARROW_WIDTH
    if letter in _WIDE:
        return _WIDE_WIDTH
    return _CAPITAL_WIDTH if letter.isupper() else _WIDTH


def broken(text: str, size: float, room: float) -> tuple[str, ...]:
    """Break a text between words into lines no wider than `room` px; a longer word stays whole."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def shortened(text: str, size: float, room: float) -> str:
    """Cut a text at a word so that it fits, with an ellipsis."""
    lines = broken(text, size, room)
    if len(lines) <= 1:
        return text
    return broken(text, size, room - size)[0].rstrip(",;: ") + " …"
