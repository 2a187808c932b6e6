"""Rows of dogs, sessions and owners; every function works inside a caller's transaction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, fields

from sqlalchemy import Connection, Table, func, insert, select, update

from kit.records.errors import RecordError
from kit.records.schema import dogs, owners, ownership, sessions
from kit.records.values import Dog, Owner, Ownership, Session, check_transponder, now

_DOG = [dogs.c[field.name] for field in fields(Dog)]
_SESSION = [sessions.c[field.name] for field in fields(Session)]
_OWNER = [owners.c[field.name] for field in fields(Owner)]
_SHOWN = 5


def all_dogs(connection: Connection) -> list[Dog]:
    """Return every dog, by name."""
    found = [Dog(*row) for row in connection.execute(select(*_DOG).order_by(dogs.c.number))]
    return sorted(found, key=lambda dog: dog.name.casefold())


def all_sessions(connection: Connection) -> list[Session]:
    """Return every session in the order it was taken in."""
    return [Session(*row) for row in connection.execute(select(*_SESSION).order_by("number"))]


def dog_of(connection: Connection, identity: str) -> Dog:
    """Return one dog; an unknown identity raises RecordError."""
    row = connection.execute(select(*_DOG).where(dogs.c.id == identity)).first()
    if row is None:
        raise RecordError("there is no such dog in the records", "a stored dog", identity,
                          "add the dog first")  # fmt: skip
    return Dog(*row)


def check_session_known(connection: Connection, identity: str) -> None:
    """Raise RecordError unless the session is stored."""
    if connection.scalar(select(sessions.c.id).where(sessions.c.id == identity)) is None:
        raise RecordError("there is no such session in the records", "a started session",
                          identity, "start a session first")  # fmt: skip


def insert_dog(connection: Connection, dog: Dog) -> None:
    """Add a dog."""
    connection.execute(insert(dogs).values(**asdict(dog), changed_at=now()))


def update_dog(connection: Connection, dog: Dog) -> None:
    """Change what is known of a dog; it must be stored."""
    dog_of(connection, dog.id)
    check_number_free(connection, dog)
    statement = update(dogs).where(dogs.c.id == dog.id)
    connection.execute(statement.values(**asdict(dog), changed_at=now()))


def other_carrier(connection: Connection, dog: Dog) -> str:
    """Return the name of another dog that carries this dog's transponder number, or nothing."""
    if not dog.transponder:
        return ""
    query = select(dogs.c.name).where(dogs.c.transponder == dog.transponder, dogs.c.id != dog.id)
    return connection.scalar(query) or ""


def check_number_free(connection: Connection, dog: Dog) -> None:
    """Raise RecordError if another dog carries this dog's transponder number."""
    other = other_carrier(connection, dog)
    if other:
        raise RecordError(f"another dog ({other}) carries this transponder number",
                          "a number of its own", dog.transponder, "read it again")  # fmt: skip


def insert_session(connection: Connection, session: Session) -> None:
    """Add a session."""
    connection.execute(insert(sessions).values(**asdict(session)))


def match_dogs(found: Iterable[Dog], wanted: str) -> list[Dog]:
    """Return the dogs an identity, transponder number or name may mean; names ignore case."""
    text = wanted.strip()
    digits = _number_or_nothing(text)
    dogs_known = list(found)
    exact = [dog for dog in dogs_known if dog.id == text.lower()]
    exact = exact or [dog for dog in dogs_known if digits and dog.transponder == digits]
    return exact or [dog for dog in dogs_known if dog.name.strip().casefold() == text.casefold()]


def _number_or_nothing(text: str) -> str:
    try:
        return check_transponder(text)
    except RecordError:  # a name, then
        return ""


def one_dog(matches: Sequence[Dog], known: Sequence[Dog], wanted: str) -> Dog:
    """Return the only match; none or several raise RecordError."""
    if len(matches) == 1:
        return matches[0]
    if matches:
        numbers = ", ".join(dog.transponder or dog.id for dog in matches)
        raise RecordError(f"{len(matches)} dogs are called '{wanted}'", "one dog", numbers,
                          "give the transponder number or identity")  # fmt: skip
    names = ", ".join(dog.name for dog in known[:_SHOWN])
    more = f" and {len(known) - _SHOWN} more" if len(known) > _SHOWN else ""
    needed = names + more if names else "a stored dog (there is none yet)"
    raise RecordError(f"no dog called '{wanted}' is in the records", needed, wanted)


def insert_owner(connection: Connection, owner: Owner) -> None:
    """Add an owner."""
    connection.execute(insert(owners).values(**asdict(owner)))


def insert_ownership(connection: Connection, link: Ownership) -> None:
    """Note whose a dog is; both must be stored."""
    dog_of(connection, link.dog)
    if connection.scalar(select(owners.c.id).where(owners.c.id == link.owner)) is None:
        raise RecordError("there is no such owner in the records", "a stored owner", link.owner)
    values = {"dog_id": link.dog, "owner_id": link.owner, "since": link.since}
    connection.execute(insert(ownership).values(values))


def all_owners(connection: Connection) -> list[Owner]:
    """Return every owner, by name."""
    return [Owner(*row) for row in connection.execute(select(*_OWNER).order_by(owners.c.name))]


def all_ownership(connection: Connection) -> list[Ownership]:
    """Return who owns which dog, in the order it was noted."""
    columns = (ownership.c.dog_id, ownership.c.owner_id, ownership.c.since)
    rows = connection.execute(select(*columns).order_by(ownership.c.number))
    return [Ownership(*row) for row in rows]


def identities(connection: Connection, table: Table) -> set[str]:
    """Return every identity of a table."""
    return set(connection.scalars(select(table.c.id)))


def state(connection: Connection) -> str:
    """Return a short text that changes whenever a dog or a session is added or changed."""
    known, changed = connection.execute(
        select(func.count(), func.max(dogs.c.changed_at)).select_from(dogs)
    ).one()
    sittings = connection.scalar(select(func.count()).select_from(sessions))
    return f"{known}.{changed or ''}.{sittings}"
