"""Who is on the table, with what and in whose hands: all but the readings themselves."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from threading import RLock
from types import MappingProxyType

from kit.panels.pictures import ANGLES
from kit.panels.questions import Question, questions
from kit.panels.state import UNITS, TableState, Target, following
from kit.protocol.catalogue import Catalogue, catalogue
from kit.protocol.readings import SIDES
from kit.quantities.errors import EntryError, KitError
from kit.records.store import Store
from kit.records.values import Dog, Session, StoredReading
from kit.standards.assessment import Assessment, assess
from kit.standards.findings import Scope, asked_of
from kit.standards.standard import load_standard

STANDARD = "common-practice-terrier"
WRITTEN_BY = "written by "
MOST_REPEATS = 9
DAYS_PER_MONTH = 365.25 / 12


class Sitting:
    """One dog on the table over one store; usable from any thread.

    Parameters
    ----------
    store : Store
    standard : str
        Name of a shipped standard, or the path of a file.
    units : str
        What a bare number means: ``cm`` (kg) or ``in`` (lb).

    Attributes
    ----------
    state : TableState
    lock : RLock
        Held by every action; hold it to read several things of one moment.
    """

    def __init__(self, store: Store, standard: str = STANDARD, units: str = "cm") -> None:
        self.store = store
        self.catalogue: Catalogue = catalogue()
        self.lock = RLock()
        first = next(iter(self.catalogue.measurements))
        self.state = TableState(load_standard(standard), Target(first))
        self.set_units(units)
        self._assessed: tuple[object, Assessment] | None = None
        self._asked: tuple[object, tuple[Question, ...]] | None = None
        self._marker = ""
        self.dogs: tuple[Dog, ...] = ()
        self.sessions: tuple[Session, ...] = ()
        self.reopen()

    # What follows from the state

    @property
    def assessment(self) -> Assessment:
        """The dog as the readings make it out now, in the traits that are shown."""
        with self.lock:
            state = self.state
            key = (state.rows, state.standard, state.dog, state.session)
            if self._assessed is None or self._assessed[0] != key:
                readings = [row.reading for row in state.rows]
                asked = asked_of(state.standard) | ANGLES
                made = assess(readings, self.catalogue, state.standard, self._scope(), asked=asked)
                self._assessed = (key, made)
            return self._assessed[1]

    @property
    def questions(self) -> tuple[Question, ...]:
        """Every open question."""
        with self.lock:
            if self._asked is None or self._asked[0] is not self.state.rows:
                asked = questions(self.state.rows, self.assessment, self.catalogue)
                self._asked = (self.state.rows, asked)
            return self._asked[1]

    def _scope(self) -> Scope:
        dog, session = self.state.dog, self.state.session
        if dog is None:
            return Scope()
        return Scope(dog.sex, _age_in_months(dog.born, session))

    # Whom and when

    def reopen(self) -> None:
        """Take up today's session where it was left: its last dog, stand, hands and place."""
        with self.lock:
            self._look_up()
            today = _latest_of_today(self.sessions)
            rows = self.store.readings(session_id=today.id) if today else ()
            self.state = replace(self.state, session=today)
            if rows:
                self.choose_dog(max(rows, key=lambda row: row.stored_at).dog)
            self._marker = self.store.change_marker()

    def _look_up(self) -> None:
        """Read again who is in the records; asked for only where it may have changed."""
        self.dogs, self.sessions = self.store.dogs(), self.store.sessions()

    def choose_dog(self, dog_id: str) -> None:
        """Put a dog on the table; it is taken up where this session left it."""
        with self.lock:
            self._look_up()
            dog = self.store.find_dog(dog_id)
            fresh = replace(self.state, dog=dog, stand="1", skipped=frozenset(), done=(), undone=())
            self.state = fresh
            self._load()
            self._take_up()

    def add_dog(self, name: str, sex: str = "", born: str = "", transponder: str = "") -> None:
        """Add a dog to the records and put it on the table."""
        with self.lock:
            born = _as_iso(born)
            dog = self.store.add_dog(name, sex=sex, born=born, transponder=transponder)
            self.choose_dog(dog.id)

    def change_dog(self, dog_id: str, name: str, sex: str = "", born: str = "",
                   transponder: str = "") -> str:  # fmt: skip
        """Put right what is known of the dog on the table; its readings stay as they are."""
        with self.lock:
            if self.state.dog is None or self.state.dog.id != dog_id:
                raise KitError("these particulars are of another dog than the one on the table",
                               do="put that dog on the table again")  # fmt: skip
            told = {"name": name.strip(), "sex": sex, "born": _as_iso(born)}
            dog = replace(self.state.dog, **told, transponder=transponder)
            self.state = replace(self.state, dog=self.store.change_dog(dog))
            self._look_up()
            self._load()
            return f"Put right: {dog.name}"

    def choose_session(self, session_id: str) -> None:
        """Take up another session; an empty identity begins a new one with the next reading."""
        with self.lock:
            self._look_up()
            known = {session.id: session for session in self.sessions}
            if session_id and session_id not in known:
                raise KitError("there is no such session in the records", do="choose another")
            self.state = replace(self.state, session=known.get(session_id), stand="1")
            self._load()
            self._take_up()

    def _load(self) -> None:
        state = self.state
        rows: tuple[StoredReading, ...] = ()
        if state.dog is not None and state.session is not None:
            rows = self.store.readings(state.dog.id, state.session.id)
        self.state = replace(state, rows=rows)

    def _take_up(self) -> None:
        """Go on after the newest reading: its stand, its side, its hands."""
        first = Target(next(iter(self.catalogue.measurements)))
        self.state = replace(self.state, at=first)
        if not self.state.rows:
            return
        newest = max(self.state.rows, key=lambda row: row.stored_at).reading
        written_by = re.search(WRITTEN_BY + r"([^;]+)", newest.note)
        self.state = replace(
            self.state,
            stand=newest.stand,
            side=newest.side or self.state.side,
            measurer=newest.measurer or self.state.measurer,
            writer=written_by[1] if written_by else self.state.writer,
        )
        here = Target(newest.measurement, newest.side)
        self.state = replace(self.state, at=following(self.state, self.catalogue, here))

    def refresh(self) -> bool:
        """Take in what another panel or program stored; return whether there was anything."""
        with self.lock:
            marker = self.store.change_marker()
            if marker == self._marker:
                return False
            self._marker = marker
            before, people = self.state, (self.dogs, self.sessions)
            self._look_up()
            if self.state.dog is not None:
                self.state = replace(self.state, dog=self.store.find_dog(self.state.dog.id))
            self._load()
            if self.state != before or (self.dogs, self.sessions) != people:
                return True
            # Only this table wrote: what follows from these very rows is worked out already.
            self.state = before
            return False

    # Settings

    def choose_standard(self, name: str) -> None:
        """Hold the dog against another standard."""
        with self.lock:
            self.state = replace(self.state, standard=load_standard(name))

    def set_units(self, units: str) -> None:
        """Say what a bare number means: ``cm`` or ``in``."""
        if units not in UNITS:
            raise EntryError("no such unit", "cm or in", repr(units), "choose one")
        with self.lock:
            self.state = replace(self.state, units=units)

    def set_hands(self, measurer: str, writer: str) -> None:
        """Remember who measures and who writes."""
        with self.lock:
            self.state = replace(self.state, measurer=_plain(measurer), writer=_plain(writer))

    def set_instrument(self, measurement: str, instrument: str) -> None:
        """Take another instrument for everything that is usually taken with the same one."""
        usual = self.catalogue.measurement(measurement).instrument
        kinds = self.catalogue.instruments
        if instrument not in kinds or kinds[instrument].kind is not kinds[usual].kind:
            raise KitError("no such instrument", f"one for a {kinds[usual].kind.value}", instrument)
        with self.lock:
            chosen = {**self.state.instruments, usual: instrument}
            self.state = replace(self.state, instruments=MappingProxyType(chosen))

    def instrument_for(self, measurement: str) -> str:
        """Return the instrument a measurement is taken with now."""
        usual = self.catalogue.measurement(measurement).instrument
        return self.state.instruments.get(usual, usual)

    def set_repeats(self, count: int) -> None:
        """Say how many readings of each measurement are wanted in one stand."""
        if not 1 <= count <= MOST_REPEATS:
            raise KitError("so many repeats make no sense", f"1 to {MOST_REPEATS}", str(count))
        with self.lock:
            self.state = replace(self.state, repeats=count)

    def stand_anew(self) -> None:
        """Note that the dog was stood up anew: further readings belong to a new stand."""
        with self.lock:
            numbers = [int(row.reading.stand) for row in self.state.rows
                       if row.reading.stand.isdigit()]  # fmt: skip
            stand = str(max(numbers, default=0) + 1)
            first = Target(next(iter(self.catalogue.measurements)))
            self.state = replace(self.state, stand=stand, skipped=frozenset(), at=first)

    def choose_side(self, side: str) -> None:
        """Take sided measurements on this side of the dog from now on."""
        if side not in SIDES:
            raise KitError("no such side", "left or right", repr(side), "choose one")
        with self.lock:
            at = self.state.at
            turned = Target(at.measurement, side if at.side else "")
            self.state = replace(self.state, side=side, at=turned)

    # Moving

    def go_to(self, target: Target) -> None:
        """Go to any measurement."""
        self.catalogue.measurement(target.measurement)
        with self.lock:
            self.state = replace(self.state, at=target)

    def skip(self, target: Target) -> None:
        """Leave a measurement out in this stand and go on."""
        self.go_to(target)
        with self.lock:
            self.state = replace(self.state, skipped=self.state.skipped | {target})
            at = following(self.state, self.catalogue, target)
            self.state = replace(self.state, at=at)


def _as_iso(written: str) -> str:
    """Turn 17.5.2023 into 2023-05-17; whatever else was written stays as it is."""
    found = re.fullmatch(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", written.strip())
    return f"{found[3]}-{int(found[2]):02}-{int(found[1]):02}" if found else written


def _plain(name: str) -> str:
    """Return a name without what separates the parts of a note."""
    return " ".join(name.replace(";", ",").split())


def _latest_of_today(sessions: Sequence[Session]) -> Session | None:
    today = datetime.now().astimezone().date().isoformat()
    return next((one for one in reversed(sessions) if one.started.startswith(today)), None)


def _age_in_months(born: str, session: Session | None) -> float | None:
    """Return the age on the day of the session, as exactly as the date of birth is known."""
    if len(born) < len("2021-05"):
        return None
    birth = date.fromisoformat((born + "-15")[:10])
    now = datetime.now().astimezone().date()
    day = date.fromisoformat(session.started[:10]) if session else now
    return max(0.0, (day - birth).days / DAYS_PER_MONTH)
