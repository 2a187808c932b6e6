"""Published growth figures, each with breed, sex, source and how it was had."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kit.growth.curves import CURVES, Curve, curve
from kit.quantities.toml_table import Table, read_toml

Vector = NDArray[np.float64]
FILE = Path(__file__).parent / "reference.toml"
STATUS = ("read in a copy", "derived", "from memory")
SEXES = ("both", "dog", "bitch")
NO_CENTILES = (
    "No centile curves of dogs ship with the kit, of any breed: no published L, M and S figures "
    "were reached. A club can fit its own from its members’ readings (--centiles)."
)


@dataclass(frozen=True, eq=False)
class ReferenceCurve:
    """A published curve; outside `from_days` to `to_days` its source had no puppies."""

    key: str
    breed: str
    sex: str
    measurement: str
    curve: Curve
    unit: str
    parameters: tuple[float, float, float]
    from_days: float
    to_days: float
    status: str
    note: str
    source: str

    def at(self, age: ArrayLike) -> Vector:
        """Return the curve at ages in days; nan outside the ages of its source."""
        days = np.asarray(age, dtype=np.float64)
        inside = (days >= self.from_days) & (days <= self.to_days)
        return np.where(inside, self.curve.value(days, self.parameters), np.nan)


@dataclass(frozen=True)
class Waypoint:
    """A single published figure that makes no curve."""

    breed: str
    sex: str
    measurement: str
    what: str
    value: str
    status: str
    source: str


@dataclass(frozen=True)
class Fastest:
    """The greatest growth from birth that was seen, days 0 to `to_days`."""

    linear: float
    quadratic: float
    to_days: float
    status: str
    note: str
    source: str

    def factor(self, age: ArrayLike) -> Vector:
        """Return weight over birth weight at ages in days."""
        days = np.asarray(age, dtype=np.float64)
        result: Vector = np.exp(self.linear * days + self.quadratic * days**2)
        return result


@dataclass(frozen=True)
class Reference:
    """All published growth figures of the kit."""

    curves: tuple[ReferenceCurve, ...]
    waypoints: tuple[Waypoint, ...]
    fastest: Fastest


@cache
def reference() -> Reference:
    """Return the published figures that ship with the kit."""
    return read_reference(FILE)


def read_reference(path: Path) -> Reference:
    """Read a file of published figures; a fault names file, table and key (DataFileError)."""
    root = read_toml(path)
    root.only(("curve", "waypoint", "fastest"))
    return Reference(
        tuple(_curve(table) for table in root.array("curve")),
        tuple(_waypoint(table) for table in root.array("waypoint")),
        _fastest(root.table("fastest")),
    )


def _curve(table: Table) -> ReferenceCurve:
    table.only(("key", "breed", "sex", "measurement", "model", "unit", "adult", "midpoint_days",
                "pace_days", "from_days", "to_days", "status", "note", "source"))  # fmt: skip
    numbers = tuple(table.number(key) for key in ("adult", "midpoint_days", "pace_days"))
    return ReferenceCurve(
        key=table.text("key"),
        breed=table.text("breed"),
        sex=table.choice("sex", SEXES),
        measurement=table.text("measurement"),
        curve=curve(table.choice("model", CURVES)),
        unit=table.choice("unit", ("kg", "cm", "1")),
        parameters=(numbers[0], numbers[1], numbers[2]),
        from_days=table.number("from_days"),
        to_days=table.number("to_days"),
        status=table.choice("status", STATUS),
        note=table.text("note"),
        source=table.text("source"),
    )


def _waypoint(table: Table) -> Waypoint:
    table.only(("breed", "sex", "measurement", "what", "value", "status", "source"))
    return Waypoint(
        breed=table.text("breed"),
        sex=table.choice("sex", SEXES),
        measurement=table.text("measurement"),
        what=table.text("what"),
        value=table.text("value"),
        status=table.choice("status", STATUS),
        source=table.text("source"),
    )


def _fastest(table: Table) -> Fastest:
    table.only(("linear", "quadratic", "to_days", "status", "note", "source"))
    return Fastest(
        table.number("linear"), table.number("quadratic"), table.number("to_days"),
        table.choice("status", STATUS), table.text("note"), table.text("source"),
    )  # fmt: skip
