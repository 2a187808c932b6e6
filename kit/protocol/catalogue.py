"""The measurement catalogue: what each measurement is, read from TOML."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from kit.quantities.errors import DataFileError
from kit.quantities.kinds import Kind
from kit.quantities.toml_table import Table, read_toml

T = TypeVar("T")

_KEY = re.compile(r"[a-z]+(?:_[a-z]+)+")

DIRECTIONS = ("vertical", "straight", "horizontal", "transverse", "skin", "angle", "mass")


@dataclass(frozen=True)
class Source:
    """Where a figure comes from.

    Attributes
    ----------
    key : str
        Name used in the data files.
    citation : str
        Full citation, or the words "common practice".
    status : str
        ``published``, ``from memory`` or ``common practice``.
    """

    key: str
    citation: str
    status: str


@dataclass(frozen=True)
class Landmark:
    """A point on the dog a hand can find."""

    key: str
    title: str
    anatomy: str
    how: str
    source: str


@dataclass(frozen=True)
class Instrument:
    """A measuring tool: what it reads to and how far it may be wrong by itself.

    Attributes
    ----------
    resolution : float
        Smallest step read, in the unit of `kind`.
    tape_class : str
        OIML R 35 class of a graduated length tool, else empty.
    limit : float
        Largest error allowed to the tool itself where no class applies, in the unit of `kind`.
    """

    key: str
    title: str
    kind: Kind
    resolution: float
    tape_class: str
    limit: float
    source: str


@dataclass(frozen=True)
class Definition:
    """One measurement: where, how, with what, and how well it repeats.

    Errors and ranges of lengths are in centimetres or, where `relative` fields say so, parts of
    the height at the withers; angles are in degrees, masses in kilograms.

    Attributes
    ----------
    landmarks : tuple of str
        Keys of the landmarks it runs between (one for a height).
    direction : str
        One of DIRECTIONS.
    repeat_error : float
        Standard deviation of one person repeating it on a dog that has not moved.
    posture_error : float
        Standard deviation between one stand of the dog and the next.
    low, high : float
        Plausible range: parts of the height at withers for lengths, else the kind's unit.
    sided : bool
        True where left and right differ and are kept apart.
    """

    key: str
    title: str
    kind: Kind
    landmarks: tuple[str, ...]
    direction: str
    instrument: str
    repeat_error: float
    posture_error: float
    error_source: str
    low: float
    high: float
    sided: bool
    how: str
    caution: str
    source: str

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name in {"source", "error_source", "how"} and not value.strip():
                raise DataFileError(
                    f"measurement '{self.key}' has no {field.name}", "a source for every definition"
                )


@dataclass(frozen=True)
class Assumption:
    """A quantity a trait needs that nobody measures, with its own uncertainty.

    `value` and `uncertainty` (standard) are in the unit of `kind`.
    """

    key: str
    title: str
    kind: Kind
    value: float
    uncertainty: float
    source: str


@dataclass(frozen=True)
class Catalogue:
    """Everything the protocol knows, in the order a hand works round the dog."""

    sources: Mapping[str, Source]
    landmarks: Mapping[str, Landmark]
    instruments: Mapping[str, Instrument]
    measurements: Mapping[str, Definition]
    assumptions: Mapping[str, Assumption]

    def measurement(self, key: str) -> Definition:
        """Return one definition; an unknown key raises DataFileError with near names."""
        if key in self.measurements:
            return self.measurements[key]
        lowered = key.strip().lower().replace(" ", "_")
        if lowered in self.measurements:
            return self.measurements[lowered]
        raise DataFileError(
            f"no measurement is called '{key}'",
            "a key of the measurement catalogue",
            key,
            did_you_mean(key, self.measurements, "see: conformation sheet --keys"),
        )


def did_you_mean(key: str, known: Mapping[str, object], otherwise: str = "") -> str:
    """Word a hint of the nearest known names, or say where the names are listed."""
    from difflib import get_close_matches

    near = get_close_matches(key, known, n=3, cutoff=0.6)
    return "did you mean " + " or ".join(near) + "?" if near else otherwise


def with_titles(text: str) -> str:
    """Write a text's measurement and assumption keys by their trade names."""
    known = {key: one.title for key, one in catalogue().measurements.items()}
    known.update({key: one.title for key, one in catalogue().assumptions.items()})
    return _KEY.sub(lambda found: known.get(found[0], found[0]), text)


def _source(key: str, table: Table) -> Source:
    table.only(("citation", "status"))
    status = table.choice("status", ("published", "from memory", "common practice"))
    return Source(key, table.text("citation"), status)


def _landmark(key: str, table: Table) -> Landmark:
    table.only(("title", "anatomy", "how", "source"))
    return Landmark(
        key, table.text("title"), table.text("anatomy"), table.text("how"), table.text("source")
    )


def _instrument(key: str, table: Table) -> Instrument:
    table.only(("title", "kind", "resolution", "tape_class", "limit", "source"))
    return Instrument(
        key,
        table.text("title"),
        Kind(table.choice("kind", [kind.value for kind in Kind])),
        table.number("resolution"),
        table.choice("tape_class", ("", "I", "II", "III"), default=""),
        table.optional_number("limit") or 0.0,
        table.text("source"),
    )


def _assumption(key: str, table: Table) -> Assumption:
    table.only(("title", "kind", "value", "uncertainty", "source"))
    return Assumption(
        key,
        table.text("title"),
        Kind(table.choice("kind", [kind.value for kind in Kind])),
        table.number("value"),
        table.number("uncertainty"),
        table.text("source"),
    )


def _definition(key: str, table: Table) -> Definition:
    names = [field.name for field in fields(Definition) if field.name != "key"]
    table.only(names)
    return Definition(
        key=key,
        title=table.text("title"),
        kind=Kind(table.choice("kind", [kind.value for kind in Kind])),
        landmarks=table.texts("landmarks"),
        direction=table.choice("direction", DIRECTIONS),
        instrument=table.text("instrument"),
        repeat_error=table.number("repeat_error"),
        posture_error=table.number("posture_error"),
        error_source=table.text("error_source"),
        low=table.number("low"),
        high=table.number("high"),
        sided=table.flag("sided"),
        how=table.text("how"),
        caution=table.text("caution", default=""),
        source=table.text("source"),
    )


def _check_links(catalogue: Catalogue, where: str) -> None:
    for definition in catalogue.measurements.values():
        links = (
            (definition.landmarks, catalogue.landmarks, "landmarks"),
            ((definition.instrument,), catalogue.instruments, "instrument"),
            ((definition.source, definition.error_source), catalogue.sources, "source"),
        )
        for used, known, key in links:
            for name in used:
                if name not in known:
                    raise DataFileError(
                        f"{where}, table [measurements.{definition.key}], key '{key}'",
                        f"a name in [{key}]",
                        name,
                    )


def read_catalogue(folder: Path) -> Catalogue:
    """Read `measurements.toml` and `landmarks.toml` from a folder.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    measures = read_toml(folder / "measurements.toml")
    points = read_toml(folder / "landmarks.toml")
    catalogue = Catalogue(
        sources=_frozen({k: _source(k, t) for k, t in points.tables("sources").items()}),
        landmarks=_frozen({k: _landmark(k, t) for k, t in points.tables("landmarks").items()}),
        instruments=_frozen(
            {k: _instrument(k, t) for k, t in points.tables("instruments").items()}
        ),
        measurements=_frozen(
            {k: _definition(k, t) for k, t in measures.tables("measurements").items()}
        ),
        assumptions=_frozen(
            {k: _assumption(k, t) for k, t in points.tables("assumptions").items()}
        ),
    )
    _check_links(catalogue, "measurements.toml")
    return catalogue


def _frozen(table: dict[str, T]) -> Mapping[str, T]:
    return MappingProxyType(table)


@cache
def catalogue() -> Catalogue:
    """Return the catalogue that ships with the kit."""
    return read_catalogue(Path(__file__).parent)
