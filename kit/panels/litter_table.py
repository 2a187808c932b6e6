"""A litter on the table: one measurement round the puppies, then the next; each reading stored.

The round itself is kit.growth.round; here it meets the records. A reading is stored and read back
before the round moves on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from threading import RLock

from kit.growth.alerts import alerts
from kit.growth.proportions import estimates_by_day
from kit.growth.puppies import GrowthRecord, growth_record
from kit.growth.round import Cell, Round, RoundPuppy, new_round, next_mark
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import SIDES, make_reading
from kit.quantities.entry import parse_entry
from kit.quantities.errors import EntryError, KitError
from kit.quantities.kinds import Kind
from kit.records.puppies import has_age, labels, mark_of, plain, puppy_of, with_mark
from kit.records.store import Store
from kit.records.values import Dog, Session, StoredReading, new_id, started_now

UNITS = {
    "g": {Kind.MASS: "g", Kind.LENGTH: "cm", Kind.ANGLE: "deg"},
    "kg": {Kind.MASS: "kg", Kind.LENGTH: "cm", Kind.ANGLE: "deg"},
    "lb": {Kind.MASS: "lb", Kind.LENGTH: "in", Kind.ANGLE: "deg"},
}
USUAL = ("weight", "height_at_withers", "body_length_from_prosternum", "chest_girth",
         "head_length")  # fmt: skip
BOTH = "both"


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
        """Return the dogs of each whelping date, the youngest litter first; some may have died."""
        groups: dict[str, list[Dog]] = {}
        for dog in self.store.dogs():
            if has_age(dog):
                groups.setdefault(dog.born, []).append(dog)
        return {born: tuple(groups[born]) for born in sorted(groups, reverse=True)}

    def add_puppy(self, name: str, sex: str, born: str, mark: str) -> Dog:
        """Add a puppy to the records; without a mark it gets the next collar colour."""
        day = _day(born, "a puppy needs its whelping date")
        taken = [mark_of(dog) for dog in self.litters().get(str(day), ())]
        chosen = plain(mark) or next_mark(taken)
        return self.store.add_dog(name, sex=sex, born=str(day), note=with_mark("", chosen))

    def set_mark(self, dog_id: str, mark: str) -> None:
        """Give a puppy another collar or mark; the record's note keeps it."""
        dog = self.store.find_dog(dog_id)
        self.store.change_dog(replace(dog, note=with_mark(dog.note, mark)))

    def change_puppy(self, dog_id: str, name: str, sex: str, born: str, died: str) -> str:
        """Change what is known of a puppy, and say so; `died` is empty while it lives.

        Raises
        ------
        KitError
            If a field cannot be, or the day it died is still to come.
        """
        before = self.store.find_dog(dog_id)
        whelped = _day(born, "a puppy needs its whelping date")
        last = str(_day(died, "the day it died is no date")) if died.strip() else ""
        if last > str(date.today()):  # noqa: DTZ011  (the day at the table)
            raise KitError("the day it died is still to come", "a day up to today", last)
        changed = replace(before, name=name.strip(), sex=sex, born=str(whelped), died=last)
        if changed == before:
            return "Nothing was changed."
        dog = self.store.change_dog(changed)
        return self._death_noted(dog) if last != before.died and last else f"Changed: {dog.name}"

    def _death_noted(self, dog: Dog) -> str:
        later = sum(row.reading.time[:10] > dog.died for row in self.store.readings(dog.id))
        more = " The reading after that day is kept and not used." if later == 1 else ""
        if later > 1:
            more = f" The {later} readings after that day are kept and not used."
        return f"Noted: {dog.name} died on {dog.died}. Its record is kept.{more}"

    def undo_death(self, dog_id: str) -> str:
        """Take back that a puppy died, and say so."""
        dog = self.store.find_dog(dog_id)
        if not dog.died:
            raise KitError(f"no day of death is noted of {dog.name}")
        self.store.change_dog(replace(dog, died=""))
        return f"Taken back: {dog.name} lives; the day {dog.died} is no longer noted."

    def set_units(self, units: str) -> None:
        """Say what a bare weight means: ``g``, ``kg`` or ``lb`` (lengths then in inches)."""
        if units not in UNITS:
            raise EntryError("no such unit", ", ".join(UNITS), repr(units), "choose one")
        self.units = units

    def begin(self, dog_ids: Sequence[str], measurements: Sequence[str], sides: str = BOTH) -> None:
        """Begin a round with these puppies, in this order; nothing is stored yet.

        Parameters
        ----------
        sides : str
            ``both``, ``left`` or ``right``: where to take what a dog has twice.
        """
        if sides not in (BOTH, *SIDES):
            raise EntryError("no such side", f"{BOTH}, {', '.join(SIDES)}", repr(sides))
        taken = SIDES if sides == BOTH else (sides,)
        twice = {key: taken for key in measurements if self.catalogue.measurement(key).sided}
        dogs = [self.store.find_dog(dog_id) for dog_id in dog_ids]
        puppies = [RoundPuppy(dog.id, dog.name, mark_of(dog)) for dog in dogs]
        with self.lock:
            self.round = new_round(puppies, measurements, twice)
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
                self.catalogue, puppy.name, definition.key, turn.text, unit, turn.cell.side,
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
            side = f", {step.cell.side}" if step.cell.side else ""
            return f"Taken back: {who}, {title}{side} {row.reading.raw if row else 'skipped'}"

    def _going(self) -> Round:
        if self.round is None:
            raise KitError("no round has begun", do="choose puppies and measurements first")
        return self.round

    # What to look at again

    def asked(self, row: StoredReading) -> str:
        """Word what a person should look at again about a reading just stored; often nothing.

        An alert says to weigh again, then call the vet; a doubt asks for another look. The
        littermates are looked at too: a puppy may be left behind without losing weight.
        """
        litter = self.litters()[self.store.find_dog(row.dog).born]
        named = labels(litter)
        readings = [
            replace(stored.reading, dog=named[dog.id])
            for dog in litter
            for stored in self.store.readings(dog.id)
            if stored.reading.measurement == row.reading.measurement
        ]
        puppies = [puppy_of(dog, named[dog.id]) for dog in litter]
        record = growth_record(readings, puppies, self.catalogue)
        return " ".join(dict.fromkeys(_about(named[row.dog], row, record)))


def _about(name: str, row: StoredReading, record: GrowthRecord) -> Iterator[str]:
    """Yield the doubts and alerts of one reading's day."""
    key = row.reading.measurement
    age = record.puppies[name].age_on(date.fromisoformat(row.reading.time[:10]))
    day = {f"{key} {row.reading.raw} on ", f" on day {age}:", f" on day {age} stands"}
    for doubt in record.doubts:
        if doubt.dog == name and any(words in doubt.message for words in day):
            yield f"{doubt.message}."
    sides = estimates_by_day(record, catalogue()) if row.reading.side else None
    for alert in alerts(record, None, sides):
        if (alert.dog, alert.age) == (name, age):
            yield alert.text


def _day(text: str, what: str) -> date:
    """Read a whole date, or raise KitError."""
    try:
        return date.fromisoformat(text.strip())
    except ValueError as fault:
        raise KitError(what, "YYYY-MM-DD", repr(text)) from fault


def _names_its_unit(text: str, kind: Kind) -> bool:
    try:
        parse_entry(text, kind)
    except EntryError:  # whatever is wrong with it is said when it is read with the table's unit
        return False
    return True
