"""Where the error of one figure comes from: one bar for each reading, longest first."""

from __future__ import annotations

from kit.drawing.scene import Path, Primitive, Scene, Style, Text
from kit.protocol.catalogue import catalogue
from kit.traits.estimates import TraitEstimate

WIDTH, ROW, HEAD = 500.0, 40.0, 44.0
LEFT, BAR_LEFT, BAR = 16.0, 250.0, 190.0  # px
THICK = 16.0


def budget(estimate: TraitEstimate) -> Scene:
    """Draw which part of the variance of a trait each reading brings."""
    shares: dict[str, float] = {}
    for part in estimate.budget:
        shares[part.measurement] = shares.get(part.measurement, 0.0) + part.share
    rows = sorted(shares.items(), key=lambda row: -row[1])
    parts: list[Primitive] = [Text((LEFT, 28.0), "Where the error comes from", 17.0, weight="bold")]
    for index, (key, share) in enumerate(rows):
        parts += _row(_title(key), share, HEAD + ROW * index)
    said = "; ".join(f"{_title(key)} {share:.0%}" for key, share in rows)
    return Scene(WIDTH, HEAD + ROW * len(rows) + 8.0, tuple(parts), "Error budget", said)


def _title(key: str) -> str:
    known = catalogue()
    table = known.assumptions if key in known.assumptions else known.measurements
    return table[key].title


def _row(title: str, share: float, top: float) -> list[Primitive]:
    middle = top + ROW / 2.0
    end = BAR_LEFT + max(2.0, BAR * share)
    corners = [(BAR_LEFT, middle - THICK / 2), (end, middle - THICK / 2),
               (end, middle + THICK / 2), (BAR_LEFT, middle + THICK / 2)]  # fmt: skip
    return [
        Text((LEFT, middle + 5.0), title[:1].upper() + title[1:], 14.5),
        Path.polyline(corners, Style("accent"), closed=True),
        Text((end + 8.0, middle + 5.0), f"{share:.0%}".replace("%", " %"), 14.0, "quiet_text"),
    ]
