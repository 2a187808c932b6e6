"""What a survey report is made of: sections of text, pictures and tables."""

from __future__ import annotations

from dataclasses import dataclass

from kit.drawing.scene import Scene
from kit.protocol.catalogue import Catalogue
from kit.quantities.formatting import SUFFIX, number
from kit.quantities.kinds import Kind
from kit.traits.declarations import trait, traits

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


def named(key: str, catalogue: Catalogue) -> tuple[str, Kind]:
    """Return title and kind of a trait or a measurement."""
    if key in traits():
        return trait(key).title, trait(key).kind
    definition = catalogue.measurement(key)
    return definition.title, definition.kind


def with_ends(value: float, low: float, high: float, digits: int) -> str:
    """Write a figure with the ends of its interval."""
    return f"{number(value, digits)} ({number(low, digits)} to {number(high, digits)})"


def shown(value: float, kind: Kind) -> str:
    """Write a figure with its unit."""
    return number(value, DECIMALS[kind]) + SUFFIX[kind]
