"""Derived figures kept as they stood on one day, with what they were derived from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict

from sqlalchemy import Connection, insert, select

from kit.records.errors import RecordError
from kit.records.schema import snapshots
from kit.records.values import Snapshot, SnapshotValue


def content_of(values: tuple[SnapshotValue, ...]) -> tuple[str, str]:
    """Return the figures as canonical JSON, and its SHA-256."""
    rows = [asdict(value) for value in values]
    content = json.dumps(rows, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return content, hash_of(content)


def hash_of(content: str) -> str:
    """Return the SHA-256 of a snapshot's content."""
    return hashlib.sha256(content.encode()).hexdigest()


def insert_snapshot(connection: Connection, snapshot: Snapshot) -> None:
    """Add a snapshot."""
    content, content_hash = content_of(snapshot.values)
    cells = asdict(snapshot) | {"dog_id": snapshot.dog, "content": content}
    del cells["dog"], cells["values"]
    connection.execute(insert(snapshots).values(cells | {"content_hash": content_hash}))


def of_dog(connection: Connection, dog: str | None) -> list[Snapshot]:
    """Return the snapshots of one dog, or of all, oldest first.

    Raises
    ------
    RecordError
        If one is not what was stored.
    """
    query = select(snapshots).order_by(snapshots.c.number)
    if dog is not None:
        query = query.where(snapshots.c.dog_id == dog)
    found = []
    for row in connection.execute(query):
        if hash_of(row.content) != row.content_hash:
            what = f"the snapshot of {row.taken_at} is not what was stored"
            raise RecordError(what, row.content_hash, hash_of(row.content), "restore a backup")
        values = tuple(SnapshotValue(**value) for value in json.loads(row.content))
        found.append(Snapshot(row.id, row.dog_id, row.taken_at, row.kit_version, row.standard,
                              row.standard_version, row.readings_hash, row.content_hash,
                              values))  # fmt: skip
    return found
