"""Cautions every report carries, and published thresholds where a figure may lie past them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from kit.drawing.wording import value_text
from kit.quantities.toml_table import Table, read_toml
from kit.traits.declarations import trait
from kit.traits.estimates import TraitTable

FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class Caution:
    """What the reader must know before using a report."""

    title: str
    text: str


@dataclass(frozen=True)
class Threshold:
    """A published limit of one trait beyond which harm was seen. One of the limits is None."""

    trait: str
    below: float | None
    above: float | None
    text: str
    scope: str
    source: str


@dataclass(frozen=True)
class WelfareNote:
    """A threshold that concerns this dog: the figure, what was published, and for whom."""

    trait: str
    figure: str
    text: str
    scope: str
    source: str


@cache
def short_caution() -> str:
    """Return the cautions in one line."""
    return read_toml(FOLDER / "cautions.toml").text("short")


@cache
def cautions() -> tuple[Caution, ...]:
    """Return the cautions in full."""
    tables = read_toml(FOLDER / "cautions.toml").array("caution")
    return tuple(Caution(table.text("title"), table.text("text")) for table in tables)


@cache
def thresholds() -> tuple[Threshold, ...]:
    """Return the published thresholds."""
    return tuple(_threshold(t) for t in read_toml(FOLDER / "welfare.toml").array("threshold"))


def _threshold(table: Table) -> Threshold:
    table.only(("trait", "below", "above", "text", "scope", "source"))
    below, above = table.optional_number("below"), table.optional_number("above")
    if (below is None) == (above is None):
        raise table.fault("below", "either below or above", "both or neither")
    key = trait(table.text("trait")).key
    texts = (table.text("text"), table.text("scope"), table.text("source"))
    return Threshold(key, below, above, *texts)


def welfare_notes(traits: TraitTable) -> tuple[WelfareNote, ...]:
    """Return the notes on every trait whose 95 % interval reaches past a published threshold."""
    return tuple(
        WelfareNote(
            limit.trait,
            f"{known.trait.title} {value_text(known)}",
            limit.text,
            limit.scope,
            limit.source,
        )
        for limit in thresholds()
        if (known := traits.known.get(limit.trait)) is not None
        and _reaches_past(limit, known.low95, known.high95)
    )


def _reaches_past(limit: Threshold, low: float, high: float) -> bool:
    if limit.below is not None:
        return low < limit.below
    return limit.above is not None and high > limit.above
