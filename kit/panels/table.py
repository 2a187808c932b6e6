"""At the grooming table: what happens to readings, each stored before it is answered."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from kit.panels.questions import CONFIRMED
from kit.panels.sitting import WRITTEN_BY, Sitting
from kit.panels.state import Step, Target, following, readings_of, taken_now
from kit.protocol.catalogue import catalogue
from kit.protocol.readings import Reading, make_reading, read_value
from kit.quantities.entry import parse_entry
from kit.quantities.errors import EntryError, KitError
from kit.quantities.kinds import Kind
from kit.records.values import StoredReading, new_id, started_now

_BARE_UNITS = {
    "cm": {Kind.LENGTH: "cm", Kind.ANGLE: "deg", Kind.MASS: "kg"},
    "in": {Kind.LENGTH: "in", Kind.ANGLE: "deg", Kind.MASS: "lb"},
}


@dataclass(frozen=True)
class Entry:
    """One entry as it was typed.

    Attributes
    ----------
    text : str
    target : Target
    identity : str
        A UUID chosen where it was typed: the same entry sent twice is stored once.
    dog : str
        Identity of the dog it was typed for; empty for the one on the table.
    time : str
        ISO 8601, when it was typed; empty for now.
    instead : str
        Identity of the reading it replaces; empty for a further reading.
    stay : bool
        Stay at this measurement for a repeat.
    """

    text: str
    target: Target
    identity: str = ""
    dog: str = ""
    time: str = ""
    instead: str = ""
    stay: bool = False


@dataclass(frozen=True)
class Answer:
    """What became of an entry.

    Attributes
    ----------
    stored : StoredReading
        The row as read back from the records.
    echo : str
        The entry as understood.
    question : str
        Empty, or what a person should look at again; it is stored all the same.
    """

    stored: StoredReading
    echo: str
    question: str


class Table(Sitting):
    """The sitting with its readings: enter, confirm, note, undo, redo."""

    def enter(self, entry: Entry) -> Answer:
        """Store one entry, durably, and say how it was understood.

        Raises
        ------
        KitError
            If it cannot be read or stored; then nothing was, and the sentence says so.
        """
        with self.lock:
            row = self.keep(entry)
            asked = next((q.text for q in self.questions if q.reading == row.id), "")
        return Answer(row, echo(row.reading), asked)

    def keep(self, entry: Entry) -> StoredReading:
        """Store one entry without working out what follows from it; see `enter`."""
        with self.lock:
            dog = self._dog_for(entry)
            reading = self._reading(entry, dog)
            before = next((row for row in self.state.rows if row.id == entry.instead), None)
            row = self._store(entry, dog, reading)
            self._take_in(row)
            step = Step(row.id, before)
            known = any(done.reading == row.id for done in self.state.done)
            done = self.state.done if known else (*self.state.done, step)
            self.state = replace(self.state, done=done, undone=(), at=self._after(entry))
            return row

    def _dog_for(self, entry: Entry) -> str:
        dog = self.state.dog
        if dog is None:
            raise KitError("no dog is on the table", do="choose or add a dog, then enter it again")
        if entry.dog and entry.dog != dog.id:
            raise KitError("this was typed for another dog", do="put that dog on the table again")
        return dog.id

    def _reading(self, entry: Entry, dog: str) -> Reading:
        """Read the entry; a bare number takes the unit set at this table."""
        definition = self.catalogue.measurement(entry.target.measurement)
        unit = _BARE_UNITS[self.state.units][definition.kind]
        if _names_its_unit(entry.text, definition.kind):
            unit = ""
        state = self.state
        writer = state.writer if state.writer != state.measurer else ""
        return make_reading(
            self.catalogue, dog, definition.key, entry.text, unit, entry.target.side,
            stand=state.stand, measurer=state.measurer, time=entry.time or started_now(),
            instrument=self.instrument_for(definition.key),
            note=WRITTEN_BY + writer if writer else "",
        )  # fmt: skip

    def _store(self, entry: Entry, dog: str, reading: Reading) -> StoredReading:
        if entry.instead:
            return self._correct(entry.instead, reading)
        if self.state.session is None:
            self.state = replace(self.state, session=self.store.start_session())
            self._look_up()
        session = self.state.session
        assert session is not None  # noqa: S101  (started above)
        return self.store.store_reading(dog, session.id, reading, entry.identity or new_id())

    def _correct(self, instead: str, reading: Reading) -> StoredReading:
        """Supersede a reading in its own stand; the same correction sent twice is stored once."""
        old = next((row for row in self.state.rows if row.id == instead), None)
        if old is None:
            typed = (reading.raw, reading.time)
            same = [r for r in self.state.rows if (r.reading.raw, r.reading.time) == typed]
            if same:
                return same[0]
            raise KitError("that reading was changed meanwhile", do="look at it, then enter again")
        return self.store.correct(instead, replace(reading, stand=old.reading.stand))

    def _after(self, entry: Entry) -> Target:
        full = taken_now(self.state, entry.target) >= self.state.repeats
        if entry.stay or not full:
            return entry.target
        return following(self.state, self.catalogue, entry.target)

    def confirm(self, reading_id: str) -> str:
        """Stand by a questioned reading and say so; the record keeps that it was confirmed."""
        with self.lock:
            reading = self._row(reading_id).reading
            self.add_note(reading_id, CONFIRMED)
            title = self.title(reading.measurement)
            return f"Confirmed: {title[:1].upper()}{title[1:]} {echo(reading)}"

    def add_note(self, reading_id: str, text: str) -> str:
        """Add a note to a reading, or to what replaced it a moment ago, and say to which."""
        with self.lock:
            after = (row for row in self.state.rows if row.supersedes == reading_id)
            row = next(after, None) or self._row(reading_id)
            words = " ".join(text.replace(";", ",").split())
            if not words:
                raise KitError("the note is empty", do="write a note")
            note = "; ".join(filter(None, (row.reading.note, words)))
            new = self.store.correct(row.id, replace(row.reading, note=note))
            self._changed()
            step = Step(new.id, row)
            self.state = replace(self.state, done=(*self.state.done, step), undone=())
            return f"Noted on {self.title(row.reading.measurement)} {row.reading.raw}: {words}"

    def _row(self, reading_id: str) -> StoredReading:
        for row in self.state.rows:
            if row.id == reading_id:
                return row
        raise KitError("that reading was changed meanwhile", do="look at it and try again")

    def undo(self) -> str:
        """Take the latest change back and say what it was; the record keeps both."""
        with self.lock:
            step = self._latest_step()
            current = self._row(step.reading)
            if step.before is None:
                gone = self.store.withdraw(step.reading)
            else:
                gone = self.store.correct(step.reading, step.before.reading)
            self._changed()
            self.state = replace(
                self.state,
                done=_renamed(self.state.done[:-1], step, gone.id),
                undone=(*self.state.undone, Step(gone.id, current)),
                at=Target(current.reading.measurement, current.reading.side),
            )
            noted = step.before is not None and step.before.reading.raw == current.reading.raw
            what = "what was noted on " if noted else ""
            named = f"{self.title(current.reading.measurement)} {current.reading.raw}"
            return f"Taken back: {what}{named}"

    def _latest_step(self) -> Step:
        """Return the latest change made here, or on a reopened table the newest reading."""
        if self.state.done:
            return self.state.done[-1]
        if not self.state.rows:
            raise KitError("there is nothing to take back", do="enter a reading first")
        return Step(max(self.state.rows, key=lambda row: row.stored_at).id)

    def redo(self) -> str:
        """Bring back what was taken back last."""
        with self.lock:
            if not self.state.undone:
                raise KitError("there is nothing to bring back", do="take something back first")
            step = self.state.undone[-1]
            assert step.before is not None  # noqa: S101  (undo always names it)
            back = self._bring_back(step, step.before)
            self._changed()
            self.state = replace(
                self.state,
                done=(*self.state.done, back),
                undone=_renamed(self.state.undone[:-1], step, back.reading),
            )
            return f"Brought back: {self.title(step.before.reading.measurement)}"

    def _bring_back(self, step: Step, wanted: StoredReading) -> Step:
        if all(row.id != step.reading for row in self.state.rows):
            return Step(self.store.restore(step.reading).id)
        return Step(self.store.correct(step.reading, wanted.reading).id, self._row(step.reading))

    def _take_in(self, row: StoredReading) -> None:
        """Take a row just stored into the state; only a correction needs the rest read again.

        The marker stays as it was, so that `refresh` also sees what others stored meanwhile.
        """
        if row.supersedes:
            self._changed()
        elif all(known.id != row.id for known in self.state.rows):
            self.state = replace(self.state, rows=(*self.state.rows, row))

    def _changed(self) -> None:
        self._load()
        self._marker = self.store.change_marker()

    def title(self, measurement: str) -> str:
        """Return the trade name of a measurement."""
        return self.catalogue.measurement(measurement).title

    def repeats_of(self, target: Target) -> tuple[StoredReading, ...]:
        """Return the repeats of one target, over all stands."""
        return readings_of(self.state, target)


@lru_cache(maxsize=4096)
def echo(reading: Reading) -> str:
    """Write a reading as understood: what was written, and its value where that differs."""
    definition = catalogue().measurement(reading.measurement)
    value = read_value(reading.raw, reading.unit, definition).echo
    unit = "°" if reading.unit == "deg" else f" {reading.unit}".rstrip()
    written = " ".join(reading.raw.split()) + unit
    return value if written == value else f"{written} = {value}"


def bare_unit(units: str, kind: Kind) -> str:
    """Return what a bare number of this kind means at a table set to ``cm`` or ``in``."""
    return _BARE_UNITS[units][kind]


def _names_its_unit(text: str, kind: Kind) -> bool:
    try:
        parse_entry(text, kind)
    except EntryError:  # whatever is wrong with it is said when it is read with the table's unit
        return False
    return True


def _renamed(steps: tuple[Step, ...], changed: Step, now: str) -> tuple[Step, ...]:
    """Let other steps on the same reading point at the row that stands for it now."""
    before = changed.before.id if changed.before else ""
    return tuple(replace(step, reading=now) if step.reading == before else step
                 for step in steps)  # fmt: skip
