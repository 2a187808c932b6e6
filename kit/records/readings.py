"""Rows of readings and the chains they form; every function works inside a caller's transaction.

A reading is never changed. A correction, a withdrawal and a restoration are rows of their own
that point at the row they supersede. The *current* reading of a chain is its last row.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from sqlalchemy import Connection, Row, Select, func, insert, select

from kit.protocol.readings import Reading
from kit.records.errors import RecordError
from kit.records.schema import dogs, readings
from kit.records.values import StoredReading

_PLAIN = ("measurement", "raw", "unit", "value", "side", "stand", "measurer", "instrument",
          "time", "note")  # fmt: skip
_CHUNK = 500


def _query() -> Select[Any]:
    joined = readings.join(dogs, readings.c.dog_id == dogs.c.id)
    return select(readings, dogs.c.name.label("dog_name")).select_from(joined)


def _stored(row: Row[Any]) -> StoredReading:
    cells = row._mapping
    reading = Reading(dog=cells["dog_name"], **{name: cells[name] for name in _PLAIN})
    return StoredReading(
        cells["id"], cells["dog_id"], cells["session_id"], reading, cells["supersedes"] or "",
        bool(cells["withdrawn"]), cells["stored_at"],
    )  # fmt: skip


def append(connection: Connection, rows: Iterable[StoredReading]) -> None:
    """Append rows as they are."""
    values = [_cells(row) for row in rows]
    if values:
        connection.execute(insert(readings), values)


def _cells(row: StoredReading) -> dict[str, object]:
    plain = {name: getattr(row.reading, name) for name in _PLAIN}
    return plain | {
        "id": row.id,
        "dog_id": row.dog,
        "session_id": row.session,
        "supersedes": row.supersedes or None,
        "withdrawn": row.withdrawn,
        "stored_at": row.stored_at,
    }


def find(connection: Connection, identities: Iterable[str]) -> dict[str, StoredReading]:
    """Return those of the rows that are in the records, by identity."""
    wanted = list(identities)
    found: dict[str, StoredReading] = {}
    for start in range(0, len(wanted), _CHUNK):
        query = _query().where(readings.c.id.in_(wanted[start : start + _CHUNK]))
        found |= {row.id: row for row in map(_stored, connection.execute(query))}
    return found


def last_of(connection: Connection, identity: str) -> StoredReading:
    """Return a row that nothing supersedes yet.

    Raises
    ------
    RecordError
        If there is no such row, or another entry has superseded it.
    """
    # On a server the lock on the row keeps two stations from correcting it at the same moment.
    locked = select(readings.c.id).where(readings.c.id == identity).with_for_update()
    connection.execute(locked)
    row = find(connection, [identity]).get(identity)
    if row is None:
        raise RecordError("there is no such reading", "the identity of a stored reading", identity)
    later = connection.scalar(select(readings.c.id).where(readings.c.supersedes == identity))
    if later is not None:
        raise RecordError("this reading has been changed since", "its latest state",
                          f"changed by {later}", "look at it again, then decide")  # fmt: skip
    return row


def history(connection: Connection, dog: str | None, session: str | None) -> list[StoredReading]:
    """Return every row in the order it was taken in, of one dog and session or of all."""
    query = _query().order_by(readings.c.number)
    if dog is not None:
        query = query.where(readings.c.dog_id == dog)
    if session is not None:
        query = query.where(readings.c.session_id == session)
    return [_stored(row) for row in connection.execute(query)]


def count(connection: Connection, dog: str | None = None) -> int:
    """Return how many rows there are: it only ever grows."""
    query = select(func.count()).select_from(readings)
    if dog is not None:
        query = query.where(readings.c.dog_id == dog)
    return connection.scalar(query) or 0


def chains(rows: Sequence[StoredReading]) -> list[list[StoredReading]]:
    """Return the rows grouped by the first reading they go back to, in the order given.

    A row whose predecessor is not among `rows` begins a chain of its own.
    """
    known = {row.id: row for row in rows}
    groups: dict[str, list[StoredReading]] = defaultdict(list)
    for row in rows:
        groups[_root(row, known)].append(row)
    return list(groups.values())


def _root(row: StoredReading, known: dict[str, StoredReading]) -> str:
    seen = {row.id}
    while row.supersedes in known and row.supersedes not in seen:
        seen.add(row.supersedes)
        row = known[row.supersedes]
    return row.id


def ends(chain: Sequence[StoredReading]) -> list[StoredReading]:
    """Return the rows of a chain that nothing supersedes, the latest last.

    There is more than one only where stations that were apart changed the same reading.
    """
    superseded = {row.supersedes for row in chain}
    last = [row for row in chain if row.id not in superseded]
    return sorted(last, key=lambda row: (row.stored_at, row.id))


def current(rows: Sequence[StoredReading]) -> list[StoredReading]:
    """Return the reading each chain stands at now, without the withdrawn ones.

    Of two ends the later entry counts; the same rule at every station gives the same answer.
    """
    latest = [end[-1] for end in map(ends, chains(rows)) if end]
    return [row for row in latest if not row.withdrawn]


def digest(rows: Iterable[StoredReading]) -> str:
    """Return a SHA-256 over rows, whatever their order and whatever the dog is called now."""
    lines = sorted(_line(row) for row in rows)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _line(row: StoredReading) -> str:
    content = asdict(row)
    del content["reading"]["dog"]
    return json.dumps(content, sort_keys=True)
