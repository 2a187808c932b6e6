"""The neutral dog that stands in for whatever was not measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from types import MappingProxyType

from kit.quantities.errors import DataFileError
from kit.quantities.toml_table import Table, read_toml

Point = tuple[float, float]

OBSERVATION_KINDS = (
    "vertical",
    "straight",
    "horizontal",
    "skin",
    "angle",
    "falls_forward",
    "falls_backward",
    "from_vertical",
)
TIE_GROUPS = ("trunk", "limb", "hind", "even", "foot")


@dataclass(frozen=True)
class Observation:
    """How one measurement bears on the points of the figure.

    Attributes
    ----------
    kind : str
        One of OBSERVATION_KINDS.
    points : tuple of str
        One point for a height, two for a distance or a slope, three for an angle (vertex second).
    """

    kind: str
    points: tuple[str, ...]


@dataclass(frozen=True)
class Tie:
    """Two points that keep the template's spacing where no reading says otherwise.

    `play_x` and `play_y` are standard deviations in parts of the dog's size; `group` says with
    which of the dog's scales the template's spacing is stretched.
    """

    start: str
    end: str
    play_x: float
    play_y: float
    group: str


@dataclass(frozen=True)
class Ceiling:
    """A point that stays under another where its own height was not read.

    `fall` is the least difference of their heights and `play` its standard deviation, in parts of
    the dog's size.
    """

    upper: str
    lower: str
    fall: float
    play: float


@dataclass(frozen=True)
class Template:
    """Points, ties and extra observations of the neutral dog.

    Attributes
    ----------
    landmarks : Mapping of str to (float, float)
        The landmarks of the catalogue: x forward and y up from the floor, as parts of the height
        at the withers.
    auxiliary : Mapping of str to (float, float)
        Points that are drawn or measured to without being landmarks, in the same unit.
    observations : Mapping of str to Observation
        Measurements the catalogue cannot place by its landmarks alone.
    ties : tuple of Tie
    ceilings : tuple of Ceiling
    floor : tuple of str
        Points that keep their height above the floor.
    one_is_enough : frozenset of str
        Points a single reading places well enough to be called measured.
    stands_under : Mapping of str to str
        Points on the floor, each with the joint that makes it measured.
    source : str
        Where the proportions come from.
    """

    landmarks: Mapping[str, Point]
    auxiliary: Mapping[str, Point]
    observations: Mapping[str, Observation]
    ties: tuple[Tie, ...]
    ceilings: tuple[Ceiling, ...]
    floor: tuple[str, ...]
    one_is_enough: frozenset[str]
    stands_under: Mapping[str, str]
    source: str

    @cached_property
    def points(self) -> Mapping[str, Point]:
        """Landmarks and auxiliary points together."""
        return MappingProxyType({**self.landmarks, **self.auxiliary})


def _number(table: Table, key: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 10:
        raise table.fault(key, "numbers in parts of the height at the withers", value)
    return float(value)


def _point(table: Table, key: str) -> Point:
    value = table.content[key]
    if not isinstance(value, list) or len(value) != 2:
        raise table.fault(key, "two numbers [x, y]", value)
    return _number(table, key, value[0]), _number(table, key, value[1])


def _points(table: Table) -> Mapping[str, Point]:
    return MappingProxyType({key: _point(table, key) for key in table.content})


def _known(table: Table, key: str, names: tuple[str, ...], known: Mapping[str, Point]) -> None:
    for name in names:
        if name not in known:
            raise table.fault(key, "points of [landmarks] or [auxiliary]", name)


def _observation(table: Table, known: Mapping[str, Point]) -> Observation:
    table.only(("kind", "points"))
    points = table.texts("points")
    _known(table, "points", points, known)
    return Observation(table.choice("kind", OBSERVATION_KINDS), points)


def _pair(
    table: Table, group: str, row: object, known: Mapping[str, Point], needed: str
) -> tuple[str, str, float, float]:
    if not isinstance(row, list) or len(row) != 4:
        raise table.fault(group, f"rows {needed}", row)
    start, end = str(row[0]), str(row[1])
    _known(table, group, (start, end), known)
    return start, end, _number(table, group, row[2]), _number(table, group, row[3])


def _ties(table: Table, known: Mapping[str, Point]) -> tuple[Tie, ...]:
    table.only((*TIE_GROUPS, "under", "floor"))
    needed = "[from, to, play in x, play in y]"
    return tuple(
        Tie(*_pair(table, group, row, known, needed), group)
        for group in TIE_GROUPS
        for row in table.content.get(group, [])
    )


def _ceilings(table: Table, known: Mapping[str, Point]) -> tuple[Ceiling, ...]:
    needed = "[upper, lower, least fall, play]"
    return tuple(
        Ceiling(*_pair(table, "under", row, known, needed))
        for row in table.content.get("under", [])
    )


def _stands_under(table: Table) -> Mapping[str, str]:
    return MappingProxyType({key: table.text(key) for key in table.content})


def read_template(path: Path) -> Template:
    """Read a template file.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault, or if the withers are not at height 1.
    """
    table = read_toml(path)
    table.only(("source", "landmarks", "auxiliary", "observations", "ties", "drawing"))
    landmarks, auxiliary = _points(table.table("landmarks")), _points(table.table("auxiliary"))
    if "withers" not in landmarks or landmarks["withers"][1] != 1.0:
        raise DataFileError(f"{path.name}, table [landmarks], key 'withers'", "height 1.0")
    known = {**landmarks, **auxiliary}
    sights = table.tables("observations")
    return Template(
        landmarks=landmarks,
        auxiliary=auxiliary,
        observations=MappingProxyType({k: _observation(t, known) for k, t in sights.items()}),
        ties=_ties(table.table("ties"), known),
        ceilings=_ceilings(table.table("ties"), known),
        floor=table.table("ties").texts("floor"),
        one_is_enough=frozenset(table.table("drawing").texts("one_reading_is_enough")),
        stands_under=_stands_under(table.table("drawing").table("stands_under")),
        source=table.text("source"),
    )


@cache
def template() -> Template:
    """Return the template that ships with the kit."""
    return read_template(Path(__file__).with_name("template.toml"))
