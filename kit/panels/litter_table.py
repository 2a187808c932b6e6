"""A litter on the table: one measurement round the puppies, then the next; each reading stored.

The round itself is kit.growth.round; here it meets the records. A reading is stored and read back
before the round moves on.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from threading import RLock

from kit.growth.alerts import alerts
from kit.growth.puppies import GrowthRecord, Puppy, growth_record
from kit.growth.round import Cell, Round, RoundPuppy, new_round, next_mark
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import make_reading
from kit.quantities.entry import parse_entry
from kit.quantities.errors import EntryError, KitError
from kit.quantities.kinds import Kind
from kit.records.store import Store
from kit.records.values import Dog, Session, StoredReading, new_id, started_now

UNITS = {
    "g": {Kind.MASS: "g", Kind.LENGTH: "cm", Kind.ANGLE: "deg"},
    "kg": {Kind.MASS: "kg", Kind.LENGTH: "cm", Kind.ANGLE: "deg"},
    "lb": {Kind.MASS: "lb", Kind.LENGTH: "in", Kind.ANGLE: "deg"},
}
USUAL = ("weight", "height_at_withers", "body_length_from_prosternum", "chest_girth",
         "head_length")  # fmt: skip
FULL_DATE = len("2026-03-01")
_COLLAR = re.compile(r"\bcollar: *([^;,\n]+)", re.IGNORECASE)
_DIED = re.compile(r"\bdied: *(\d{4}-\d\d-\d\d)")


@dataclass(frozen=True)
class Turn:
    """One entry as it was typed: its text, whose turn, and an identity chosen by the page."""

    text: str
    cell: Cell
    identity: str = ""
    time: str = ""


class LitterTable:
    """One round over one store; usable from any thread.

    Attributes
    ----------
    round : Round or None
        None until puppies and measurements are chosen.
    rows : dict of reading identity to StoredReading
        What this round has stored.
    """

    def __init__(self, store: Store, units: str = "g") -> None:
        self.store = store
        self.catalogue = catalogue()
        self.lock = RLock()
        self.units = ""
        self.set_units(units)
        self.round: Round | None = None
        self.session: Session | None = None
        self.rows: dict[str, StoredReading] = {}
        self.born = ""

    # Choosing

    def litters(self) -> dict[str, tuple[Dog, ...]]:
        """Return the living dogs of each whelping date, the youngest litter first."""
        groups: dict[str, list[Dog]] = {}
        for dog in self.store.dogs():
            if len(dog.born) == FULL_DATE and not _DIED.search(dog.note):
                groups.setdefault(dog.born, []).append(dog)
        return {born: tuple(groups[born]) for born in sorted(groups, reverse=True)}

    def add_puppy(self, name: str, sex: str, born: str, mark: str) -> Dog:
        """Add a puppy to the records; without a mark it gets the next collar colour."""
        if len(born.strip()) != FULL_DATE:
            raise KitError("a puppy needs its whelping date", "YYYY-MM-DD", repr(born))
        taken = [mark_of(dog) for dog in self.litters().get(born.strip(), ())]
        chosen = _plain(mark) or next_mark(taken)
        return self.store.add_dog(name, sex=sex, born=born, note=f"collar: {chosen}")

    def set_mark(self, dog_id: str, mark: str) -> None:
        """Give a puppy another collar or mark; the record's note keeps it."""
        dog = self.store.find_dog(dog_id)
        rest = _COLLAR.sub("", dog.note).strip("; ,")
        note = "; ".join(filter(None, (f"collar: {_plain(mark)}" if mark.strip() else "", rest)))
        self.store.change_dog(replace(dog, note=note))

    def set_units(self, units: str) -> None:
        """Say what a bare weight means: ``g``, ``kg`` or ``lb`` (lengths then in inches)."""
        if units not in UNITS:
            raise EntryError("no such unit", ", ".join(UNITS), repr(units), "choose one")
        self.units = units

    def begin(self, dog_ids: Sequence[str], measurements: Sequence[str]) -> None:
        """Begin a round with these puppies, in this order; nothing is stored yet."""
        for key in measurements:
            self.catalogue.measurement(key)
        dogs = [self.store.find_dog(dog_id) for dog_id in dog_ids]
        puppies = [RoundPuppy(dog.id, dog.name, mark_of(dog)) for dog in dogs]
        with self.lock:
            self.round = new_round(puppies, measurements)
            self.session, self.rows = None, {}

    def leave(self) -> None:
        """End the round; what was stored stays stored."""
        with self.lock:
            self.round = None

    # Measuring

    def keep(self, turn: Turn) -> StoredReading:
        """Store one entry, durably, and move the round on.

        Raises
        ------
        KitError
            If it cannot be read or stored; then nothing was, and the sentence says so.
        """
        with self.lock:
            going = self._going()
            puppy = going.puppy(turn.cell.puppy)
            definition = self.catalogue.measurement(turn.cell.measurement)
            unit = "" if _names_its_unit(turn.text, definition.kind) else self.bare(definition.kind)
            reading = make_reading(
                self.catalogue, puppy.name, definition.key, turn.text, unit,
                time=turn.time or started_now(), instrument=definition.instrument,
            )  # fmt: skip
            if self.session is None:
                self.session = self.store.start_session(note="litter round")
            identity = turn.identity or new_id()
            row = self.store.store_reading(puppy.identity, self.session.id, reading, identity)
            if row.id not in self.rows:
                self.rows[row.id] = row
                self.round = going.stored(row.id, turn.cell)
            return row

    def bare(self, kind: Kind) -> str:
        """Return what a bare number of this kind means."""
        return UNITS[self.units][kind]

    def skip(self) -> None:
        """Leave this turn out."""
        with self.lock:
            self.round = self._going().skipped()

    def go_to(self, cell: Cell) -> None:
        """Take another puppy or measurement now."""
        with self.lock:
            self.round = self._going().go_to(cell)

    def undo(self) -> str:
        """Take the last step back and say what it was; the record keeps both."""
        with self.lock:
            before, step = self._going().undone()
            if step.reading:
                self.store.withdraw(step.reading)
            self.round = before
            row = self.rows.pop(step.reading, None)
            who = before.puppy(step.cell.puppy).name
            title = self.catalogue.measurement(step.cell.measurement).title
            return f"Taken back: {who}, {title} {row.reading.raw if row else 'skipped'}"

    def _going(self) -> Round:
        if self.round is None:
            raise KitError("no round has begun", do="choose puppies and measurements first")
        return self.round

    # What to look at again

    def asked(self, row: StoredReading) -> str:
        """Word what a person should look at again about a reading just stored; often nothing.

        An alert says to weigh again, then call the vet; a doubt asks for another look.
        """
        dog = self.store.find_dog(row.dog)
        puppy = Puppy(dog.name, date.fromisoformat(dog.born))
        readings = [stored.reading for stored in self.store.readings(dog.id)]
        record = growth_record(readings, [puppy], self.catalogue)
        return " ".join(dict.fromkeys(_about(row, record_age(row, puppy), record)))


def _about(row: StoredReading, age: int, record: GrowthRecord) -> Iterator[str]:
    """Yield the doubts and alerts of one reading's day."""
    key = row.reading.measurement
    day = {f"{key} {row.reading.raw} on ", f" on day {age}:", f" on day {age} stands"}
    for doubt in record.doubts:
        if doubt.measurement == key and any(words in doubt.message for words in day):
            yield f"{doubt.message}."
    for alert in alerts(record):
        if alert.age == age and key == "weight":
            yield alert.text


def record_age(row: StoredReading, puppy: Puppy) -> int:
    """Return the puppy's age in days at a reading."""
    return puppy.age_on(date.fromisoformat(row.reading.time[:FULL_DATE]))


def mark_of(dog: Dog) -> str:
    """Return a puppy's collar or mark, as its note has it."""
    found = _COLLAR.search(dog.note)
    return found[1].strip() if found else ""


def _plain(mark: str) -> str:
    """Return a mark without what separates the parts of a note."""
    return " ".join(re.sub(r"[;,\n]", " ", mark).split())


def _names_its_unit(text: str, kind: Kind) -> bool:
    try:
        parse_entry(text, kind)
    except EntryError:  # whatever is wrong with it is said when it is read with the table's unit
        return False
    return True
