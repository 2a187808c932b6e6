"""The tables of the records as they are today; kit.records.migrations says how they came to be.

Identities are UUIDs given by the station that made the row, so that records of several stations
can be merged without renumbering; `number` only keeps the order in which this database took
the rows in. Dates are ISO 8601 text, exactly as written. Nothing here is peculiar to SQLite.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

METADATA = MetaData()
IDENTITY = String(36)
MOMENT = String(40)

migrations = Table(
    "schema_migrations",
    METADATA,
    Column("version", Integer, primary_key=True, autoincrement=False),
    Column("name", String(80), nullable=False),
    Column("applied_at", MOMENT, nullable=False),
)

dogs = Table(
    "dogs",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("id", IDENTITY, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("sex", String(5), nullable=False),
    Column("born", String(10), nullable=False),
    Column("breed", Text, nullable=False),
    Column("transponder", String(15), nullable=False),
    Column("note", Text, nullable=False),
    Column("changed_at", MOMENT, nullable=False),
    Column("died", String(10), nullable=False, server_default=""),
)

owners = Table(
    "owners",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("id", IDENTITY, nullable=False, unique=True),
    Column("name", Text, nullable=False),
    Column("address", Text, nullable=False),
    Column("contact", Text, nullable=False),
)

ownership = Table(
    "ownership",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("dog_id", IDENTITY, ForeignKey("dogs.id"), nullable=False, index=True),
    Column("owner_id", IDENTITY, ForeignKey("owners.id"), nullable=False, index=True),
    Column("since", String(10), nullable=False),
)

sessions = Table(
    "sessions",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("id", IDENTITY, nullable=False, unique=True),
    Column("started", MOMENT, nullable=False),
    Column("place", Text, nullable=False),
    Column("note", Text, nullable=False),
)

# Append-only: triggers refuse to change or delete a row.
readings = Table(
    "readings",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("id", IDENTITY, nullable=False, unique=True),
    Column("dog_id", IDENTITY, ForeignKey("dogs.id"), nullable=False, index=True),
    Column("session_id", IDENTITY, ForeignKey("sessions.id"), nullable=False, index=True),
    Column("measurement", String(80), nullable=False),
    Column("raw", Text, nullable=False),
    Column("unit", Text, nullable=False),
    Column("value", Double, nullable=False),
    Column("side", String(5), nullable=False),
    Column("stand", Text, nullable=False),
    Column("measurer", Text, nullable=False),
    Column("instrument", Text, nullable=False),
    Column("time", MOMENT, nullable=False),
    Column("note", Text, nullable=False),
    # Deferred, so that a merge may bring a correction before what it corrects. Not unique: two
    # stations that were apart may both have corrected one reading, and neither may be lost.
    Column(
        "supersedes",
        IDENTITY,
        ForeignKey("readings.id", deferrable=True, initially="DEFERRED"),
        index=True,
    ),
    Column("withdrawn", Boolean, nullable=False),
    Column("stored_at", MOMENT, nullable=False),
    CheckConstraint("side in ('', 'left', 'right')", name="side_is_known"),
)


def _append_only(name: str, *content: Column[Any], in_session: bool = True) -> Table:
    """Return a table of entries beside the readings, append-only as they are."""
    session = Column("session_id", IDENTITY, ForeignKey("sessions.id"), nullable=False, index=True)
    before = ForeignKey(f"{name}.id", deferrable=True, initially="DEFERRED")
    return Table(
        name,
        METADATA,
        Column("number", Integer, primary_key=True),
        Column("id", IDENTITY, nullable=False, unique=True),
        Column("dog_id", IDENTITY, ForeignKey("dogs.id"), nullable=False, index=True),
        *([session] if in_session else []),
        *content,
        Column("supersedes", IDENTITY, before, index=True),
        Column("withdrawn", Boolean, nullable=False),
        Column("stored_at", MOMENT, nullable=False),
    )


grades = _append_only(
    "grades",
    Column("point", String(80), nullable=False),
    Column("grade", Text, nullable=False),
    Column("sure", String(20), nullable=False),
    Column("grader", Text, nullable=False),
    Column("time", MOMENT, nullable=False),
    Column("note", Text, nullable=False),
)

movement = _append_only(
    "movement",
    Column("what", String(80), nullable=False),
    Column("value", Double, nullable=False),
    Column("run", Text, nullable=False),
    Column("pace", String(10), nullable=False),
    Column("foot", String(20), nullable=False),
    Column("in_seconds", Boolean, nullable=False),
    Column("observer", Text, nullable=False),
    Column("time", MOMENT, nullable=False),
    Column("note", Text, nullable=False),
    Column("raw", Text, nullable=False),
    Column("unit", Text, nullable=False),
)

critiques = _append_only(
    "critiques",
    Column("written", MOMENT, nullable=False),
    Column("author", Text, nullable=False),
    Column("form", String(20), nullable=False),
    Column("standard", Text, nullable=False),
    Column("standard_version", Text, nullable=False),
    Column("standard_hash", String(64), nullable=False),
    Column("kit_version", String(40), nullable=False),
    Column("readings_hash", String(64), nullable=False),
    Column("text", Text, nullable=False),
    Column("marks", Text, nullable=False),
    Column("content_hash", String(64), nullable=False),
    in_session=False,
)

snapshots = Table(
    "snapshots",
    METADATA,
    Column("number", Integer, primary_key=True),
    Column("id", IDENTITY, nullable=False, unique=True),
    Column("dog_id", IDENTITY, ForeignKey("dogs.id"), nullable=False, index=True),
    Column("taken_at", MOMENT, nullable=False),
    Column("kit_version", String(40), nullable=False),
    Column("standard", Text, nullable=False),
    Column("standard_version", Text, nullable=False),
    Column("readings_hash", String(64), nullable=False),
    Column("content", Text, nullable=False),
    Column("content_hash", String(64), nullable=False),
)
