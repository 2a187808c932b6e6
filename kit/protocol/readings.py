"""The reading: what one hand read once, exactly as it was given."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from kit.protocol.catalogue import Catalogue, Definition
from kit.quantities.entry import Entry, parse_entry
from kit.quantities.errors import DataFileError, EntryError
from kit.quantities.kinds import Kind

SIDES = ("left", "right")
_SIDE_WORDS = {"": "", "l": "left", "left": "left", "r": "right", "right": "right"}


@dataclass(frozen=True)
class Reading:
    """One reading of one measurement.

    Attributes
    ----------
    value : float
        In the unit of the measurement's kind (cm, deg, kg).
    side : str
        ``left`` or ``right`` for a sided measurement, else empty.
    stand : str
        Which stand of the dog it was taken in; readings of one stand share its posture.
    raw, unit : str
        The entry and the unit beside it, exactly as written.
    """

    dog: str
    measurement: str
    value: float
    side: str = ""
    stand: str = "1"
    measurer: str = ""
    instrument: str = ""
    time: str = ""
    note: str = ""
    raw: str = ""
    unit: str = ""


def read_value(text: str, unit: str, definition: Definition) -> Entry:
    """Read the written value of one measurement.

    Parameters
    ----------
    text : str
        A number, or an entry with its unit.
    unit : str
        Unit of a bare number; empty where the entry carries its own.

    Raises
    ------
    EntryError
        If the entry cannot be read, its unit contradicts `unit`, or its sign makes no sense.
    """
    entry = parse_entry(text, definition.kind, unit.strip() or None)
    if unit.strip():
        _check_same_unit(entry, unit, definition.kind)
    if entry.value <= 0 and definition.low >= 0:
        raise EntryError(
            f"{definition.title} cannot be {entry.value:g}",
            f"more than zero {definition.kind.unit}",
            repr(text),
            "check the reading",
        )
    return entry


def _check_same_unit(entry: Entry, unit: str, kind: Kind) -> None:
    if _stated_unit(unit.strip(), kind) != entry.unit:
        raise EntryError(
            "the unit is given twice and differs",
            "one unit",
            f"'{entry.raw}' with unit '{unit}'",
            "keep one of the two",
        )


@lru_cache(maxsize=256)
def _stated_unit(unit: str, kind: Kind) -> str:
    return parse_entry("1 " + unit, kind).unit


def read_side(text: str, definition: Definition) -> str:
    """Return the side of a reading: left is the default of a sided measurement.

    Raises
    ------
    DataFileError
        If the text names no side.
    """
    word = text.strip().lower()
    if word not in _SIDE_WORDS:
        raise DataFileError(
            "unknown side", "left, right or nothing", repr(text), "correct the side"
        )
    if not definition.sided:
        return ""
    return _SIDE_WORDS[word] or "left"


def make_reading(catalogue: Catalogue, dog: str, measurement: str, value: str, unit: str = "",
                 side: str = "", **details: str) -> Reading:  # fmt: skip
    """Build a reading from what was written; `details` are the other fields of Reading.

    Raises
    ------
    KitError
        If the measurement is unknown or the entry or side cannot be read.
    """
    definition = catalogue.measurement(measurement.strip())
    entry = read_value(value, unit, definition)
    if not dog.strip():
        raise DataFileError("no dog is named", "a name or number of the dog", "nothing", "add it")
    details = {key: text.strip() for key, text in details.items()}
    details["stand"] = details.get("stand") or "1"
    return Reading(
        dog=dog.strip(),
        measurement=definition.key,
        value=entry.value,
        side=read_side(side, definition),
        raw=value,
        unit=unit,
        **details,
    )
