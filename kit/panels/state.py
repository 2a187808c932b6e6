"""The state of one grooming table, frozen: what is measured, by whom, and how far they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kit.protocol.catalogue import Catalogue
from kit.records.values import Dog, Session, StoredReading
from kit.standards.standard import Standard

UNITS = ("cm", "in")


@dataclass(frozen=True)
class Target:
    """One thing to measure: a measurement and, where it has sides, its side."""

    measurement: str
    side: str = ""


@dataclass(frozen=True)
class Step:
    """One change that can be undone.

    Attributes
    ----------
    reading : str
        Identity of the row the change appended.
    before : StoredReading or None
        The row it superseded; None where it was a first reading.
    """

    reading: str
    before: StoredReading | None = None


@dataclass(frozen=True)
class TableState:
    """Everything one panel shows, apart from what follows from it.

    Attributes
    ----------
    rows : tuple of StoredReading
        What counts now of this dog in this session, in order of first entry.
    instruments : Mapping of str to str
        Usual instrument to the one taken instead.
    side : str
        The side sided measurements are taken on.
    repeats : int
        Readings of each measurement in one stand before Enter moves on.
    skipped : frozenset of Target
        Left out in this stand.
    done, undone : tuple of Step
        For undo and redo, the latest last.
    """

    standard: Standard
    at: Target
    dog: Dog | None = None
    session: Session | None = None
    rows: tuple[StoredReading, ...] = ()
    units: str = "cm"
    measurer: str = ""
    writer: str = ""
    instruments: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    stand: str = "1"
    side: str = "left"
    repeats: int = 1
    skipped: frozenset[Target] = frozenset()
    done: tuple[Step, ...] = ()
    undone: tuple[Step, ...] = ()


def targets(state: TableState, catalogue: Catalogue) -> Iterator[Target]:
    """Yield what there is to measure, in the order a hand works round the dog."""
    for key, definition in catalogue.measurements.items():
        yield Target(key, state.side if definition.sided else "")


def readings_of(state: TableState, target: Target) -> tuple[StoredReading, ...]:
    """Return the repeats of one target over all stands."""
    return tuple(
        row
        for row in state.rows
        if (row.reading.measurement, row.reading.side) == (target.measurement, target.side)
    )


def taken_now(state: TableState, target: Target) -> int:
    """Return how often a target was read in this stand."""
    return sum(row.reading.stand == state.stand for row in readings_of(state, target))


def following(state: TableState, catalogue: Catalogue, after: Target) -> Target:
    """Return the next target that was neither read nor skipped in this stand.

    After the last one it begins again at the first; where nothing is open it stays.
    """
    order = list(targets(state, catalogue))
    keys = [target.measurement for target in order]
    place = keys.index(after.measurement) + 1
    now = [row.reading for row in state.rows if row.reading.stand == state.stand]
    closed = {Target(one.measurement, one.side) for one in now} | state.skipped | {after}
    return next((one for one in order[place:] + order[:place] if one not in closed), after)
