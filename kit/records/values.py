"""What the records hold, as plain frozen values, and what each field may be."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from uuid import UUID, uuid4

from kit.protocol.catalogue import Catalogue
from kit.protocol.readings import SIDES, Reading, read_value
from kit.records.errors import RecordError

MAXIMUM_TEXT = 10_000
SEXES = ("", "dog", "bitch")
# ISO 11784: the identification code has 38 bits, the country or maker code ten bits, of which
# ISO 3166 and the makers' codes use three decimal digits.
TRANSPONDER_DIGITS = 15
LARGEST_IDENTIFICATION = 2**38 - 1
_MOMENT = re.compile(
    r"\d{4}-\d\d-\d\d(T\d\d:\d\d(:\d\d([.,]\d{1,6})?)?(Z|[+-]\d\d(:?\d\d)?)?)?", re.ASCII
)
_KNOWN_DATE = re.compile(r"\d{4}(-\d\d(-\d\d)?)?", re.ASCII)


@dataclass(frozen=True)
class Dog:
    """A dog as the records know it; who owns it is kept apart.

    Attributes
    ----------
    born : str
        ISO 8601 date, as exactly as known: ``2021``, ``2021-05`` or ``2021-05-17``; or empty.
    transponder : str
        Fifteen digits of the shape of ISO 11784, or empty.
    died : str
        ISO 8601 date, as exactly as known, not before `born`; empty for a dog that lives, as far
        as is known.
    """

    id: str
    name: str
    sex: str = ""
    born: str = ""
    breed: str = ""
    transponder: str = ""
    note: str = ""
    died: str = ""


@dataclass(frozen=True)
class Session:
    """One sitting of measuring.

    Attributes
    ----------
    started : str
        ISO 8601 date, or date and time.
    """

    id: str
    started: str
    place: str = ""
    note: str = ""


@dataclass(frozen=True)
class StoredReading:
    """One row of the record.

    Attributes
    ----------
    reading : Reading
        `reading.dog` is the dog's name as it stands now; `dog` is its identity.
    supersedes : str
        Identity of the row this one corrects, withdraws or restores; empty for a first reading.
    withdrawn : bool
        True on a row that takes its predecessor back.
    stored_at : str
        ISO 8601, UTC, to the microsecond.
    """

    id: str
    dog: str
    session: str
    reading: Reading
    supersedes: str
    withdrawn: bool
    stored_at: str

    def __hash__(self) -> int:
        """Quick, because a panel looks hundreds of rows up after every entry."""
        return hash(self.id)


@dataclass(frozen=True)
class Owner:
    """Who owns a dog: personal data, which leaves the records only when asked."""

    id: str
    name: str
    address: str = ""
    contact: str = ""


@dataclass(frozen=True)
class Ownership:
    """That a dog is or was somebody's; `since` is an ISO 8601 date or empty."""

    dog: str
    owner: str
    since: str = ""


@dataclass(frozen=True)
class SnapshotValue:
    """One derived figure as it was on the day of the snapshot.

    Attributes
    ----------
    value, uncertainty : float
        In `unit`; the uncertainty is the standard one.
    finding : str
        The finding in words or as its key; empty where no clause was held against it.
    """

    trait: str
    value: float
    uncertainty: float
    unit: str
    finding: str = ""


@dataclass(frozen=True)
class Snapshot:
    """Derived figures of one dog as they stood on one day.

    Attributes
    ----------
    standard, standard_version : str
        Key and version of the standard held against; empty where none was.
    readings_hash : str
        SHA-256 over the readings that were current then, so that a later change can be seen.
    content_hash : str
        SHA-256 over the figures as stored.
    """

    id: str
    dog: str
    taken_at: str
    kit_version: str
    standard: str
    standard_version: str
    readings_hash: str
    content_hash: str
    values: tuple[SnapshotValue, ...] = field(default=())


def new_id() -> str:
    """Return a fresh identity, unlike any made at another station."""
    return str(uuid4())


def now() -> str:
    """Return the moment in UTC, ISO 8601 to the microsecond; such texts sort by time."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def started_now() -> str:
    """Return the local time with its offset, ISO 8601 to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def check_id(text: str) -> str:
    """Return an identity in its one spelling, or raise RecordError."""
    try:
        return str(UUID(text.strip()))
    except ValueError as fault:
        raise RecordError("not an identity", "a UUID", repr(text[:60])) from fault


def check_text(text: str, name: str, *, required: bool = False) -> str:
    """Return the text as it is, or raise RecordError if it cannot be kept exactly."""
    if required and not text.strip():
        raise RecordError(f"the {name} is missing", f"a {name}", "nothing", "fill it in")
    if len(text) > MAXIMUM_TEXT:
        raise RecordError(f"the {name} is too long", f"at most {MAXIMUM_TEXT} characters",
                          f"{len(text)}", "shorten it")  # fmt: skip
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        raise RecordError(f"the {name} holds a character that is no text", do="write it again")
    return text


def check_transponder(text: str) -> str:
    """Return the fifteen digits of a transponder number, or empty for none.

    Spaces, points and hyphens between the digits are dropped.

    Raises
    ------
    RecordError
        Unless it has the shape of ISO 11784: three digits of country or maker (001 to 999), then
        twelve that fit 38 bits.
    """
    digits = re.sub(r"[\s.-]", "", text)
    if not digits:
        return ""
    needed = "15 digits: 001 to 999, then twelve up to 274877906943 (ISO 11784)"
    if len(digits) != TRANSPONDER_DIGITS or not (digits.isascii() and digits.isdigit()):
        given = f"{text!r} ({len(digits)} characters)"
        raise RecordError("not a transponder number", needed, given, "read it again")
    if digits.startswith("000") or int(digits[3:]) > LARGEST_IDENTIFICATION:
        raise RecordError(
            "no transponder can have this number", needed, repr(text), "read it again"
        )
    return digits


def check_birth(text: str) -> str:
    """Return an ISO 8601 date of birth (year, month or day known), or raise RecordError."""
    return _check_known_date(text, "date of birth")


def check_since(text: str) -> str:
    """Return the ISO 8601 date since when a dog is somebody's, or raise RecordError."""
    return _check_known_date(text, "date of the change of owner")


def check_death(text: str, born: str) -> str:
    """Return an ISO 8601 date of death, as exactly as known, or raise RecordError.

    Parameters
    ----------
    born : str
        The date of birth as `check_birth` returns it; the death cannot come before it.
    """
    died = _check_known_date(text, "date of death")
    shorter = min(len(born), len(died))
    if died[:shorter] < born[:shorter]:
        raise RecordError("a dog cannot have died before it was born", f"{born} or later", died,
                          "look at both dates")  # fmt: skip
    return died


def _check_known_date(text: str, name: str) -> str:
    written = text.strip()
    if not written:
        return ""
    known = _KNOWN_DATE.fullmatch(written)
    try:
        if known is None:
            raise ValueError
        date.fromisoformat((written + "-01-01")[:10])
    except ValueError as fault:
        needed = "an ISO 8601 date such as 2021-05-17, 2021-05 or 2021"
        raise RecordError(f"the {name} is no date", needed, repr(text)) from fault
    return written


def check_moment(text: str, name: str) -> str:
    """Return an ISO 8601 date, or date and time, as it is; empty is none. Else RecordError."""
    if not text:
        return ""
    try:
        if _MOMENT.fullmatch(text) is None:
            raise ValueError
        datetime.fromisoformat(text)
    except ValueError as fault:
        needed = "ISO 8601 such as 2025-05-17 or 2025-05-17T09:30"
        raise RecordError(f"the {name} is no date or time", needed, repr(text[:60])) from fault
    return text


def check_dog(dog: Dog) -> Dog:
    """Return the dog with its number and dates in their one spelling, or raise RecordError."""
    if dog.sex not in SEXES:
        raise RecordError("unknown sex", "dog, bitch or nothing", repr(dog.sex))
    born = check_birth(dog.born)
    return Dog(
        check_id(dog.id),
        check_text(dog.name, "name", required=True),
        dog.sex,
        born,
        check_text(dog.breed, "breed"),
        check_transponder(dog.transponder),
        check_text(dog.note, "note"),
        check_death(dog.died, born),
    )


def check_owner(owner: Owner) -> Owner:
    """Return the owner as it is, or raise RecordError."""
    check_text(owner.name, "name", required=True)
    check_text(owner.address, "address")
    check_text(owner.contact, "contact")
    return replace(owner, id=check_id(owner.id))


def check_session(session: Session) -> Session:
    """Return the session as it is, or raise RecordError."""
    check_id(session.id)
    check_text(session.started, "start of the session", required=True)
    check_moment(session.started, "start of the session")
    check_text(session.place, "place")
    check_text(session.note, "note")
    return session


def check_reading(reading: Reading, catalogue: Catalogue) -> Reading:
    """Return the reading as it is.

    The value must be what the raw text says: the text is the record, the value follows from it.

    Raises
    ------
    KitError
        If the measurement is unknown, the raw text missing or unlike the value, or a field
        cannot be kept.
    """
    definition = catalogue.measurement(reading.measurement)
    for name in ("raw", "unit", "stand", "measurer", "instrument", "note"):
        check_text(getattr(reading, name), name, required=name == "raw")
    check_moment(reading.time, "time of the reading")
    if reading.side not in ((*SIDES,) if definition.sided else ("",)):
        needed = "left or right" if definition.sided else "no side"
        raise RecordError(f"{definition.title}: wrong side", needed, repr(reading.side))
    read = read_value(reading.raw, reading.unit, definition).value
    if read != reading.value:
        raise RecordError(f"{definition.title}: the value is not what was written",
                          f"{read!r} {definition.kind.unit}", f"{reading.value!r}")  # fmt: skip
    return reading
