"""What was written down of a dog in movement: the catalogue, the entries and their CSV."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from kit.protocol.catalogue import did_you_mean
from kit.quantities.errors import KitError
from kit.quantities.registry import convert
from kit.quantities.toml_table import Table, read_toml
from kit.standards.columns import Cells, ColumnError, Sheet, read_sheet

REQUIRED = ("dog", "what", "value", "unit")
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")
PACES = ("walk", "trot", "")
FRAMES = "frames"
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?", re.ASCII)
_UNIT_WORDS = {"s": "s", "ms": "ms", "m": "m", "cm": "cm", "ft": "ft", "in": "in", "yd": "yard",
               "deg": "deg", "°": "deg", "hz": "1 / s", "fps": "1 / s", "1/s": "1 / s",
               "1": "dimensionless", "": "dimensionless"}  # fmt: skip


@dataclass(frozen=True)
class Kept:
    """One thing that may be written down; `error` is the standard deviation of one entry."""

    key: str
    title: str
    unit: str
    per: str
    error: float
    how: str
    source: str


@dataclass(frozen=True)
class Observation:
    """One entry, as it was written and as understood.

    Attributes
    ----------
    run : str
        Which run it belongs to; empty for what belongs to the dog or a pace.
    pace : str
        ``walk`` or ``trot`` as the handler was asked, or empty. It names no gait.
    value : float
        In the unit of its Kept; entries of feet in frames or, where `in_seconds`, in seconds.
    foot : str
        One of FEET, for footfalls.
    """

    dog: str
    what: str
    value: float
    run: str = ""
    pace: str = ""
    foot: str = ""
    in_seconds: bool = False
    observer: str = ""
    time: str = ""
    note: str = ""
    raw: str = ""
    unit: str = ""


@cache
def movement_tables() -> Table:
    """Return the data file of movement."""
    return read_toml(Path(__file__).with_name("observations.toml"))


@cache
def kept() -> Mapping[str, Kept]:
    """Return everything that may be written down, by key."""
    found = {}
    for key, table in movement_tables().tables("observations").items():
        table.only(("title", "unit", "per", "error", "how", "source"))
        found[key] = Kept(
            key, table.text("title"), table.text("unit"),
            table.choice("per", ("run", "pace", "foot", "dog")), table.number("error"),
            table.text("how"), table.text("source"),
        )  # fmt: skip
    return MappingProxyType(found)


def read_movement(path: Path) -> Sheet[Observation]:
    """Read a CSV: dog, what, value, unit; run, pace, foot, observer, time, note as they apply.

    Raises
    ------
    DataFileError
        If the file cannot be read or lacks a column. A bad row is reported, the rest counts.
    """
    return read_sheet(path, REQUIRED, _observation)


def _observation(cells: Cells) -> Observation:
    details = {name: cells.get(name, "") for name in ("observer", "time", "note")}
    return make_observation(cells["dog"], cells["what"], cells["value"], cells["unit"],
                            run=cells.get("run", ""), pace=cells.get("pace", ""),
                            foot=cells.get("foot", ""), **details)  # fmt: skip


def make_observation(dog: str, what: str, value: str, unit: str, *, run: str = "", pace: str = "",
                     foot: str = "", **details: str) -> Observation:  # fmt: skip
    """Build an observation from what was written.

    Raises
    ------
    ColumnError
        Naming the column that cannot be used.
    """
    if not dog:
        raise ColumnError("dog", "no dog is named", "a name or number of the dog", "nothing")
    if what not in kept():
        raise ColumnError("what", f"nothing of movement is called '{what}'", ", ".join(kept()),
                          what, did_you_mean(what, kept()))  # fmt: skip
    _check_place(kept()[what], run, pace.lower(), foot)
    number, in_seconds = _value(kept()[what], value, unit)
    return Observation(dog, what, number, run, pace.lower(), foot, in_seconds, raw=value,
                       unit=unit, **details)  # fmt: skip


def _check_place(definition: Kept, run: str, pace: str, foot: str) -> None:
    if pace not in PACES:
        raise ColumnError("pace", "unknown pace", "walk, trot or nothing: only footfalls name a "
                          "gait", pace)  # fmt: skip
    if definition.per in {"run", "foot"} and not run:
        raise ColumnError("run", f"{definition.title} belongs to a run", "its number", "nothing")
    if definition.per == "pace" and not pace:
        raise ColumnError("pace", f"{definition.title} belongs to a pace", "walk or trot",
                          "nothing")  # fmt: skip
    if definition.per == "foot" and foot not in FEET:
        raise ColumnError("foot", "unknown foot", ", ".join(FEET), foot or "nothing")


def _value(definition: Kept, text: str, unit: str) -> tuple[float, bool]:
    if not _NUMBER.fullmatch(text):
        raise ColumnError("value", "the value cannot be read", "one number such as 4,2", text)
    number = float(text.replace(",", "."))
    if number <= 0 and definition.unit != "deg" and definition.per != "foot":
        raise ColumnError("value", f"{definition.title} cannot be {number:g}", "above zero", text)
    word = unit.strip().lower()
    if definition.unit == FRAMES and word in {FRAMES, "frame"}:
        return number, False
    wanted = "s" if definition.unit == FRAMES else definition.unit
    try:
        return convert(number, _UNIT_WORDS.get(word, word), wanted), definition.unit == FRAMES
    except KitError as fault:
        needed = f"{FRAMES} or s" if definition.unit == FRAMES else f"a unit like {wanted}"
        raise ColumnError("unit", "the unit does not fit", needed, unit or "nothing") from fault
