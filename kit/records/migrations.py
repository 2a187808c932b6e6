"""How the tables came to be: named, ordered migrations, each in one transaction.

Written here rather than with Alembic: an installed application needs neither revision branches,
autogeneration, an environment script nor a configuration file beside its package, and for SQLite
Alembic leaves transactional DDL to the caller anyway. What is needed is a list, a table that says
how far a database is, and one transaction each; that is this file.

A migration that has been released is never edited: it builds the tables of its day from its own
definitions, not from `schema`, and a test holds the sum of all migrations against `schema`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    func,
    insert,
    inspect,
    select,
    text,
)

from kit.records import schema
from kit.records.errors import RecordError
from kit.records.values import now

_LOCK_NUMBER = 11784  # any number, the same in every copy of the kit
_TRIGGER = """create trigger {table}_{verb} before {verb} on {table}
begin select raise(abort, '{table} are append-only'); end"""
# SQLite's "insert or replace" deletes the old row without waking the trigger above.
_INSERT_TRIGGER = """create trigger {table}_replace before insert on {table}
when exists (select 1 from {table} where id = new.id or number = new.number)
begin select raise(abort, '{table} are append-only'); end"""


@dataclass(frozen=True)
class Migration:
    """One step from the version before it; `apply` runs inside a transaction."""

    version: int
    name: str
    apply: Callable[[Connection], None]


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


def _moment(name: str) -> Column[str]:
    return Column(name, String(40), nullable=False)


def _keys() -> tuple[Column[int], Column[str]]:
    number = Column("number", Integer, primary_key=True)
    return number, Column("id", String(36), nullable=False, unique=True)


def _link(name: str, target: str) -> Column[str]:
    return Column(name, String(36), ForeignKey(target), nullable=False, index=True)


def _first_tables(connection: Connection) -> None:
    tables = MetaData()
    _first_people(tables)
    supersedes = ForeignKey("readings.id", deferrable=True, initially="DEFERRED")
    Table(
        "readings", tables, *_keys(),
        _link("dog_id", "dogs.id"), _link("session_id", "sessions.id"),
        Column("measurement", String(80), nullable=False),
        _text("raw"), _text("unit"), Column("value", Double, nullable=False),
        Column("side", String(5), nullable=False),
        _text("stand"), _text("measurer"), _text("instrument"), _moment("time"), _text("note"),
        Column("supersedes", String(36), supersedes, index=True),
        Column("withdrawn", Boolean, nullable=False), _moment("stored_at"),
        CheckConstraint("side in ('', 'left', 'right')", name="side_is_known"),
    )  # fmt: skip
    tables.create_all(connection, checkfirst=False)


def _first_people(tables: MetaData) -> None:
    Table(
        "dogs", tables, *_keys(), _text("name"), Column("sex", String(5), nullable=False),
        Column("born", String(10), nullable=False), _text("breed"),
        Column("transponder", String(15), nullable=False), _text("note"), _moment("changed_at"),
    )  # fmt: skip
    Table("owners", tables, *_keys(), _text("name"), _text("address"), _text("contact"))
    Table(
        "ownership", tables, Column("number", Integer, primary_key=True),
        _link("dog_id", "dogs.id"), _link("owner_id", "owners.id"),
        Column("since", String(10), nullable=False),
    )  # fmt: skip
    Table("sessions", tables, *_keys(), _moment("started"), _text("place"), _text("note"))


def _snapshots_and_triggers(connection: Connection) -> None:
    tables = MetaData()
    Table("dogs", tables, *_keys())
    snapshots = Table(
        "snapshots", tables, *_keys(), _link("dog_id", "dogs.id"), _moment("taken_at"),
        Column("kit_version", String(40), nullable=False),
        _text("standard"), _text("standard_version"),
        Column("readings_hash", String(64), nullable=False), _text("content"),
        Column("content_hash", String(64), nullable=False),
    )  # fmt: skip
    snapshots.create(connection, checkfirst=False)
    _name_the_refusal(connection)
    _refuse_changes(connection, ("readings", "snapshots"))


def _seen_moving_and_written(connection: Connection) -> None:
    tables = MetaData()
    for name in ("dogs", "sessions"):
        Table(name, tables, *_keys())
    entries = (
        _entries(tables, "grades", (_key("point"), _text("grade"), _word("sure"), _text("grader"),
                                    _moment("time"), _text("note"))),
        _entries(tables, "movement", _movement()),
        _entries(tables, "critiques", _critique(), in_session=False),
    )  # fmt: skip
    for table in entries:
        table.create(connection, checkfirst=False)
    _refuse_changes(connection, tuple(table.name for table in entries))


def _movement() -> tuple[Column[Any], ...]:
    return (
        _key("what"), Column("value", Double, nullable=False), _text("run"),
        Column("pace", String(10), nullable=False), _word("foot"),
        Column("in_seconds", Boolean, nullable=False),
        _text("observer"), _moment("time"), _text("note"), _text("raw"), _text("unit"),
    )  # fmt: skip


def _critique() -> tuple[Column[Any], ...]:
    return (
        _moment("written"), _text("author"), _word("form"), _text("standard"),
        _text("standard_version"), _hash("standard_hash"),
        Column("kit_version", String(40), nullable=False), _hash("readings_hash"),
        _text("text"), _text("marks"), _hash("content_hash"),
    )  # fmt: skip


def _key(name: str) -> Column[str]:
    return Column(name, String(80), nullable=False)


def _word(name: str) -> Column[str]:
    return Column(name, String(20), nullable=False)


def _hash(name: str) -> Column[str]:
    return Column(name, String(64), nullable=False)


def _entries(
    tables: MetaData, name: str, content: tuple[Column[Any], ...], *, in_session: bool = True
) -> Table:
    supersedes = ForeignKey(f"{name}.id", deferrable=True, initially="DEFERRED")
    return Table(
        name, tables, *_keys(), _link("dog_id", "dogs.id"),
        *([_link("session_id", "sessions.id")] if in_session else []), *content,
        Column("supersedes", String(36), supersedes, index=True),
        Column("withdrawn", Boolean, nullable=False), _moment("stored_at"),
    )  # fmt: skip


_DEATH_IN_NOTE = re.compile(
    r"(?:^|(?<=[;,\n]))\s*died: *(\d{4}-\d\d-\d\d) *(?:[;,]|$)", re.IGNORECASE | re.MULTILINE
)


def _day_a_dog_died(connection: Connection) -> None:
    """Give dogs a date of death, and move it there from notes that held it as ``died: DATE``.

    Words that are no date, or come before the date of birth, stay in the note as they are.
    """
    connection.execute(text("alter table dogs add column died varchar(10) default '' not null"))
    noted = text("select id, born, note from dogs where lower(note) like '%died:%'")
    moved = text("update dogs set died = :died, note = :note where id = :id")
    for identity, born, note in connection.execute(noted).all():
        found = _DEATH_IN_NOTE.search(note)
        if found and _is_day(found[1]) and found[1][: len(born)] >= born:
            rest = (note[: found.start()] + note[found.end() :]).strip("; ,\n")
            connection.execute(moved, {"id": identity, "died": found[1], "note": rest})


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _name_the_refusal(connection: Connection) -> None:
    """Give a server the function that its triggers call; SQLite writes it into each trigger."""
    if connection.dialect.name != "sqlite":
        connection.execute(
            text("create function refuse_change() returns trigger language plpgsql as "
                 "$$ begin raise exception '% are append-only', tg_table_name; end $$")
        )  # fmt: skip


def _refuse_changes(connection: Connection, tables: tuple[str, ...]) -> None:
    """Make the database itself refuse to change or delete rows of append-only tables."""
    if connection.dialect.name == "sqlite":
        for table in tables:
            for verb in ("update", "delete"):
                connection.execute(text(_TRIGGER.format(table=table, verb=verb)))
            connection.execute(text(_INSERT_TRIGGER.format(table=table)))
        return
    for table in tables:
        connection.execute(
            text(f"create trigger {table}_append_only before update or delete or truncate on "
                 f"{table} for each statement execute function refuse_change()")
        )  # fmt: skip


MIGRATIONS = (
    Migration(1, "first tables", _first_tables),
    Migration(2, "snapshots, and triggers that keep readings append-only", _snapshots_and_triggers),
    Migration(3, "points graded by eye, movement, saved critiques", _seen_moving_and_written),
    Migration(4, "the day a dog died", _day_a_dog_died),
)
LATEST = MIGRATIONS[-1].version


def version_of(connection: Connection) -> int:
    """Return the schema version of a database: 0 for an empty one.

    Raises
    ------
    RecordError
        If it holds tables but no records, or was made by a newer kit.
    """
    tables = inspect(connection).get_table_names()
    if schema.migrations.name not in tables:
        if tables:
            raise RecordError("this database holds something other than records", "a records file",
                              "tables " + ", ".join(tables[:5]), "check the name")  # fmt: skip
        return 0
    version = connection.scalar(select(func.max(schema.migrations.c.version))) or 0
    if version > LATEST:
        raise RecordError("these records were written by a newer version of the kit",
                          f"schema version {LATEST} or older", f"schema version {version}",
                          "install the newer kit; the file was not touched")  # fmt: skip
    return int(version)


def pending(connection: Connection) -> tuple[Migration, ...]:
    """Return the migrations a database still lacks, in order."""
    version = version_of(connection)
    return tuple(migration for migration in MIGRATIONS if migration.version > version)


def migrate(
    begin: Callable[[], AbstractContextManager[Connection]],
    steps: tuple[Migration, ...] = MIGRATIONS,
) -> tuple[str, ...]:
    """Bring a database up to date and return the names of what was applied.

    Parameters
    ----------
    begin : callable
        Opens a transaction that holds the write lock from its first moment, so that of two
        programs that open one file at once only one migrates it.
    """
    applied: list[str] = []
    for step in steps:
        with begin() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(select(func.pg_advisory_xact_lock(_LOCK_NUMBER)))
            if version_of(connection) < step.version:
                _apply(connection, step)
                applied.append(step.name)
    return tuple(applied)


def _apply(connection: Connection, step: Migration) -> None:
    schema.migrations.create(connection, checkfirst=True)
    step.apply(connection)
    row = {"version": step.version, "name": step.name, "applied_at": now()}
    connection.execute(insert(schema.migrations).values(row))
