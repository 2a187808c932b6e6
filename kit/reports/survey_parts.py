"""What a survey report is made of: sections of text, pictures and tables."""

from __future__ import annotations

from dataclasses import dataclass

from kit.drawing.scene import Scene
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind

DECIMALS = {Kind.RATIO: 3, Kind.ANGLE: 1, Kind.LENGTH: 1, Kind.MASS: 2}


@dataclass(frozen=True)
class Drawn:
    """A picture with what stands below it."""

    name: str
    scene: Scene
    caption: str


@dataclass(frozen=True)
class Listing:
    """A table; `widths` are parts of the page."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]


@dataclass(frozen=True)
class Section:
    """One heading with what stands under it, in this order: text, pictures, tables."""

    title: str
    text: tuple[str, ...] = ()
    pictures: tuple[Drawn, ...] = ()
    tables: tuple[Listing, ...] = ()


def shown(value: float, kind: Kind) -> str:
    """Write a figure with its unit."""
    return number(value, DECIMALS[kind]) + SUFFIX[kind]
