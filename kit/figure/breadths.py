"""How broad a dog is where the median plane does not show it: read, or as a neutral dog would be.

An unmeasured breadth keeps with the measured ones of its group: a dog read broad in the ribs is not
drawn narrow in the loin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from math import exp, hypot, log, pi, sqrt
from pathlib import Path
from types import MappingProxyType

from kit.figure.model import Figure
from kit.figure.template import template
from kit.quantities.toml_table import Table, read_toml

GROUPS = ("trunk", "front", "hind", "head", "neck", "bone", "foot")
# Where a group has no reading of its own, the groups it is taken from.
LEANS_ON = {"front": ("trunk",), "hind": ("trunk",), "neck": ("trunk",), "foot": ("bone",)}
SUBSTANCES = (0.80, 1.30)  # how far weight alone makes a dog finer or stronger
REACH = (0.5, 2.2)  # how far a breadth may leave the neutral one before it is held back
# The girth behind the elbows runs round less than the whole depth: in parts of it.
ROUND_DEPTH = 0.88


@dataclass(frozen=True)
class Breadth:
    """A neutral breadth in parts of the height at withers, and the group it keeps with."""

    value: float
    follows: str


@dataclass(frozen=True)
class Breadths:
    """What the neutral dog measures across and around.

    Lengths in parts of the height, turn-outs in degrees; weight in kg per cubic centimetre of the
    height at the withers.
    """

    lengths: Mapping[str, Breadth]
    turnouts: Mapping[str, float]
    weight: float
    source: str


def _breadth(table: Table) -> Breadth:
    table.only(("value", "follows"))
    return Breadth(table.number("value"), table.choice("follows", GROUPS))


@cache
def neutral_breadths() -> Breadths:
    """Return the neutral breadths that ship with the kit.

    Raises
    ------
    DataFileError
        Naming file, table and key of the first fault.
    """
    root = read_toml(Path(__file__).with_name("breadths.toml"))
    root.only(("source", "breadths", "turnouts", "weight"))
    turned = root.table("turnouts")
    return Breadths(
        MappingProxyType({key: _breadth(one) for key, one in root.tables("breadths").items()}),
        MappingProxyType({key: turned.number(key) for key in turned.content}),
        root.number("weight"),
        root.text("source"),
    )


@dataclass(frozen=True)
class Girt:
    """One dog's breadths.

    Attributes
    ----------
    values : Mapping of str to float
        Every key of the neutral breadths: cm, or degrees for turn-outs.
    read : frozenset of str
        Those that come from readings.
    """

    values: Mapping[str, float]
    read: frozenset[str]

    def __getitem__(self, key: str) -> float:
        return self.values[key]


def breadths_of(figure: Figure) -> Girt:
    """Return every breadth of a dog, the unmeasured ones in keeping with the measured."""
    neutral = neutral_breadths()
    given = dict(figure.readings)
    given.update(_from_girths(figure))
    plain = {key: one.value * _scale(figure, one.follows) for key, one in neutral.lengths.items()}
    parts = _parts(given, plain, substance(figure))
    values = {key: _held(given.get(key), plain[key], parts[one.follows])
              for key, one in neutral.lengths.items()}  # fmt: skip
    turned = {key: given.get(key, value) for key, value in neutral.turnouts.items()}
    read = frozenset(key for key in (*values, *turned) if key in given)
    return Girt(MappingProxyType({**values, **turned}), read)


def _held(read: float | None, plain: float, part: float) -> float:
    value = plain * part if read is None else read
    return min(max(value, REACH[0] * plain), REACH[1] * plain)


def substance(figure: Figure) -> float:
    """Return how much broader and stronger in bone its weight makes a dog; 1 where it was not read.

    A body of one length weighs as the square of its breadth, so this is the square root of the
    weight over that of a neutral dog of this size.
    """
    weight = figure.readings.get("weight", 0.0)
    if weight <= 0.0:
        return 1.0
    plain = neutral_breadths().weight * figure.size**3
    return min(max(sqrt(weight / plain), SUBSTANCES[0]), SUBSTANCES[1])


def _parts(
    given: Mapping[str, float], plain: Mapping[str, float], heavy: float
) -> dict[str, float]:
    """Return how much broader than neutral each group is, by the geometric mean of its readings.

    A group that neither has nor borrows one goes by the dog's weight, the head half as much.
    """
    otherwise = dict.fromkeys(GROUPS, heavy) | {"head": sqrt(heavy)}
    lengths = neutral_breadths().lengths
    ratios = {key: given[key] / plain[key] for key in lengths if given.get(key, 0.0) > 0.0}
    own = {group: [ratios[key] for key in ratios if lengths[key].follows == group]
           for group in GROUPS}  # fmt: skip
    return {
        group: _mean(
            own[group]
            or [one for other in LEANS_ON.get(group, ()) for one in own[other]]
            or [otherwise[group]]
        )
        for group in GROUPS
    }


def _mean(ratios: Iterable[float]) -> float:
    logs = [log(ratio) for ratio in ratios]
    return exp(sum(logs) / len(logs))


def _scale(figure: Figure, group: str) -> float:
    """Return the cm of one template unit across a part of this dog."""
    neutral = template().points
    if group == "head":
        return _apart(figure.points, "occiput", "nose") / _apart(neutral, "occiput", "nose")
    if group == "foot":
        rise = figure["front_pastern_bottom"][1] / neutral["front_pastern_bottom"][1]
        return max(rise, 0.3 * figure.size)
    if group == "trunk":
        # A shallow chest is a narrow one: half way between the dog's size and its depth.
        deep = _apart(figure.points, "withers", "brisket") / _apart(neutral, "withers", "brisket")
        return sqrt(figure.size * deep)
    return figure.size


def _apart(points: Mapping[str, tuple[float, float]], one: str, other: str) -> float:
    return hypot(points[one][0] - points[other][0], points[one][1] - points[other][1])


def _from_girths(figure: Figure) -> dict[str, float]:
    """Read the breadth of the ribs out of girth and depth, where only those were read."""
    girth, known = figure.readings.get("chest_girth", 0.0), neutral_breadths().lengths
    if "rib_breadth" in figure.readings or girth <= 0.0:
        return {}
    depth = ROUND_DEPTH * _apart(figure.points, "withers", "brisket")
    plain_depth = ROUND_DEPTH * _apart(template().points, "withers", "brisket")
    across = _across(girth, depth)
    plain = _across(known["chest_girth"].value, plain_depth)
    return {"rib_breadth": known["rib_breadth"].value * across / plain}


def _across(girth: float, depth: float) -> float:
    """Return the breadth of an ellipse of this girth and depth; at least a third of the depth.

    Girth of an ellipse: Euler's approximation, pi times the root of half the sum of squares.
    """
    return sqrt(max(2 * (girth / pi) ** 2 - depth**2, (depth / 3) ** 2))
